"""Numbers as people read them: one function a format, in the reader's units and zone.

A space between a number and its unit does not break (U+00A0). Unknown is said as "unknown".
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Any, NamedTuple

from monitor.words.tongues import ENGLISH, N_, decimal_mark, month, translated, translated_count, weekday

GAP = "\u00a0"
MINUS = "\u2212"
UNKNOWN = N_("unknown")
HORIZON_DAYS = 10.0
"""Days left are told up to here and as "10+" beyond."""


class Unit(NamedTuple):
    """A shown unit: shown = inside * per + offset."""

    symbol: str
    per: float = 1.0
    offset: float = 0.0


LITRES = Unit("L")
US_GALLONS = Unit("US gal", 1 / 3.785411784)
"""231 cubic inches of 2.54 cm each: exact by definition."""
IMPERIAL_GALLONS = Unit("imp gal", 1 / 4.54609)
BAR = Unit("bar")
PSI = Unit("psi", 14.503773773)
CELSIUS = Unit("°C")
FAHRENHEIT = Unit("°F", 1.8, 32.0)


UNITS = {unit.symbol: unit for unit in (LITRES, US_GALLONS, IMPERIAL_GALLONS, BAR, PSI, CELSIUS, FAHRENHEIT)}
"""By the symbol that the settings name."""


@dataclass(frozen=True, slots=True)
class Dress:
    """How one reader wants to be told things: the ship's zone, the units, the language."""

    zone: tzinfo = UTC
    volume: Unit = LITRES
    pressure: Unit = BAR
    temperature: Unit = CELSIUS
    language: str = ENGLISH
    energy: str = "kWh"
    """One of `ENERGIES`."""
    nominal_V: float = 12.8
    """What ampere-hours are told at."""

    def text(self, english: str) -> str:
        """A text of ours in the reader's language."""
        return translated(english, self.language)


ENERGIES = ("kWh", "Wh", "Ah")
"""Watt-hours that become kilowatt-hours from a thousand on; watt-hours alone; ampere-hours at a voltage."""


def unknown(dress: Dress) -> str:
    return dress.text(UNKNOWN)


def known(value: object) -> bool:
    """Whether there is a number at all: neither None nor NaN nor an infinity."""
    return isinstance(value, int | float) and value == value and abs(value) != float("inf")


def fixed(value: float, decimals: int, dress: Dress) -> str:
    """So many decimals, with the language's mark; never a minus before nothing."""
    text = f"{value:.{decimals}f}"
    text = text[1:] if text.startswith("-") and not text.strip("-0.") else text.replace("-", MINUS)
    return text.replace(".", decimal_mark(dress.language))


def _measured(value: float, unit: Unit, decimals: int, dress: Dress) -> str:
    return fixed(value * unit.per + unit.offset, decimals, dress) + GAP + unit.symbol


def litres(value: float, dress: Dress) -> str:
    """Whole litres from ten on, tenths below."""
    return _measured(value, dress.volume, 1 if 0.05 <= abs(value * dress.volume.per) < 9.95 else 0, dress)


def fine_litres(value: float, dress: Dress) -> str:
    """As a jug tells it: hundredths below ten, tenths below a hundred."""
    size = abs(value * dress.volume.per)
    return _measured(value, dress.volume, 2 if size < 9.995 else 1 if size < 99.95 else 0, dress)


def flow(value: float, dress: Dress) -> str:
    """Litres a minute."""
    shown = value * dress.volume.per
    return f"{fixed(shown, 2 if abs(shown) < 9.995 else 1, dress)}{GAP}{dress.volume.symbol}/min"


def milliamps(value: float, dress: Dress) -> str:
    """Amperes that are few, in thousandths; from one on as ever."""
    if abs(value) >= 0.9995:
        return amps(value, dress)
    return f"{fixed(1000 * value, 0, dress)}{GAP}mA"


def seconds(value: float, dress: Dress) -> str:
    """As the watch hears a pump: in tenths."""
    return f"{fixed(value, 1, dress)}{GAP}s"


def rate(value: float, dress: Dress) -> str:
    """Litres an hour: two decimals below one, three below a hundredth: a bound is never told as none."""
    shown = value * dress.volume.per
    size = abs(shown)
    decimals = 0 if size >= 9.95 else 1 if size >= 0.995 else 3 if 0 < size < 0.00995 else 2
    return f"{fixed(shown, decimals, dress)}{GAP}{dress.volume.symbol}/h"


def pct(value: float, dress: Dress) -> str:
    return fixed(value, 0, dress) + GAP + "%"


def wh(value: float, dress: Dress) -> str:
    """Watt-hours to a thousand, tenths of a kilowatt-hour beyond; or as the reader has chosen."""
    if dress.energy == "Ah":
        hours = fixed(value / dress.nominal_V, 0, dress)
        return dress.text("{hours} Ah at {volts} V").replace(" ", GAP).format(
            hours=hours, volts=fixed(dress.nominal_V, 1, dress)
        )  # fmt: skip
    if abs(value) < 999.5 or dress.energy == "Wh":
        return fixed(value, 0, dress) + GAP + "Wh"
    return fixed(value / 1000, 1, dress) + GAP + "kWh"


