"""The addresses of the first-run guide: each a plain form, one question a page, answered by the next."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Annotated, Literal

import anyio
from fastapi import FastAPI, Form
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from monitor.errors import RightsError, SettingsError
from monitor.survey.guide import Guide
from monitor.survey.things import Thing
from monitor.words.tongues import LANGUAGES
from web.presentation import setup_bind
from web.presentation.figures import reader_of
from web.presentation.setup import STEPS, address, answer, first_open, question
from web.presentation.setup_end import end
from web.presentation.setup_heard import heard, thing_row
from web.presentation.setup_kinds import KINDS
from web.presentation.setup_listen import (
    OF_KIND,
    adding,
    described,
    listen,
    name_for,
    typed_of,
)
from web.render import Page, Renderer, environment
from web.watch import Watch

LOG = logging.getLogger("ebbwatch")
STYLES = ("setup.css",)
QUESTION = Page("setup.html", "First run", STYLES, live=False)
LISTEN = Page("setup_listen.html", "First run", STYLES)
ADD = Page("setup_add.html", "First run", STYLES, live=False)
HEARD = Page("setup_heard.html", "First run", STYLES)
BIND = Page("setup_bind.html", "First run", STYLES, live=False)
END = Page("setup_end.html", "First run", STYLES, live=False)
FREE = (
    "/setup", "/static/", "/sign", "/phone", "/light", "/manifest.webmanifest", "/worker.js",
    "/reading", "/live", "/hush",
)  # fmt: skip
"""What answers as always while nothing is set."""
ANSWERS_S = 6.0
HOLD_S = 0.3
Kind = Literal["socketcan", "slcan", "udp_multicast", "mqtt", "recording"]
Short = Annotated[str, Form(max_length=200)]


class Leads:
    """ASGI middleware behind the gate: every page leads to the guide. Once the settings are written a request
    is held for a moment and asked again: by then the watch that was begun anew takes it."""

    def __init__(self, app: ASGIApp, guide: Guide) -> None:
        self.app = app
        self.guide = guide

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        app = self.app
        if scope["type"] == "http" and self.guide.finished:
            await anyio.sleep(HOLD_S)
            again = scope["path"] if not scope["path"].startswith("/setup") else "/"
            app = RedirectResponse(again, status_code=303, headers={"Connection": "close"})
        elif scope["type"] == "http" and not scope["path"].startswith(FREE):
            app = RedirectResponse("/setup", status_code=303)
        await app(scope, receive, send)


def setup_pages(app: FastAPI, watch: Watch, guide: Guide, written: Callable[[], None]) -> None:
    """Adds the guide to the app; `written` is called once the settings file is in place."""
    show = Renderer()
    app.user_middleware.append(Middleware(Leads, guide=guide))

    @app.get("/setup")
    def begin() -> Response:
        return _to(first_open(guide))

    _questions(app, watch, show, guide)
    _sources(app, watch, show, guide)
    _bindings(app, watch, show, guide)

    @app.get("/setup/end")
    def end_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, END, reader, end(reader, guide, datetime.now(UTC)))

    @app.post("/setup/end")
    def write(request: Request) -> Response:
        reader = reader_of(watch, request)
        now = datetime.now(UTC)
        view = end(reader, guide, now)
        if view.ready:
            try:
                guide.write(now, reader.dress.language)
            except SettingsError as error:
                view = end(reader, guide, now, tuple(error.mistakes))
            else:
                LOG.info("the guide has written %s; the watch begins with it", guide.path)
                written()
                return RedirectResponse("/", status_code=303, headers={"Connection": "close"})
        return show.answer(request, END, reader, view, status=409)


def _questions(app: FastAPI, watch: Watch, show: Renderer, guide: Guide) -> None:
    Asked = Literal["language", "name", "crew", "zone"]

    @app.get("/setup/boat/{name}")
    def asked(request: Request, name: Asked) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, QUESTION, reader, question(reader, guide, name))

    @app.post("/setup/boat/{name}")
    def answered(request: Request, name: Asked, value: Short = "") -> Response:
        reader = reader_of(watch, request)
        try:
            answer(guide, name, value)
        except SettingsError as error:
            view = question(reader, guide, name, tuple(error.mistakes), value)
            return show.answer(request, QUESTION, reader, view, status=422)
        then = _to(STEPS[STEPS.index(name) + 1])
        if name == "language" and value in LANGUAGES:
            then.set_cookie("language", value, max_age=10 * 366 * 86400, samesite="strict", httponly=True)
        return then


def _sources(app: FastAPI, watch: Watch, show: Renderer, guide: Guide) -> None:
    @app.get("/setup/listen")
    def listening(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, LISTEN, reader, listen(reader, guide))

    @app.get("/setup/listen/add")
    def add_page(request: Request, kind: Kind = "mqtt", channel: str = "", source: str = "") -> Response:
        reader = reader_of(watch, request)
        typed = {"channel": channel[:200]} if channel else {}
        row = next((row for row in guide.rows("sources") if row["name"] == source), None)
        known: str = kind
        if row is not None:
            known, typed = typed_of(row)
        view = adding(reader, guide, known, typed, instead="" if row is None else source)
        return show.answer(request, ADD, reader, view)

    @app.post("/setup/listen/add")
    async def add(request: Request) -> Response:
        form = await request.form()
        typed = {key: str(value)[:300] for key, value in form.items()}
        return await anyio.to_thread.run_sync(_add, request, typed)

    def _add(request: Request, typed: dict[str, str]) -> Response:
        reader = reader_of(watch, request)
        kind, instead = typed.get("kind", ""), typed.get("instead", "")
        if kind not in OF_KIND:
            return _to("listen")
        known = {row["name"] for row in guide.rows("sources")}
        name = instead if instead in known else name_for(guide, kind, typed)
        row = {"name": name, **described(kind, typed)}
        try:
            if kind == "mqtt" and typed.get("password"):
                row["password_file"] = guide.keep_password(name, typed["password"])
            if name == instead:
                guide.change_source(name, row)
            else:
                guide.add_source(row)
        except (SettingsError, RightsError) as error:
            said = tuple(str(error).split("\n"))
            view = adding(reader, guide, kind, typed, said, instead)
            return show.answer(request, ADD, reader, view, status=422)
        guide.ear.answers(name, ANSWERS_S)
        return _to("listen")

    @app.post("/setup/listen/away")
    def away(request: Request, source: Short) -> Response:
        reader = reader_of(watch, request)
        subject = guide.resting_on(source)
        if subject:
            said = reader.say("setup: source in use", source=source, subject=subject)
            return show.answer(request, LISTEN, reader, listen(reader, guide, (said,)), status=409)
        guide.remove_source(source)
        return _to("listen")


def _bindings(app: FastAPI, watch: Watch, show: Renderer, guide: Guide) -> None:
    @app.get("/setup/heard")
    def heard_page(request: Request, find: str = "") -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, HEARD, reader, heard(reader, guide, find[:80]))

    @app.get("/setup/bind")
    def bind_page(request: Request, thing: str = "", what: str = "") -> Response:
        reader = reader_of(watch, request)
        found = _thing(guide, thing)
        if found is None:
            view = heard(reader, guide, said=(reader.say("setup: gone"),))
            return show.answer(request, HEARD, reader, view, status=404)
        if _is_offered(guide, what):
            naming = setup_bind.detailing(reader, guide, found, what)
        else:
            naming = setup_bind.choosing(reader, guide, found)
        return show.answer(request, BIND, reader, naming)

    @app.get("/setup/says")
    def says(request: Request, thing: str = "") -> Response:
        """What the thing says now, for the page on which it is named."""
        reader = reader_of(watch, request)
        found = _thing(guide, thing)
        if found is None:
            return Response(status_code=204)
        row = thing_row(reader, guide, found)
        template = environment(reader.dress.language).get_template("_setup_says.html")
        return HTMLResponse(template.render(thing=row))

    @app.post("/setup/bind")
    async def bind(request: Request) -> Response:
        form = await request.form()
        typed = {key: str(value)[:300] for key, value in form.items()}
        return await anyio.to_thread.run_sync(_bind, request, typed)

    def _bind(request: Request, typed: dict[str, str]) -> Response:
        reader = reader_of(watch, request)
        found = _thing(guide, typed.get("thing", ""))
        what = typed.get("what", "")
        if found is None or not _is_offered(guide, what):
            view = heard(reader, guide, said=(reader.say("setup: gone"),))
            return show.answer(request, HEARD, reader, view, status=404)
        try:
            setup_bind.name_it(reader, guide, found, what, typed)
        except SettingsError as error:
            naming = setup_bind.detailing(reader, guide, found, what, typed, tuple(error.mistakes))
            return show.answer(request, BIND, reader, naming, status=422)
        return _to("heard")

    @app.post("/setup/unbind")
    def unbind(request: Request, name: Short) -> Response:
        reader = reader_of(watch, request)
        try:
            guide.unbind(name)
        except SettingsError as error:
            view = heard(reader, guide, said=tuple(error.mistakes))
            return show.answer(request, HEARD, reader, view, status=409)
        return _to("heard")


def _thing(guide: Guide, id: str) -> Thing | None:
    return next((thing for thing in guide.ear.hearing.things() if thing.id == id), None)


def _is_offered(guide: Guide, what: str) -> bool:
    named = {row["name"] for _, row in guide.subjects()}
    return what in KINDS or (what.startswith(setup_bind.OF) and what.removeprefix(setup_bind.OF) in named)


def _to(step: str) -> RedirectResponse:
    return RedirectResponse(address(step), status_code=303)
