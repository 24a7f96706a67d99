"""What the boat's own array would give now, for the hours in which a full bank turns it down.

    could be made = clear sky x gain(hour) x clearness

The gain absorbs panels, wiring and shade: the 90th percentile of made over clear sky in the same hour of
UTC, over the last fourteen days on which the bank took all it was offered. The clearness is that of the
hours just gone, and falls back on the usual one where the bank was full from the morning on.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from monitor.clock import HOUR_S

GAIN_QUANTILE = 0.9
KEPT_DAYS = 14
LEAST_HOURS = 5
LEAST_SUN = 50.0
"""W/m2: under a lower sun the ratio says nothing."""
LEAST_COVER = 0.75
"""Of an hour."""
HALF_LIFE_MIN = 120.0
PRIOR_MIN, PRIOR_SUN = 20.0, 500.0
"""The usual clearness weighs as much as so many minutes of such a sun."""
FIRST_CLEARNESS = 0.75
DAY_WEIGHT = 0.15
CLEAREST = 1.1
_PER_M2 = 1000


class Clearness:
    """Learns gain and clearness from the minutes in which the bank took all."""

    def __init__(self) -> None:
        self._ratios: dict[int, list[float]] = {}
        self._gains = np.zeros(24)
        self._usual = FIRST_CLEARNESS
        self._hour: int | None = None
        self._sun = self._clear = self._minutes = 0.0
        self._taken = self._potential = 0.0
        """Of today, older minutes counting less."""
        self.since_free_s: float | None = None
        """How long the bank has been full; None where it was so all day."""

    @property
    def known(self) -> bool:
        return sum(map(len, self._ratios.values())) >= LEAST_HOURS

    def gain(self, utc_s: float) -> float:
        """Of that hour of the day; of all hours where that one is hardly known. [m2]"""
        return float(self._gains[int(utc_s // HOUR_S) % 24])

    def _draw(self) -> None:
        whole = [ratio for row in self._ratios.values() for ratio in row]
        for hour in range(24):
            own = self._ratios.get(hour, [])
            ratios = own if len(own) >= LEAST_HOURS else whole
            self._gains[hour] = np.quantile(ratios, GAIN_QUANTILE) if ratios else 0.0

    @property
    def now(self) -> float:
        """The present clearness, 1 for a sky as clear as the best ones. [-]"""
        prior = self._prior()
        if prior + self._potential <= 0:
            return self._usual
        return min(CLEAREST, (self._taken + prior * self._usual) / (self._potential + prior))

    def _prior(self) -> float:
        return PRIOR_MIN * PRIOR_SUN * float(self._gains.mean())

    def free(self, utc_s: float, sun_W: float, clear: float) -> None:
        """A minute in which the bank took all that the sun gave, under so much clear sky. [W/m2]"""
        hour = int(utc_s // HOUR_S)
        if hour != self._hour:
            self._end_hour()
            self._hour = hour
        self._sun, self._clear, self._minutes = self._sun + sun_W, self._clear + clear, self._minutes + 1
        if clear >= LEAST_SUN and self.known:
            fade = 0.5 ** (1 / HALF_LIFE_MIN)
            self._taken = self._taken * fade + sun_W
            self._potential = self._potential * fade + clear * self.gain(utc_s)
            self.since_free_s = 0.0

    def full(self) -> None:
        """A minute in which it did not."""
        if self.since_free_s is not None:
            self.since_free_s += 60.0

    def _end_hour(self) -> None:
        if self._hour is not None and self._minutes >= LEAST_COVER * 60:
            mean = self._clear / self._minutes
            if mean >= LEAST_SUN:
                row = self._ratios.setdefault(self._hour % 24, [])
                row.append(self._sun / self._clear)
                del row[:-KEPT_DAYS]
                self._draw()
        self._sun = self._clear = self._minutes = 0.0

    def end_day(self) -> None:
        """What was learned of today's sky becomes part of the usual."""
        if self._potential > self._prior():
            self._usual += DAY_WEIGHT * (self._taken / self._potential - self._usual)
        self._taken = self._potential = 0.0
        self.since_free_s = None

    def state(self) -> dict[str, Any]:
        return {
            "ratios": {str(h): [round(r * _PER_M2) for r in row] for h, row in self._ratios.items()},
            "usual": round(self._usual, 3),
            "today": [round(self._taken), round(self._potential), self.since_free_s],
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self._ratios = {int(h): [r / _PER_M2 for r in row] for h, row in state["ratios"].items()}
        self._draw()
        self._usual = float(state["usual"])
        taken, potential, since_s = state["today"]
        self._taken, self._potential = float(taken), float(potential)
        self.since_free_s = None if since_s is None else float(since_s)