def watts(value: float, dress: Dress) -> str:
    if abs(value) < 9999.5:
        return fixed(value, 0, dress) + GAP + "W"
    return fixed(value / 1000, 1, dress) + GAP + "kW"


def amps(value: float, dress: Dress) -> str:
    return fixed(value, 1, dress) + GAP + "A"


def volts(value: float, dress: Dress) -> str:
    return fixed(value, 2 if abs(value) < 100 else 0, dress) + GAP + "V"


def temp(value: float, dress: Dress) -> str:
    return _measured(value, dress.temperature, 0, dress)


def bar(value: float, dress: Dress) -> str:
    return _measured(value, dress.pressure, 2 if dress.pressure is BAR else 0, dress)


def span(value: float, dress: Dress) -> str:
    """Seconds as the largest units that matter: "40 s", "12 min", "3 h 20 min", "6 days"."""
    seconds = abs(value)
    if seconds < 59.5:
        return f"{seconds:.0f}{GAP}s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes}{GAP}min"
    if minutes < 48 * 60:
        h, left = divmod(minutes, 60)
        return f"{h}{GAP}h" + (f" {left}{GAP}min" if left and h < 10 else "")
    count = round(seconds / 86400)
    return f"{count}{GAP}{translated_count('day', 'days', count, dress.language)}"


def days(value: float, dress: Dress) -> str:
    """Days left, rounded down: hours below one day, halves below five, "10+ days" past that."""
    figure, unit = _days(value, dress)
    return f"{figure}{GAP}{unit}"


def between(low: str, high: str, dress: Dress) -> str:
    """ "3.8 to 4.3 kWh": two told amounts, the unit once where it is the same."""
    figure, _, unit = low.partition(GAP)
    if unit == high.partition(GAP)[2] and (GAP not in unit or unit.startswith("Ah")):
        low = figure
    return dress.text("{low} to {high}").format(low=low, high=high)


def days_between(cautious: float | None, likely: float | None, beyond: bool, dress: Dress) -> str:
    """ "2½ to 4 days": the cautious day first. `beyond`: the likely one is past the horizon."""
    told = (cautious, HORIZON_DAYS if beyond else likely)
    ends = [_days(v, dress) for v in told if v is not None and known(v)]
    if not ends:
        return unknown(dress)
    figure, unit = ends[-1]
    if ends[0] == ends[-1]:
        return f"{figure}{GAP}{unit}"
    first = ends[0][0] if ends[0][1].startswith(unit[:3]) else GAP.join(ends[0])
    return dress.text("{low} to {high}").format(low=first, high=f"{figure}{GAP}{unit}")


def _days(value: float, dress: Dress) -> tuple[str, str]:
    if value >= HORIZON_DAYS:
        return "10+", translated_count("day", "days", 10, dress.language)
    if value < 1:
        hours = max(0, int(value * 24))
        return f"{hours}", translated_count("hour", "hours", hours, dress.language)
    halves = int(value * 2) if value < 5 else int(value) * 2
    unit = translated_count("day", "days", 1 if halves == 2 else 2, dress.language)
    return f"{halves // 2}" + ("½" if halves % 2 else ""), unit


def clock(value: float, dress: Dress) -> str:
    """UTC seconds as weekday and ship's time: "Thu 06:00"."""
    at = _at(value, dress)
    return f"{weekday(at, dress.language)} {at:%H:%M}"


def clock_time(value: float, dress: Dress) -> str:
    return f"{_at(value, dress):%H:%M}"


def date(value: float, dress: Dress) -> str:
    at = _at(value, dress)
    return f"{weekday(at, dress.language)} {at.day} {month(at, dress.language)}"


def _at(value: float, dress: Dress) -> datetime:
    return datetime.fromtimestamp(value, UTC).astimezone(dress.zone)


def day(value: float, dress: Dress) -> str:
    """The day of a month of its own: "Thu 26"."""
    at = _at(value, dress)
    return f"{weekday(at, dress.language)} {at.day}"


def moment(value: float, now_s: float, dress: Dress) -> str:
    """A moment as near as it needs: "Thu 06:00" within six days, "Thu 3 Dec" beyond."""
    return clock(value, dress) if abs(value - now_s) < 6 * 86400 else date(value, dress)


def count(value: float, dress: Dress) -> str:
    return fixed(value, 0, dress)


def thousands(value: float, dress: Dress) -> str:
    """A large count, its thousands apart."""
    text = f"{value:,.0f}".replace(",", GAP)
    return text[1:] if text == "-0" else text.replace("-", MINUS)


def number(value: float, dress: Dress) -> str:
    """Four figures, without a unit."""
    return f"{value:.4g}".replace("-", MINUS).replace(".", decimal_mark(dress.language))


FORMATS: dict[str, Callable[[Any, Dress], str]] = {
    "litres": litres,
    "fine": fine_litres,
    "flow": flow,
    "mA": milliamps,
    "seconds": seconds,
    "rate": rate,
    "pct": pct,
    "wh": wh,
    "watts": watts,
    "amps": amps,
    "volts": volts,
    "temp": temp,
    "bar": bar,
    "span": span,
    "days": days,
    "clock": clock,
    "time": clock_time,
    "date": date,
    "count": count,
    "thousands": thousands,
    "number": number,
}
"""What may follow the colon in a sentence, `text` apart."""
