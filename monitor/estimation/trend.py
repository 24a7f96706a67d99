"""How some figures go from minute to minute: value, slope and bend now, and when a limit is met."""

import math
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.bands import BAND_90

Floats = npt.NDArray[np.float64]

BENT_FROM = 6
"""So many minutes are needed to see a bend."""


class Fit(NamedTuple):
    """y = value + slope x + bend x², x in minutes from now."""

    value: float
    slope: float
    bend: float
    slope_sd: float
    bend_sd: float

    def at(self, minutes: float) -> float:
        return self.value + self.slope * minutes + self.bend * minutes * minutes


@cache
def _design(count: int) -> tuple[Floats, Floats, Floats]:
    """The design of `count` minutes' means, its pseudo-inverse, and the coefficients' spread."""
    x = np.arange(count, dtype=np.float64) - (count - 0.5)
    columns = 3 if count >= BENT_FROM else 2
    design = np.asarray(np.vander(x, columns, increasing=True), np.float64)
    inverse = np.asarray(np.linalg.pinv(design), np.float64)
    return design, inverse, np.asarray(np.sqrt((inverse**2).sum(axis=1)))


def fit(means: npt.ArrayLike) -> Fit | None:
    """The least-squares parabola (a line while it is short) through equally spaced means of a minute.

    None for less than three minutes, or where one of them is unknown.
    """
    minutes = np.asarray(means, np.float64)
    count = minutes.size
    if count < 3 or not np.isfinite(minutes).all():
        return None
    design, inverse, spread = _design(count)
    found = inverse @ minutes
    left = minutes - design @ found
    sd = math.sqrt(float(left @ left) / max(1, count - found.size))
    bend, bend_sd = (float(found[2]), sd * float(spread[2])) if found.size == 3 else (0.0, 0.0)
    return Fit(float(found[0]), float(found[1]), bend, sd * float(spread[1]), bend_sd)


class When(NamedTuple):
    """In how many minutes: likely, cautious (sooner), and at the latest; infinite for never."""

    likely: float
    low: float
    high: float


def meets(line: Fit, limit: float, upwards: bool) -> When:
    """When the line comes to a limit from below (`upwards`) or from above; now where it is beyond.

    A bend towards the limit is followed, as the knee of a cell steepens. With a bend away from it the
    line may never come there; the cautious figure then goes straight on.
    """
    sign = 1.0 if upwards else -1.0
    gap, slope, bend = sign * (limit - line.value), sign * line.slope, sign * line.bend
    if gap <= 0:
        return When(0.0, 0.0, 0.0)
    likely = _reaches(gap, slope, bend)
    low = min(
        _reaches(gap, slope + BAND_90 * line.slope_sd, max(0.0, bend)),
        _reaches(gap, slope, max(0.0, bend + BAND_90 * line.bend_sd)),
        likely,
    )
    return When(likely, low, max(likely, _reaches(gap, slope, min(0.0, bend))))


def _reaches(gap: float, slope: float, bend: float) -> float:
    """The first x > 0 with slope x + bend x² = gap; infinite where there is none."""
    root = slope * slope + 4 * bend * gap
    if root < 0 or (slope <= 0 and bend <= 0):
        return math.inf
    down = slope + math.sqrt(root)
    return 2 * gap / down if down > 0 else math.inf
