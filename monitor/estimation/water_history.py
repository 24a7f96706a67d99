"""Hours of water used, each kept by the head and beside its air, and told for the heads and the heat of now.

Guests who have left use nothing tomorrow, and a cool week says little of a hot one: a past day is told as
these people would have lived it in this heat. A leak is no use: its litres are taken off what was used
while it was known, and put onto every hour to come.
"""

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S
from monitor.estimation.heat import Slope, slope
from monitor.estimation.use import KEPT_DAYS, Days, UseHistory

_SLOTS = (KEPT_DAYS + 2) * 24
_LEAST_HOURS = 6
"""Of a day's air."""
_WARMER_MOST_C = 12.0
"""No past day is told for air that differs by more: a thermometer may lie in the sun, or be wrong."""
_COMING_DAYS = 3
"""The coming days are as warm as these last were: no forecast of the air is known."""

Floats = npt.NDArray[np.float64]


class WaterUse(UseHistory):
    """Litres of use by the hour. `heads` are aboard now, and `leak_L_per_h` is lost now."""

    def __init__(self, heads: int) -> None:
        super().__init__()
        self.heads = heads
        self.leak_L_per_h = 0.0
        self._air_hour = np.full(_SLOTS, -1, dtype=np.int64)
        self._air_C, self._air_s = np.zeros((2, _SLOTS))

    def used(
        self, hour_utc_s: float, place: str, people: str, litres: float, covered_s: float, heads: int
    ) -> None:
        """Count litres used by so many heads, in (a part of) the hour that begins then; see `add`."""
        own_L = litres - self.leak_L_per_h * covered_s / HOUR_S
        # A piece of a run covers no time of its own; an instant of it says that it was heard.
        self.add(hour_utc_s, place, people, own_L / heads, None, max(covered_s, 1e-3))

    def air(self, utc_s: float, air_C: float, lasted_s: float) -> None:
        """The air was so warm for so long, within one hour."""
        if not np.isfinite(air_C):
            return
        hour = int(utc_s // HOUR_S)
        slot = hour % _SLOTS
        if self._air_hour[slot] > hour:
            return
        if self._air_hour[slot] != hour:
            self._air_hour[slot], self._air_C[slot], self._air_s[slot] = hour, 0.0, 0.0
        self._air_C[slot] += air_C * lasted_s
        self._air_s[slot] += lasted_s

    def days(self, until_utc_s: float, place: str | None = None, aboard: bool | None = None) -> Days:
        """As `UseHistory.days`, in litres for the heads, the heat and the leak of now."""
        found = super().days(until_utc_s, place, aboard)
        warmer = np.nan_to_num(self.coming_C(until_utc_s) - self._air_of(until_utc_s, found.age))
        warmer = np.clip(warmer, -_WARMER_MOST_C, _WARMER_MOST_C)
        factor = np.exp(self.heat(until_utc_s).per_C * warmer)
        return found._replace(used=found.used * (self.heads * factor)[:, None] + self.leak_L_per_h)

    def by_head(self, until_utc_s: float) -> Days:
        """Days on which somebody was aboard, as they were lived, in litres by the head; no leak in them."""
        return super().days(until_utc_s, None, True)

    def heat(self, until_utc_s: float) -> Slope:
        """How use goes with the air, by the days on which somebody was aboard."""
        found = self.by_head(until_utc_s)
        return slope(self._air_of(until_utc_s, found.age), np.nansum(found.used, axis=1))

    def coming_C(self, until_utc_s: float) -> float:
        """The air to reckon with; NaN where it is not known."""
        last = self._air_of(until_utc_s, np.arange(1, _COMING_DAYS + 1))
        known = last[np.isfinite(last)]
        return float(known.mean()) if known.size else float("nan")

    def _air_of(self, until_utc_s: float, age: npt.NDArray[np.int64]) -> Floats:
        """The mean air of past days by their age; NaN where too little of it was heard."""
        hours = int(until_utc_s // HOUR_S) - 24 * age[:, None] + np.arange(24)
        slots = hours % _SLOTS
        heard_s = np.where(self._air_hour[slots] == hours, self._air_s[slots], 0.0)
        total_s = heard_s.sum(axis=1)
        enough = total_s >= _LEAST_HOURS * HOUR_S
        sums = np.where(heard_s > 0, self._air_C[slots], 0.0).sum(axis=1)
        return np.where(enough, sums / np.where(enough, total_s, 1.0), np.nan)
