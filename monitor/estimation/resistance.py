"""A bank's resistance by its own loads: how far the voltage steps when the current steps, R = dV / dI.

Only steps of the bank's own current count, with the bank giving on both sides of the step: while a
charger holds the voltage it hides the resistance, and what it lets go of is no step.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.bands import BAND_90
from monitor.estimation.readings import Floats, standing_at

LONGEST_STEP_S = 5.0
"""Slower than this is no step: the chemistry follows."""
_SIDE = 3
"""Readings that are averaged on each side."""
_UNREST = 0.4
"""Of the step: a side that wanders by more is no level."""
_MOST_OHM = 0.3
LEARN_S = 4 * 7 * DAY_S
"""The first weeks are the bank's own baseline,"""
FEWEST_STEPS = 12
"""once there were so many steps."""
_KEPT = 30
_KEPT_WEEKS = 40
_WEEK_S = 7 * DAY_S
SEASON_SD = 0.08
"""A cold battery shows some tenth more than a warm one. From memory."""


def step_ohms(
    current_at: Floats, amperes: Floats, voltage_at: Floats, volts: Floats, least_A: float, below_V: float
) -> list[float]:
    """R of each quick step of the current by `least_A` or more, with all readings under `below_V`. [ohm]

    The reading right after the step is left out: voltage and current need not be of one instant.
    """
    if amperes.size < 2 * _SIDE + 1 or not volts.size:
        return []
    beside = standing_at(current_at, voltage_at, volts)
    found = []
    for k in np.flatnonzero(np.abs(np.diff(amperes)) >= least_A).tolist():
        before, after = slice(k + 1 - _SIDE, k + 1), slice(k + 2, k + 2 + _SIDE)
        if k + 1 < _SIDE or after.stop > amperes.size:
            continue
        if current_at[after.start] - current_at[k] > LONGEST_STEP_S:
            continue
        i0, i1, v0, v1 = amperes[before], amperes[after], beside[before], beside[after]
        change_A = float(i1.mean() - i0.mean())
        restless = max(np.ptp(i0), np.ptp(i1)) > _UNREST * abs(change_A)
        held = max(v0.max(), v1.max()) >= below_V or max(i0.max(), i1.max()) > 0
        if restless or held or abs(change_A) < least_A:
            continue
        ohms = float(v1.mean() - v0.mean()) / change_A
        if 0 < ohms < _MOST_OHM:
            found.append(ohms)
    return found


class Resistance(NamedTuple):
    """A median with its 90 % band, of so many steps. [ohm]"""

    ohms: float
    low: float
    high: float
    steps: int


class ResistanceTrend:
    """Keeps the logarithms of the newest steps, of the first weeks' and of each week's median."""

    def __init__(self) -> None:
        self._recent: list[float] = []
        self._first: list[float] = []
        self._weeks: list[tuple[int, float]] = []
        self._watched_s = 0.0

    def go_on(self, seconds: float) -> None:
        """Time in which steps could have been seen or not: weeks are weeks of watching."""
        self._watched_s += seconds

    def add(self, ohms: list[float]) -> None:
        if not ohms:
            return
        logs = np.round(np.log(ohms), 3).tolist()
        self._recent = (self._recent + logs)[-_KEPT:]
        if self._learning:
            self._first = (self._first + logs)[: 2 * _KEPT]
        week = int(self._watched_s // _WEEK_S)
        if self._weeks and self._weeks[-1][0] == week:
            self._weeks.pop()
        self._weeks = [*self._weeks, (week, round(float(np.median(self._recent)), 3))][-_KEPT_WEEKS:]

    @property
    def _learning(self) -> bool:
        return self._watched_s < LEARN_S or len(self._first) < FEWEST_STEPS

    def now(self) -> Resistance | None:
        """The newest steps' median; None while there are too few."""
        if len(self._recent) < FEWEST_STEPS:
            return None
        middle, sd = _median(self._recent)
        low, high = np.exp(middle - BAND_90 * sd), np.exp(middle + BAND_90 * sd)
        return Resistance(float(np.exp(middle)), float(low), float(high), len(self._recent))

    def rise(self) -> tuple[float, float] | None:
        """The newest over the bank's own baseline: likely, and the low edge of its 90 % band.

        None until the baseline is learned.
        """
        if self._learning or len(self._recent) < FEWEST_STEPS:
            return None
        (now, now_sd), (base, base_sd) = _median(self._recent), _median(self._first)
        sd = float(np.sqrt(now_sd**2 + base_sd**2 + SEASON_SD**2))
        return float(np.exp(now - base)), float(np.exp(now - base - BAND_90 * sd))

    def yearly(self) -> float | None:
        """By what factor a year it rises: the median slope of the weeks' logarithms (Theil-Sen)."""
        if len(self._weeks) < 4:
            return None
        weeks, logs = (np.array(x, np.float64) for x in zip(*self._weeks, strict=True))
        first, second = np.triu_indices(len(weeks), 1)
        slopes = (logs[second] - logs[first]) / (weeks[second] - weeks[first])
        return float(np.exp(np.median(slopes) * 365.25 / 7))

    def state(self) -> dict[str, Any]:
        return {
            "recent": self._recent,
            "first": self._first,
            "weeks": [list(w) for w in self._weeks],
            "watched_h": round(self._watched_s / HOUR_S, 2),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self._recent, self._first = list(state["recent"]), list(state["first"])
        self._weeks = [(int(week), float(log)) for week, log in state["weeks"]]
        self._watched_s = float(state["watched_h"]) * HOUR_S


def _median(logs: list[float]) -> tuple[float, float]:
    """The median and its standard deviation, by the median deviation."""
    middle = float(np.median(logs))
    spread = 1.4826 * float(np.median(np.abs(np.array(logs) - middle)))
    return middle, max(0.01, 1.2533 * spread / len(logs) ** 0.5)
