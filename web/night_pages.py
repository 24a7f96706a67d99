"""The addresses of the nights: last night, any night, any span, while you were away, the week; as files."""

from datetime import date
from typing import Annotated, Literal

from fastapi import FastAPI, Query
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import Account, NightLedger
from monitor.words.tongues import N_
from web.presentation.figures import Reader, reader_of
from web.presentation.night import Night, any_span, night, trouble
from web.presentation.night_files import as_csv, as_json
from web.presentation.spans import (
    Accounts,
    SpanError,
    asked,
    away,
    by_clock,
    completed,
    days,
    find,
    night_date,
)
from web.presentation.week import week
from web.render import Page, Renderer
from web.watch import Watch

NIGHT = Page("night.html", "Night", ("night.css",))
WEEK = Page("week.html", "Night", ("night.css",), live=False)
MEDIA = {"csv": "text/csv; charset=utf-8", "json": "application/json"}
Form = Literal["csv", "json"]
From = Annotated[str, Query(alias="from", max_length=40)]
To = Annotated[str, Query(alias="to", max_length=40)]


def night_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    kept = Accounts()

    def explained(reader: Reader, during: Interval) -> Account | None:
        """A span's account; a page whose record cannot be read still tells what the snapshot has."""
        try:
            return kept.of(watch, reader, during)
        except StorageError:
            return None

    def of_day(reader: Reader, day: date | None) -> NightLedger | None:
        found = find(reader, day)
        if found is None and day is not None:
            raise HTTPException(404, "no such night")
        return found

    def of_span(reader: Reader, start: str, end: str) -> tuple[Night, int]:
        form = (start, end)
        try:
            during = asked(reader, start, end)
        except SpanError as error:
            return trouble(str(error), form), 422
        account = explained(reader, during)
        if account is None:
            return trouble(reader.say("night: nothing heard"), form), 200
        return any_span(reader, account, watch.history(), f"/night.*?from={start}&to={end}"), 200

    @app.get("/night")
    def last_night(request: Request, start: From = "", end: To = "") -> Response:
        reader = reader_of(watch, request)
        if start or end:
            view, status = of_span(reader, start, end)
            return show.answer(request, NIGHT, reader, view, status=status)
        return show.answer(request, NIGHT, reader, of_night(reader, None))

    def of_night(reader: Reader, day: date | None) -> Night:
        found = of_day(reader, day)
        account, files = None, ""
        if found is not None:
            account = explained(reader, Interval(found.start_s, found.end_s))
            files = f"/night/{night_date(found, reader):%Y-%m-%d}.*"
        return night(reader, found, account, watch.history(), files)

    @app.get("/night.{form}")
    def span_file(request: Request, form: Form, start: From = "", end: To = "") -> Response:
        reader = reader_of(watch, request)
        try:
            during = asked(reader, start, end)
        except SpanError as error:
            return Response(f"{error}\n", 422, media_type="text/plain; charset=utf-8")
        account = kept.of(watch, reader, during)
        if account is None:
            raise HTTPException(404, "night: nothing heard")
        first, last = (by_clock(reader, t).replace(":", "") for t in during)
        return _file(account.ledger, form, f"{first}-to-{last}")

    @app.get("/night/week")
    def week_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        now_s = reader.snapshot.utc_s
        found = [] if now_s is None else [(d, explained(reader, d)) for d in days(reader, now_s)]
        return show.answer(request, WEEK, reader, week(reader, found))

    @app.get("/night/away")
    def away_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        absence = away(reader, watch.history())
        account = explained(reader, absence.during) if absence.during is not None else None
        if absence.during is None or account is None:
            said = absence.note if absence.during is None else reader.say("night: nothing heard")
            return show.answer(request, NIGHT, reader, trouble(said))
        start, end = (by_clock(reader, t) for t in absence.during)
        files = f"/night.*?from={start}&to={end}"
        view = any_span(
            reader, account, watch.history(), files, N_("While you were away, {span}"), absence.note
        )
        return show.answer(request, NIGHT, reader, view)

    @app.get("/night/{day}.{form}")
    def night_file(request: Request, day: date, form: Form) -> Response:
        reader = reader_of(watch, request)
        found = of_day(reader, day)
        if found is None:
            raise HTTPException(404, "no such night")
        ledger = completed(kept.of(watch, reader, Interval(found.start_s, found.end_s)), found)
        return _file(ledger, form, f"{day:%Y-%m-%d}")

    @app.get("/night/{day}")
    def night_page(request: Request, day: date) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, NIGHT, reader, of_night(reader, day))


def _file(ledger: NightLedger, form: Form, name: str) -> Response:
    text = as_csv(ledger) if form == "csv" else as_json(ledger)
    headers = {"Content-Disposition": f'attachment; filename="night-{name}.{form}"'}
    return Response(text, media_type=MEDIA[form], headers=headers)
