"""The addresses of Fit-out, and of the guided calibrations: each a plain form, answered by its page."""

from typing import Annotated, Literal

from fastapi import FastAPI, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.errors import CommandError
from monitor.records import Command
from web.presentation.figures import reader_of
from web.presentation.fit_out import fit_out
from web.presentation.fit_out_wizard import wizard
from web.render import Page, Renderer
from web.watch import Watch

FIT_OUT = Page("fit_out.html", "Fit-out", ("fit_out.css",))
CALIBRATION = Page("fit_out_wizard.html", "Calibration", ("fit_out.css",))
ASKING = Page("fit_out_wizard.html", "Calibration", ("fit_out.css",), still=True)
HERE, THERE = "/fit-out", "/fit-out/calibration"
What = Literal["sounding", "flow", "drawdown", "zero"]
Subject = Annotated[str, Form(min_length=1, max_length=60)]


def fit_out_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get(HERE)
    def fit_out_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, FIT_OUT, reader, lambda: fit_out(reader, watch.history()))

    @app.get(THERE)
    def wizard_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        view = wizard(reader)
        page = ASKING if view is not None and view.litres else CALIBRATION
        return show.answer(request, page, reader, view)

    @app.post(THERE)
    def begin(what: Annotated[What, Form()], subject: Subject) -> Response:
        watch.submit(Command("calibration", subject, {"action": "start", "what": what}))
        return RedirectResponse(THERE, status_code=303)

    @app.post(THERE + "/answer")
    def answer(
        request: Request,
        subject: Subject,
        action: Annotated[
            Literal["litres", "done", "again", "enough", "take", "leave", "stop"], Form()
        ] = "litres",
        litres: Annotated[str, Form(max_length=20)] = "",
    ) -> Response:
        facts: dict[str, object] = {"action": action}
        if action == "litres":
            per = reader_of(watch, request).dress.volume.per
            facts["litres"] = _number(litres) / per
        watch.submit(Command("calibration", subject, facts))
        over = action in ("take", "leave", "stop")
        return RedirectResponse(HERE + "#figures" if over else THERE, status_code=303)

    @app.post(THERE + "/back")
    def as_it_was(what: Annotated[What, Form()], subject: Subject) -> Response:
        watch.submit(Command("calibration back", subject, {"what": what}))
        return RedirectResponse(HERE + "#figures", status_code=303)


def _number(text: str) -> float:
    """With a point or a comma, in the reader's unit."""
    try:
        amount = float(text.strip().replace(",", "."))
    except ValueError:
        amount = float("nan")
    if not 0 <= amount <= 1e5:
        raise CommandError("the amount: expected a number, got {given!r}", given=text.strip())
    return amount
