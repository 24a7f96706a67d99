"""The dashboard: pages over a Watch. Nothing here measures, remembers or decides."""

import logging
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any

import anyio
from fastapi import FastAPI, Form, Query
from fastapi.exceptions import RequestValidationError
from sse_starlette import EventSourceResponse
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

from monitor.errors import CommandError, StorageError
from monitor.records import Command
from monitor.words.say import SENTENCES
from web.alert_pages import alert_pages
from web.fit_out_pages import fit_out_pages
from web.guard import SECURITY_HEADERS, Guard
from web.history_pages import history_pages
from web.interface import described
from web.live import GOODBYE_S, events
from web.load_pages import load_pages
from web.log_pages import log_pages
from web.night_pages import night_pages
from web.phone_pages import phone_pages
from web.presentation.ahead import ahead
from web.presentation.figures import reader_of
from web.presentation.power import power
from web.presentation.pump_runs import RunsKept
from web.presentation.rests import rests
from web.presentation.rests_more import more_rests
from web.presentation.running import MOST_MIN, MOST_W, Asked
from web.presentation.water import water
from web.reading_pages import reading_pages
from web.render import Page, Renderer
from web.rights import Gate, Rights
from web.rule_pages import rule_pages
from web.shell_pages import shell_pages
from web.signin_pages import signin_pages
from web.typed import Decimal
from web.watch import Watch
from web.water_forms import water_forms
from web.ways import ours

LOG = logging.getLogger(__name__)
AHEAD = Page("ahead.html", "Ahead", ("ahead.css",))
POWER = Page("power.html", "Power", ("power.css",))
WATER = Page("water.html", "Water", ("water.css",), ("water.js",))
RESTS = Page("rests.html", "What it rests on")
ERROR = Page("error.html", "Not here", live=False)


def create_app(watch: Watch, hosts: Iterable[str] = (), rights: Rights | None = None) -> FastAPI:
    """The app over `watch`. `hosts` are names it answers to besides addresses and local names; without
    `rights` nobody needs to sign in."""
    show = Renderer()
    rights = Rights() if rights is None else rights

    def failed(request: Request, status: int, reason: str, **facts: Any) -> Response:
        reader = reader_of(watch, request)
        answer = show.answer(request, ERROR, reader, reader.say(reason, **facts), status=status)
        return answer

    async def refuse(scope: Scope, receive: Receive, send: Send) -> None:
        refused = scope["refused"]
        answer = failed(Request(scope), refused.status, refused.reason)
        answer.headers["Connection"] = "close"
        await answer(scope, receive, send)

    guard = Middleware(Guard, hosts=frozenset(hosts), refuse=refuse)
    gate = Middleware(Gate, rights=rights, guests_look=watch.settings.web.guests == "look", refuse=refuse)
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, middleware=[guard, gate])
    app.mount("/static", Kept(directory=Path(__file__).parent / "static"))
    _errors(app, watch, failed)
    _pages(app, watch, show)
    _wishes(app, watch, failed)
    night_pages(app, watch, show)
    history_pages(app, watch, show)
    load_pages(app, watch, show)
    log_pages(app, watch, show)
    water_forms(app, watch)
    signin_pages(app, watch, show, rights)
    phone_pages(app, watch, show)
    shell_pages(app, watch)
    alert_pages(app, watch, show)
    rule_pages(app, watch, show)
    reading_pages(app, watch, show)
    fit_out_pages(app, watch, show)
    described(app)
    return app


