"""Water used, piece by piece: from the pump's runs, and from the tanks' falls where no pump is seen."""

from typing import NamedTuple

from monitor.clock import HOUR_S, Interval


class WaterPart(NamedTuple):
    """Litres used within one hour of UTC, `covered_s` of which was watched."""

    hour_utc_s: float
    litres: float
    covered_s: float


class WaterHours:
    """Collects what is heard and hands it out by the hour, each piece once.

    With a pump, its runs count: flow times time is finer than any sender. Without one, falls of
    the tanks' total do, never less than nothing: a rise is a fill or a heeling boat.
    """

    MINUTE_S = 60.0

    def __init__(self, with_pump: bool) -> None:
        self._with_pump = with_pump
        self._parts: dict[float, tuple[float, float]] = {}
        self._level_L: float | None = None

    def pumped(self, start_utc_s: float, end_utc_s: float, litres: float) -> None:
        """A run moved so much, spread evenly over its time."""
        span = Interval(start_utc_s, max(end_utc_s, start_utc_s + 1e-3))
        if self._with_pump:
            for hour in span.hours():
                self._add(hour.start_s, litres * hour.seconds / span.seconds, 0.0)

    def minute(self, utc_s: float, pump_heard: bool, tanks_L: float | None) -> None:
        """The minute before `utc_s`: was the pump's signal alive, and what was in the tanks.

        None where a tank is held, silent, filling or stuck: the fall over that time is counted
        when all are good again.
        """
        at_s = utc_s - self.MINUTE_S
        if self._with_pump:
            self._add(at_s, 0.0, self.MINUTE_S if pump_heard else 0.0)
            return
        if tanks_L is None:
            return
        fallen_L = 0.0 if self._level_L is None else self._level_L - tanks_L
        if fallen_L >= 0 or self._level_L is None:
            self._level_L = tanks_L
        self._add(at_s, max(0.0, fallen_L), self.MINUTE_S)

    def filled(self) -> None:
        """A tank was filled: falls count from the next level on."""
        self._level_L = None

    def drain(self) -> list[WaterPart]:
        """What has been collected since the last call, oldest hour first."""
        parts, self._parts = self._parts, {}
        return [WaterPart(hour, *part) for hour, part in sorted(parts.items())]

    def _add(self, utc_s: float, litres: float, covered_s: float) -> None:
        hour = utc_s // HOUR_S * HOUR_S
        before_L, before_s = self._parts.get(hour, (0.0, 0.0))
        self._parts[hour] = (before_L + litres, before_s + covered_s)
