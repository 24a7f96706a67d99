"""The lowest voltage of a night, and when it was."""

from typing import Any

from monitor.clock import DAY_S, MINUTE_S, Interval
from monitor.estimation.sun import darkness
from monitor.records import Estimate, Reason
from monitor.settings import Boat

_READ_V = 0.05
"""What a meter of a 12 V bank may be off. Common practice."""


class LowestOfNight:
    """Of the night under way, or of the last one by day."""

    def __init__(self, bank: str, boat: Boat) -> None:
        self._bank, self._place = bank, (boat.latitude, boat.longitude)
        self._night: tuple[float, float] = (0.0, 0.0)
        self._low: tuple[float, float] | None = None
        """Voltage and UTC."""
        self._trusted = False

    def take(self, utc_s: float | None, volts: float | None) -> None:
        """A minute and the lowest voltage in it."""
        self._trusted = utc_s is not None
        if utc_s is None:
            return
        if not self._night[0] - DAY_S <= utc_s < self._night[1]:
            self._night = self._next(utc_s)
        if volts is None or utc_s < self._night[0]:
            return
        if self._low is None or self._low[1] < self._night[0] or volts < self._low[0]:
            self._low = (volts, utc_s)

    def _next(self, utc_s: float) -> tuple[float, float]:
        """The night under way or to come; a polar day is looked at again tomorrow."""
        found = darkness(*self._place, Interval(utc_s - DAY_S, utc_s + 1.5 * DAY_S))
        return next((n for n in found if n[1] > utc_s + MINUTE_S), (utc_s + DAY_S, utc_s + DAY_S))

    def estimate(self, at_s: float) -> Estimate:
        if self._low is None:
            reason = Reason(
                "buffer saw no night yet" if self._trusted else "buffer knows no night", {"bank": self._bank}
            )
            return Estimate("lowest_night_V", self._bank, at_s, None, None, None, reason)
        volts, utc_s = self._low
        reason = Reason("lowest of the night", {"bank": self._bank, "lowest_s": utc_s})
        return Estimate("lowest_night_V", self._bank, at_s, volts, volts - _READ_V, volts + _READ_V, reason)

    def state(self) -> list[float] | None:
        return None if self._low is None else [round(self._low[0], 3), self._low[1]]

    def restore(self, state: Any) -> None:
        self._low = None if state is None else (float(state[0]), float(state[1]))