def _errors(app: FastAPI, watch: Watch, failed: Any) -> None:
    @app.exception_handler(HTTPException)
    def on_http(request: Request, error: HTTPException) -> Response:
        reason = error.detail if error.detail in SENTENCES else "page missing"
        answer: Response = failed(request, error.status_code, reason)
        return answer

    @app.exception_handler(StorageError)
    def on_store(request: Request, error: StorageError) -> Response:
        answer: Response = failed(request, 503, "no record")
        return answer

    @app.exception_handler(RequestValidationError)
    def on_form(request: Request, error: RequestValidationError) -> Response:
        what = ", ".join(str(e["loc"][-1]) for e in error.errors())
        answer: Response = failed(request, 422, "refused form", what=what)
        return answer

    @app.exception_handler(CommandError)
    def on_command(request: Request, error: CommandError) -> Response:
        told = reader_of(watch, request).word(error.text, **error.facts)
        answer: Response = failed(request, 409, "refused wish", why=told)
        return answer

    @app.exception_handler(Exception)
    def on_bug(request: Request, error: Exception) -> Response:
        answer: Response = failed(request, 500, "page failed")
        answer.headers.update(SECURITY_HEADERS)
        return answer


def _pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/")
    def ahead_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, AHEAD, reader, lambda: ahead(reader))

    @app.get("/power")
    def power_page(
        request: Request,
        asked_W: Annotated[Decimal | None, Query(alias="watts", gt=0, le=MOST_W)] = None,
        asked_min: Annotated[Decimal | None, Query(alias="minutes", gt=0, le=MOST_MIN)] = None,
        dc: bool = False,
    ) -> Response:
        reader = reader_of(watch, request)
        asked = None if asked_W is None or asked_min is None else Asked(asked_W, asked_min, dc)
        return show.answer(request, POWER, reader, lambda: power(reader, watch.history(), asked))

    runs = RunsKept()

    @app.get("/water")
    def water_page(
        request: Request,
        from_s: Annotated[float | None, Query(alias="from", ge=0, le=1e11)] = None,
        to_s: Annotated[float | None, Query(alias="to", ge=0, le=1e11)] = None,
    ) -> Response:
        reader = reader_of(watch, request)
        asked = None if from_s is None or to_s is None else (from_s, to_s)
        return show.answer(request, WATER, reader, lambda: water(reader, watch.history(), runs, asked))

    @app.get("/rests/{name}/{subject:path}")
    def rests_page(request: Request, name: str, subject: str) -> Response:
        reader = reader_of(watch, request)
        view = rests(reader, name, subject) or more_rests(reader, name, subject)
        if view is None:
            raise HTTPException(404, "no such figure")
        return show.answer(request, RESTS, reader, view)

    @app.get("/live")
    async def live(request: Request) -> Response:
        leaving = anyio.Event()
        stream = events(watch, leaving, request)
        return EventSourceResponse(stream, shutdown_event=leaving, shutdown_grace_period=GOODBYE_S)


def _wishes(app: FastAPI, watch: Watch, failed: Any) -> None:
    """What the crew may ask for: each a plain form, answered by the page it came from."""

    @app.post("/acknowledge")
    def acknowledge(
        alert: Annotated[str, Form(max_length=300)], back: Annotated[str, Form()] = "/"
    ) -> Response:
        watch.submit(Command("acknowledge", alert))
        return _back(back)

    @app.post("/acknowledge/back")
    def take_back(
        alert: Annotated[str, Form(max_length=300)], back: Annotated[str, Form()] = "/"
    ) -> Response:
        """A finger had slipped: it calls again."""
        watch.submit(Command("take back", alert))
        return _back(back)

    @app.post("/hush")
    def hush(back: Annotated[str, Form()] = "/") -> Response:
        watch.submit(Command("hush", "sound"))
        return _back(back)

    @app.post("/mode")
    def mode(
        place: Annotated[str, Form()], people: Annotated[str, Form()], back: Annotated[str, Form()] = "/"
    ) -> Response:
        watch.submit(Command("mode", "boat", {"place": place, "people": people}))
        return _back(back)


def _back(path: str) -> RedirectResponse:
    """To a page of ours and nowhere else."""
    return RedirectResponse(ours(path), status_code=303)


class Kept(StaticFiles):
    """Files whose address carries their content never change: the browser may keep them."""

    def file_response(
        self, full_path: Any, stat_result: Any, scope: Scope, status_code: int = 200
    ) -> Response:
        answer = super().file_response(full_path, stat_result, scope, status_code)
        if scope.get("query_string", b"").startswith(b"v="):
            answer.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return answer
