"""Amounts over the coming hours: what overflows, when the reserve is met, and how a course reads."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S
from monitor.records import Course

CAUTIOUS = 0.10
"""The share of futures that may be worse than the cautious figure."""

THIN = ((3, 72), (12, 240))
"""A kept course has a point every 3 hours until 72 hours, then every 12 until 240."""

Floats = npt.NDArray[np.float64]


class Stand(NamedTuple):
    """An amount at a moment of a course: cautious, likely and hopeful."""

    utc_s: float
    low: float
    likely: float
    high: float


def bounded(start: Floats, net: Floats, capacity: float) -> Floats:
    """Amounts by future and hour: `start` and the sums of `net`, with what would overflow thrown away."""
    free = np.concatenate([start[:, None], start[:, None] + np.cumsum(net, axis=1)], axis=1)
    lost = np.maximum.accumulate(free - capacity, axis=1)
    np.maximum(lost, 0.0, out=lost)
    return free - lost


def first_passage(amount: Floats, hours_to: Floats, reserve: float) -> Floats:
    """Hours until each future first stands at the reserve, straight within the hour; inf if never."""
    below = amount <= reserve
    at = below.argmax(axis=1)
    rows = np.arange(len(amount))
    before = np.maximum(at - 1, 0)
    fall = amount[rows, before] - amount[rows, at]
    part = np.divide(amount[rows, before] - reserve, fall, out=np.ones_like(fall), where=fall > 0)
    when = hours_to[before] + part * (hours_to[at] - hours_to[before])
    return np.where(below.any(axis=1), np.where(at == 0, 0.0, when), np.inf)


def course_of(utc_s: Floats, amount: Floats) -> Course:
    """The cautious, likely and hopeful amount at each moment, over all futures."""
    ordered = np.sort(np.maximum(amount.T, 0.0).astype(np.float32), axis=1)
    last = ordered.shape[1] - 1
    low, likely, high = (
        tuple(ordered[:, int(q * last)].tolist()) for q in (CAUTIOUS, 0.5, 1 - CAUTIOUS)
    )  # fmt: skip
    return Course(tuple(utc_s.tolist()), low, likely, high)


def stand_at(course: Course, utc_s: float) -> Stand | None:
    """How a course stands at a moment, straight between its hours; None outside of it."""
    if not course.utc_s or not course.utc_s[0] <= utc_s <= course.utc_s[-1]:
        return None
    low, likely, high = (
        float(np.interp(utc_s, course.utc_s, edge)) for edge in (course.low, course.likely, course.high)
    )
    return Stand(utc_s, low, likely, high)


def lowest(course: Course, until_utc_s: float) -> Stand | None:
    """Where the likely amount stands lowest before `until_utc_s`; None where there is no course."""
    hours = [n for n, utc_s in enumerate(course.utc_s) if utc_s <= until_utc_s]
    if not hours:
        return None
    at = min(hours, key=lambda n: course.likely[n])
    return Stand(course.utc_s[at], course.low[at], course.likely[at], course.high[at])


def thinned(course: Course) -> dict[str, Any]:
    """A course as JSON values of some 700 bytes, to be kept beside what came of it; see `redrawn`."""
    moments = _moments(course.utc_s[0], THIN)
    rows = {
        name: np.interp(moments, course.utc_s, edge).round().astype(int).tolist()
        for name, edge in (("low", course.low), ("likely", course.likely), ("high", course.high))
    }
    return {"hours": [list(part) for part in THIN], **rows}


def redrawn(kept: Mapping[str, Any], made_at_utc_s: float) -> Course:
    """The course that was kept by `thinned` when the forecast was made."""
    moments = tuple(_moments(made_at_utc_s, kept["hours"]))
    low, likely, high = (tuple(float(x) for x in kept[edge]) for edge in ("low", "likely", "high"))
    return Course(moments, low, likely, high)


def _moments(from_utc_s: float, parts: Iterable[Sequence[int]]) -> list[float]:
    hours = [0]
    for every, until in parts:
        hours += range(hours[-1] + every, until + 1, every)
    return [from_utc_s + hour * HOUR_S for hour in hours]
