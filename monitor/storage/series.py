"""Points on the time axis, joined from many blocks and thinned to what a plot can show."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from monitor.clock import Interval
from monitor.storage.codec import Floats

_NONE = np.zeros(0)


class Hour(NamedTuple):
    """A channel's hour at full rate. `low`, `high`, `mean`, `first` and `last` are NaN where it said
    nothing; `integral` (unit x s) over `covered_s`, `mean` is the one by the other."""

    start_s: float
    n: int
    low: float
    high: float
    mean: float
    integral: float
    covered_s: float
    first: float
    last: float


class Points(NamedTuple):
    """Parallel arrays; `weight` is what the mean stands for."""

    utc_s: Floats
    low: Floats
    mean: Floats
    high: Floats
    weight: Floats

    def __bool__(self) -> bool:
        return len(self.utc_s) > 0


class Series(NamedTuple):
    """Parallel arrays for a plot; `level` is "full", "minute" or "hour". NaN: "not available"."""

    utc_s: Floats
    low: Floats
    mean: Floats
    high: Floats
    level: str


def joined(parts: Iterable[Points]) -> Points:
    """All of them in order of time."""
    whole = [Points(_NONE, _NONE, _NONE, _NONE, _NONE), *parts]
    points = Points(*(np.concatenate(column) for column in zip(*whole, strict=True)))
    if (np.diff(points.utc_s) < 0).any():
        order = np.argsort(points.utc_s, kind="stable")
        points = Points(*(column[order] for column in points))
    return points


def reduced(points: Points, during: Interval, limit: int, level: str) -> Series:
    """At most `limit` points: equal stretches of the interval, each with its own low, mean and high."""
    if len(points.utc_s) <= limit:
        return Series(*points[:4], level)
    stretch = np.floor((points.utc_s - during.start_s) * (limit / during.seconds)).clip(0, limit - 1)
    starts = np.flatnonzero(np.diff(stretch, prepend=-1.0))
    known = ~np.isnan(points.mean)
    weight = np.where(known, np.maximum(points.weight, 1e-9), 0.0)
    total = np.add.reduceat(weight, starts)
    sum_ = np.add.reduceat(np.where(known, points.mean, 0.0) * weight, starts)
    sizes = np.diff(starts, append=len(stretch))
    return Series(
        np.add.reduceat(points.utc_s, starts) / sizes,
        np.fmin.reduceat(points.low, starts),
        np.where(total > 0, sum_ / np.where(total > 0, total, 1.0), np.nan),
        np.fmax.reduceat(points.high, starts),
        level,
    )
