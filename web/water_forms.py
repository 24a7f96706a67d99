"""What the crew may say on the page of water: each a plain form, answered by the page it came from."""

from collections.abc import Iterable
from typing import Annotated, Literal

from fastapi import FastAPI, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.errors import CommandError
from monitor.records import Command
from monitor.words.tongues import N_
from monitor.words.units import Dress
from web.choices import dress_for
from web.watch import Watch

MOST_L = 100_000.0
TREATED = {"yes": True, "no": False, "unknown": None}
Text = Annotated[str, Form(min_length=1, max_length=120)]
NO_PUMP = N_("no pump is called {name!r}; there are: {known}")
NO_TANK = N_("no tank is called {name!r}; there are: {known}")
NONE = N_("none")


def water_forms(app: FastAPI, watch: Watch) -> None:
    """Adds the forms' addresses. A name that the settings do not have is told, and nothing is asked."""
    settings = watch.settings

    @app.post("/water/test")
    def test(
        pump: Text,
        action: Annotated[Literal["start", "stop", "answer"], Form()] = "answer",
        answer: Annotated[str, Form(max_length=60)] = "",
    ) -> Response:
        _known(NO_PUMP, pump, (p.name for p in settings.pumps))
        watch.submit(Command("guided test", pump, {"action": action, "answer": answer}))
        return _back("guided")

    @app.post("/water/filling")
    def filling(tank: Text, on: Annotated[bool, Form()]) -> Response:
        _known(NO_TANK, tank, (t.name for t in settings.tanks))
        watch.submit(Command("filling", tank, {"on": on}))
        return _back()

    @app.post("/water/fill")
    def fill(
        request: Request,
        tank: Text,
        source: Annotated[str, Form(max_length=60)] = "",
        treated: Annotated[Literal["yes", "no", "unknown"], Form()] = "unknown",
        litres: Annotated[str, Form(max_length=20)] = "",
    ) -> Response:
        _known(NO_TANK, tank, (t.name for t in settings.tanks))
        facts = {"source": " ".join(source.split()), "treated": TREATED[treated]}
        poured_L = _litres(litres, dress_for(settings, request))
        watch.submit(Command("fill", tank, facts | ({} if poured_L is None else {"litres": poured_L})))
        return _back("fills")

    @app.post("/water/dip")
    def dip(
        request: Request, tank: Text, litres: Annotated[str, Form(min_length=1, max_length=20)]
    ) -> Response:
        _known(NO_TANK, tank, (t.name for t in settings.tanks))
        watch.submit(Command("tank", tank, {"litres": _litres(litres, dress_for(settings, request))}))
        return _back("tanks")

    @app.post("/water/tank")
    def tank(tank: Text, state: Annotated[Literal["in use", "isolated", "doubtful"], Form()]) -> Response:
        _known(NO_TANK, tank, (t.name for t in settings.tanks))
        watch.submit(Command("tank", tank, {"state": state}))
        return _back("tanks")

    @app.post("/water/crew")
    def crew(people: Annotated[int, Form(ge=1, le=50)]) -> Response:
        watch.submit(Command("crew", "boat", {"heads": people}))
        return _back("saving")

    @app.post("/water/service")
    def service(service: Text) -> Response:
        watch.submit(Command("service done", service))
        return _back("due")


def _known(told: str, name: str, names: Iterable[str]) -> None:
    known = list(names)
    if name not in known:
        raise CommandError(told, name=name, known=", ".join(known) or NONE)


def _litres(text: str, dress: Dress) -> float | None:
    """What was typed in the reader's unit, with a point or a comma; empty: the watch's own figure stands."""
    plain = text.strip().replace(",", ".")
    if not plain:
        return None
    try:
        litres = float(plain) / dress.volume.per
    except ValueError:
        litres = float("nan")
    if not 0 <= litres <= MOST_L:
        raise CommandError(
            "expected a number from 0 to {most:count} {unit}, got {got!r}",
            unit=dress.volume.symbol, most=int(MOST_L * dress.volume.per), got=text.strip(),
        )  # fmt: skip
    return litres


def _back(part: str = "") -> RedirectResponse:
    return RedirectResponse("/water" + (f"#{part}" if part else ""), status_code=303)
