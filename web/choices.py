"""What one browser has chosen: language, units, how bright. Kept in its own cookies, for it alone."""

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.requests import Request

from monitor.settings import Settings
from monitor.words.tongues import LANGUAGES
from monitor.words.units import ENERGIES, UNITS, Dress

VOLUMES = ("L", "US gal", "imp gal")
PRESSURES = ("bar", "psi")
TEMPERATURES = ("°C", "°F")
BRIGHTNESSES = ("100", "90", "80", "70", "60", "50", "40", "30", "20")
"""In hundredths of the dress as it is drawn: a panel's own lowest light may still be too much."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose, as its cookie is called, and among what."""

    name: str
    among: tuple[str, ...]


CHOICES = {
    c.name: c
    for c in (
        Choice("language", tuple(LANGUAGES)),
        Choice("volume", VOLUMES),
        Choice("pressure", PRESSURES),
        Choice("temperature", TEMPERATURES),
        Choice("energy", ENERGIES),
        Choice("brightness", BRIGHTNESSES),
    )
}


def chosen(cookies: Mapping[str, str], name: str) -> str | None:
    """What the browser sent, where that can be chosen at all."""
    said = cookies.get(name)
    return said if said in CHOICES[name].among else None


def dress_for(settings: Settings, request: Request | None = None) -> Dress:
    """As this reader wants to be told things: by choice, by what the browser asks for, by the settings."""
    cookies = {} if request is None else request.cookies
    units = settings.units
    house = next((bank for bank in settings.banks if bank.role == "house"), None)
    return Dress(
        zone=settings.boat.zone,
        volume=UNITS[chosen(cookies, "volume") or units.volume],
        pressure=UNITS[chosen(cookies, "pressure") or units.pressure],
        temperature=UNITS[chosen(cookies, "temperature") or units.temperature],
        language=chosen(cookies, "language") or _asked(request) or settings.boat.language,
        energy=chosen(cookies, "energy") or ENERGIES[0],
        nominal_V=12.8 if house is None else house.nominal_V,
    )


def brightness(request: Request) -> str:
    return chosen(request.cookies, "brightness") or BRIGHTNESSES[0]


def _asked(request: Request | None) -> str | None:
    """The first of the browser's languages (RFC 9110, Accept-Language) that there is; by weight."""
    if request is None:
        return None
    wanted: list[tuple[float, str]] = []
    for part in request.headers.get("accept-language", "")[:400].split(","):
        tag, _, weight = part.strip().partition(";q=")
        try:
            wanted.append((-float(weight or 1), tag.partition("-")[0].lower()))
        except ValueError:
            continue
    found = [
        tag for weight, tag in sorted(wanted, key=lambda pair: pair[0]) if tag in LANGUAGES and weight < 0
    ]
    return found[0] if found else None
