"""The loads' addresses: the list, each load, and the form in which the crew says what it is."""

from typing import Annotated

from fastapi import FastAPI, Form
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.errors import CommandError
from monitor.estimation.ledger import STANDING
from monitor.records import Command
from web.presentation.figures import reader_of
from web.presentation.loads import LONGEST_NAME, load, loads
from web.presentation.night_ledger import load_href
from web.presentation.night_parts import MADE, TOGETHER, UNEXPLAINED
from web.render import Page, Renderer
from web.watch import Watch

OWN_LINES = frozenset((STANDING, UNEXPLAINED, MADE, TOGETHER, "used", "net"))
"""No load is called so: the ledger has lines of these names."""
LOADS = Page("loads.html", "Loads", ("night.css", "loads.css"), live=False)
LOAD = Page("load.html", "Load", ("night.css", "loads.css"), live=False)


def load_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/loads")
    def loads_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, LOADS, reader, loads(reader))

    @app.get("/loads/{id:path}")
    def load_page(request: Request, id: str) -> Response:
        reader = reader_of(watch, request)
        view = load(reader, watch.history(), id)
        if view is None:
            raise HTTPException(404, "loads: no such")
        return show.answer(request, LOAD, reader, view)

    @app.post("/loads")
    def name_load(
        request: Request,
        id: Annotated[str, Form(alias="load", min_length=1, max_length=120)],
        name: Annotated[str, Form(max_length=400)] = "",
        suggested: Annotated[str, Form(max_length=400)] = "",
        listed: Annotated[bool, Form()] = False,
    ) -> Response:
        """The button with a suggestion counts more than what stands in the line; nothing at all withdraws."""
        reader = reader_of(watch, request)
        if id not in {kind.id for kind in reader.snapshot.loads}:
            raise CommandError("no load is called {load!r} any more", load=id)
        said = " ".join((suggested or name).split())
        if len(said) > LONGEST_NAME:
            raise CommandError(reader.say("load: name too long", most=LONGEST_NAME, got=len(said)))
        if said.casefold() in OWN_LINES:
            raise CommandError(reader.say("load: name taken", name=said))
        watch.submit(Command("load", id, {"name": said}))
        return RedirectResponse("/loads" if listed else load_href(id), status_code=303)
