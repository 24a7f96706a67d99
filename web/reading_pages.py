"""How one browser is told things: light, brightness, language and units. Kept in its cookies, for it alone;
whoever may look may choose."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import FastAPI, Form, Query
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.clock import DAY_S
from monitor.words.tongues import LANGUAGES, N_
from web import light
from web.choices import BRIGHTNESSES, CHOICES, brightness
from web.presentation.figures import Reader, reader_of
from web.render import Page, Renderer
from web.watch import Watch
from web.ways import ours

READING = Page(
    "reading.html", N_("Language, units, brightness"), ("reading.css",), ("reading.js",), live=False
)
KEPT_S = 400 * DAY_S
"""The longest that browsers keep a cookie (RFC 6265bis)."""


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to choose; each answer with what it looks like."""

    name: str
    title: str
    answers: tuple[tuple[str, str], ...]
    chosen: str


@dataclass(frozen=True, slots=True)
class Reading:
    questions: tuple[Question, ...]
    brightness: str
    least: str
    example: str
    back: str


def reading(reader: Reader, request: Request, back: str) -> Reading:
    dress = reader.dress
    units = {"volume": dress.volume.symbol, "pressure": dress.pressure.symbol}
    chosen = units | {"temperature": dress.temperature.symbol, "energy": dress.energy}
    titles = {
        "volume": reader.word("Water in"),
        "pressure": reader.word("Pressure in"),
        "temperature": reader.word("Warmth in"),
        "energy": reader.word("Energy in"),
    }
    told = {"Ah": reader.word("Ah, at the bank's voltage"), "US gal": reader.word("US gallons")}
    told |= {"imp gal": reader.word("imperial gallons"), "L": reader.word("litres")}
    told |= {"kWh": reader.word("Wh and kWh"), "Wh": reader.word("Wh alone")}
    language = Question("language", reader.word("Language"), tuple(LANGUAGES.items()), dress.language)
    return Reading(
        (
            language,
            *(
                Question(name, title, tuple((a, told.get(a, a)) for a in CHOICES[name].among), chosen[name])
                for name, title in titles.items()
            ),
        ),
        brightness(request),
        BRIGHTNESSES[-1],
        reader.word(
            "So it reads: {V:volts}, {Wh:wh}, {L:litres}, {bar:bar}, {C:temp}, {s:span}.",
            V=13.24, Wh=3990.0, L=262.0, bar=2.3, C=19.0, s=12_000.0,
        ),
        back,
    )  # fmt: skip


def reading_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/reading")
    def reading_page(request: Request, back: Annotated[str, Query()] = "/") -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, READING, reader, reading(reader, request, ours(back)))

    @app.post("/reading")
    def choose(
        back: Annotated[str, Form()] = "/",
        language: Annotated[str, Form()] = "",
        volume: Annotated[str, Form()] = "",
        pressure: Annotated[str, Form()] = "",
        temperature: Annotated[str, Form()] = "",
        energy: Annotated[str, Form()] = "",
        brightness: Annotated[str, Form()] = "",
    ) -> Response:
        """What is no choice of ours leaves things as they are."""
        answer = RedirectResponse(ours(back), status_code=303)
        said = {
            "language": language, "volume": volume, "pressure": pressure, "temperature": temperature,
            "energy": energy, "brightness": brightness,
        }  # fmt: skip
        for name, value in said.items():
            if value in CHOICES[name].among:
                _keep(answer, name, value)
        return answer

    @app.post("/light")
    def choose_light(
        light_: Annotated[str, Form(alias="light")], back: Annotated[str, Form()] = "/"
    ) -> Response:
        answer = RedirectResponse(ours(back), status_code=303)
        _keep(answer, light.COOKIE, light.chosen(light_))
        return answer


def _keep(answer: Response, name: str, value: str) -> None:
    answer.set_cookie(name, value, max_age=int(KEPT_S), httponly=True, samesite="strict")
