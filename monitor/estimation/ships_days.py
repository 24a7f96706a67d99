"""Amounts by the ship's day, and where the ship is."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, tzinfo
from typing import Any

from monitor.records import Reading
from monitor.settings import Settings

KEPT_DAYS = 7


def ships_day(utc_s: float, zone: tzinfo) -> int:
    """The number of the ship's day (proleptic Gregorian ordinal)."""
    return datetime.fromtimestamp(utc_s, UTC).astimezone(zone).date().toordinal()


def position(settings: Settings, readings: Mapping[str, Reading]) -> tuple[float, float]:
    """Latitude and longitude as last heard, however long ago; else as set."""
    for instrument in settings.instruments:
        latitude = readings.get(f"{instrument.name} latitude")
        longitude = readings.get(f"{instrument.name} longitude")
        if latitude is not None and longitude is not None:
            here = latitude.value, longitude.value
            if here[0] is not None and here[1] is not None:
                return here[0], here[1]
    return settings.boat.latitude, settings.boat.longitude


class ShipsDays:
    """Sums of some amounts over today and the six ship's days before it. What was not heard is None."""

    def __init__(self, names: Iterable[str]) -> None:
        self._day: int | None = None
        self._sums: dict[str, list[float | None]] = {name: [None] * KEPT_DAYS for name in names}

    def turn_to(self, day: int) -> None:
        """It is this day now. A clock put back forgets the days that have not been."""
        back = 0 if self._day is None else day - self._day
        self._day = day
        for sums in self._sums.values():
            unheard = [None] * min(abs(back), KEPT_DAYS)
            sums[:] = ([*unheard, *sums] if back > 0 else [*sums[-back:], *unheard])[:KEPT_DAYS]

    def add(self, name: str, amount: float) -> None:
        self._sums[name][0] = (self._sums[name][0] or 0.0) + amount

    def today(self, name: str) -> float | None:
        return self._sums[name][0]

    def week(self, name: str) -> float | None:
        heard = [amount for amount in self._sums[name] if amount is not None]
        return sum(heard) if heard else None

    def state(self) -> dict[str, Any]:
        rounded = {n: [x if x is None else round(x, 1) for x in sums] for n, sums in self._sums.items()}
        heard = {name: sums for name, sums in rounded.items() if any(x is not None for x in sums)}
        return {"day": self._day, "sums": heard}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._day = None if state["day"] is None else int(state["day"])
        for name, sums in state["sums"].items():
            if name in self._sums:
                kept = [None if x is None else float(x) for x in sums][:KEPT_DAYS]
                self._sums[name] = kept + [None] * (KEPT_DAYS - len(kept))
