"""The addresses of the history. What is long is read by the worker, one after the other, and kept a while:
whoever waits for it takes no thread from the other pages."""

from collections import OrderedDict
from threading import Lock
from typing import Annotated

from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI, Query
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from monitor.clock import DAY_S, Interval
from monitor.errors import WorkerError
from monitor.storage.years import years
from web.presentation.figures import reader_of
from web.presentation.history import POINTS, as_json, asked_for, history, points_of
from web.presentation.stretches import LONG_S, SPANS, Asked
from web.render import Page, Renderer
from web.watch import Series, Watch, Works

HISTORY = Page(
    "history.html", "History", ("vendor/uPlot.min.css", "history.css"),
    ("vendor/uPlot.iife.min.js", "history.js"), live=False,
)  # fmt: skip
LONGEST_SPAN_S = 20 * 366 * DAY_S
Text = Annotated[str, Query(max_length=200)]
Moment = Annotated[str, Query(max_length=40)]


class Years:
    """What the worker has read of long stretches."""

    KEPT = 16

    def __init__(self, watch: Watch) -> None:
        self._watch = watch
        self._kept: OrderedDict[tuple[str, Interval], Series] = OrderedDict()
        self._lock = Lock()

    def ready(self, channel: str, during: Interval) -> Series | None:
        """Never waits."""
        with self._lock:
            return self._kept.get((channel, during))

    def read(self, channel: str, during: Interval) -> Series:
        """Waits for the worker. Raises WorkerError, StorageError."""
        found = self.ready(channel, during)
        if found is not None:
            return found
        if isinstance(self._watch, Works):
            found = self._watch.apart(years, channel, during, points_of(during))
        elif (record := self._watch.history()) is not None:
            found = record.series(channel, during, points_of(during))
        else:
            raise WorkerError("there is no record to read")
        with self._lock:
            self._kept[channel, during] = found
            while len(self._kept) > self.KEPT:
                self._kept.popitem(last=False)
        return found


def history_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    kept = Years(watch)
    turn = CapacityLimiter(1)

    async def read(channel: str, during: Interval) -> Series:
        return await to_thread.run_sync(kept.read, channel, during, limiter=turn)

    @app.get("/history")
    async def history_page(
        request: Request, channel: Text = "", also: Text = "", span: Text = "day", until: Moment = "",
        day: Moment = "", whole: bool = False,
    ) -> Response:  # fmt: skip
        if span not in SPANS:
            raise HTTPException(404)
        reader, record = reader_of(watch, request), watch.history()
        wanted = Asked(channel, also, span, until, day, whole)
        asked, found, note = await to_thread.run_sync(asked_for, reader, record, wanted)
        if whole and found is not None and found.long:
            try:
                for name in filter(None, (asked.channel, asked.also)):
                    await read(name, found.during)
            except WorkerError:
                note = reader.word("The whole could not be read just now: try again in a minute.")

        def drawn() -> Response:
            view = history(reader, record, asked, found, note, kept.ready)
            return show.answer(request, HISTORY, reader, view)

        return await to_thread.run_sync(drawn)

    @app.get("/history/data")
    async def history_data(
        channel: Text,
        start_s: Annotated[float, Query(alias="from")],
        end_s: Annotated[float, Query(alias="to")],
    ) -> Response:
        record = watch.history()
        if record is None or channel not in await to_thread.run_sync(record.channels):
            raise HTTPException(404, "no channel")
        if not 0 <= start_s < end_s <= start_s + LONGEST_SPAN_S:
            raise HTTPException(404, "no channel")
        during = Interval(start_s, end_s)
        if during.seconds > LONG_S:
            try:
                series = await read(channel, during)
            except WorkerError as error:
                return JSONResponse({"trouble": str(error)}, 503)
        else:
            series = await to_thread.run_sync(record.series, channel, during, POINTS)
        return JSONResponse(await to_thread.run_sync(as_json, channel, series, during))
