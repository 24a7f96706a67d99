"""The cautious edge of a forecast over the next night."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.house_left import HouseLeft
from monitor.estimation.readings import Floats
from monitor.records import Course

FORENOON_S = 6 * HOUR_S
"""From dawn to noon where the coming dusk is not known, and at most."""
DAWN_WITHIN_S = 36 * HOUR_S


class Ahead(NamedTuple):
    """The cautious course from now to the noon after the next dawn; below 0 it is what would be owed by
    then. [Wh]"""

    utc_s: Floats
    low_Wh: Floats
    dawn_s: float | None
    dawn_low_Wh: float
    """At dawn; the lowest where there is no dawn."""
    dawn_likely_Wh: float | None

    def at(self, utc_s: float) -> float:
        return float(np.interp(utc_s, self.utc_s, self.low_Wh))

    @property
    def lowest(self) -> tuple[float, float]:
        """When, and how low."""
        n = int(self.low_Wh.argmin())
        return float(self.utc_s[n]), float(self.low_Wh[n])

    def peak_Wh(self, from_s: float, until_s: float) -> float:
        """The highest of it between two moments."""
        inside = self.low_Wh[(self.utc_s >= from_s) & (self.utc_s <= until_s)]
        return max(self.at(from_s), float(inside.max(initial=0.0)))

    def first_below(self, Wh: float) -> float | None:
        """When it first falls to that, straight between the hours."""
        below = np.flatnonzero(self.low_Wh < Wh)
        if not below.size:
            return None
        n = int(below[0])
        if n == 0:
            return float(self.utc_s[0])
        part = (self.low_Wh[n - 1] - Wh) / (self.low_Wh[n - 1] - self.low_Wh[n])
        return float(self.utc_s[n - 1] + part * (self.utc_s[n] - self.utc_s[n - 1]))


def look_ahead(
    now_s: float, left: HouseLeft, course: Course, darkness: Sequence[tuple[float, float]]
) -> Ahead:
    """The part of the course that a plan looks at, shifted to what is left now."""
    dawn_s = next((end for _, end in darkness if now_s < end <= now_s + DAWN_WITHIN_S), None)
    until_s = now_s + DAY_S
    if dawn_s is not None:
        dusk_s = next((start for start, _ in darkness if start > dawn_s), dawn_s + 2 * FORENOON_S)
        until_s = min((dawn_s + dusk_s) / 2, dawn_s + 2 * FORENOON_S)
    times = np.asarray(course.utc_s, np.float64)
    shift_Wh = left.likely_Wh - float(np.interp(now_s, times, course.likely))
    ends = [now_s, until_s] if dawn_s is None else [now_s, dawn_s, until_s]
    moments = np.unique(np.concatenate([times[(times > now_s) & (times < until_s)], ends]))
    low = np.minimum(np.interp(moments, times, owed(course)) + shift_Wh, left.capacity_Wh)
    if dawn_s is None:
        return Ahead(moments, low, None, float(low.min()), None)
    likely = float(np.interp(dawn_s, times, course.likely)) + shift_Wh
    return Ahead(moments, low, dawn_s, float(np.interp(dawn_s, moments, low)), likely)


def owed(course: Course) -> Floats:
    """The cautious edge carried on below empty, where a course is cut off at 0. [Wh]

    While it stands at 0 it falls and rises as the likely one does, or where that is empty too, as the
    hopeful one.
    """
    low, likely, high = (np.asarray(edge, np.float64) for edge in (course.low, course.likely, course.high))
    steps = np.where(likely[1:] > 0.0, np.diff(likely), np.diff(high))
    for n in np.flatnonzero(low[1:] <= 0.0) + 1:
        low[n] = min(0.0, low[n - 1] + steps[n - 1])
    return low
