"""The addresses of alerts: the page, and what the crew may ask of the watch there."""

import re
from datetime import UTC, datetime, timedelta
from typing import Annotated, Literal

from fastapi import FastAPI, Form, Query
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.alerts.jobs import JOBS
from monitor.clock import MINUTE_S, Interval
from monitor.errors import CommandError, StorageError, WorkerError
from monitor.records import Command
from monitor.words.tongues import N_
from web.presentation.alerts import alerts
from web.presentation.figures import Reader, reader_of
from web.presentation.handover import guests, handover
from web.presentation.month import MONTH_S, look_for, month
from web.render import Page, Renderer
from web.watch import Foresees, Watch

ALERTS = Page("alerts.html", N_("Alerts"), ("alert_pages.css",))
HANDOVER = Page("handover.html", N_("Watch"), ("alert_pages.css",))
MONTH = Page("month.html", N_("The month"), ("alert_pages.css",), live=False)
GUESTS = Page("guests.html", N_("For guests"), ("alert_pages.css",), live=False)
HOUR = re.compile(r"(\d{1,2})[:.]?([0-5]\d)")
Name = Annotated[str, Form(min_length=1, max_length=300)]


def alert_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/alerts")
    def alerts_page(
        request: Request, start: Annotated[int, Query(alias="from", ge=0, le=100_000)] = 0
    ) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, ALERTS, reader, lambda: alerts(reader, start))

    @app.get("/alerts/month")
    def month_page(request: Request, rule: Annotated[str, Query(max_length=60)] = "") -> Response:
        """With a rule: a change of it is looked for that would have called less."""
        reader = reader_of(watch, request)
        offer, trouble = None, ""
        now_s = reader.snapshot.utc_s
        if rule and now_s is not None and isinstance(watch, Foresees):
            try:
                offer = look_for(reader, watch, rule, Interval(now_s - MONTH_S, now_s))
            except (CommandError, StorageError, WorkerError) as error:
                why = (
                    reader.word(error.text, **error.facts) if isinstance(error, CommandError) else str(error)
                )
                rule, trouble = "", reader.say("rules: not so", why=why)
        view = month(reader, watch.history(), rule, offer)
        return show.answer(request, MONTH, reader, view, trouble=trouble)

    @app.post("/alerts/score")
    def score(alert: Name, true: Annotated[Literal["yes", "no"], Form()]) -> Response:
        watch.submit(Command("score", alert, {"true": true == "yes"}))
        return RedirectResponse("/alerts/month", status_code=303)

    @app.get("/handover")
    def handover_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, HANDOVER, reader, lambda: handover(reader, watch.history()))

    @app.get("/guests")
    def guests_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, GUESTS, reader, guests(reader))

    @app.post("/shelve")
    def shelve(
        request: Request,
        alert: Name,
        minutes: Annotated[float | None, Form(gt=0, le=20_000)] = None,
        until: Annotated[str, Form(max_length=5)] = "",
    ) -> Response:
        """For so many minutes, or until an hour of the ship's clock."""
        given = _until_min(reader_of(watch, request), until) if minutes is None else minutes
        watch.submit(Command("shelve", alert, {"minutes": given}))
        return _back()

    @app.post("/unshelve")
    def unshelve(rule: Name, subject: Annotated[str, Form(max_length=300)]) -> Response:
        watch.submit(Command("unshelve", subject, {"rule": rule}))
        return _back("aside")

    @app.post("/jobs")
    def job(job: Name, over: Annotated[bool, Form()] = False) -> Response:
        if job not in JOBS:
            raise CommandError("no job is called {job!r}; there are: {known}", job=job, known=", ".join(JOBS))
        watch.submit(Command("job over" if over else "job", job))
        return _back("jobs")

    @app.post("/ways/try")
    def try_ways() -> Response:
        watch.submit(Command("try ways", "ways"))
        return _back("ways")


def _until_min(reader: Reader, text: str) -> float:
    """Minutes until the next time the ship's clock shows that."""
    now_s = reader.snapshot.utc_s
    if now_s is None:
        raise CommandError(reader.say("shelf: no clock"))
    now = datetime.fromtimestamp(now_s, UTC).astimezone(reader.dress.zone)
    found = HOUR.fullmatch(text.strip())
    if found is None or int(found[1]) > 23:
        raise CommandError(reader.say("shelf: no hour", got=text))
    at = now.replace(hour=int(found[1]), minute=int(found[2]), second=0, microsecond=0)
    if at <= now:
        at += timedelta(days=1)
    return (at.timestamp() - now_s) / MINUTE_S


def _back(part: str = "") -> RedirectResponse:
    return RedirectResponse("/alerts" + (f"#{part}" if part else ""), status_code=303)
