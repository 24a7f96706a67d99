"""Curves as SVG path data in a unit square (y downwards), drawn stretched with a constant pen."""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import inf

from monitor.records import Course

Point = tuple[float, float]


def path(points: Iterable[Point | None]) -> str:
    """A broken line: None lifts the pen, so a gap in the record is a gap on the paper."""
    out = []
    pen = "M"
    for point in points:
        if point is None:
            pen = "M"
            continue
        out.append(f"{pen}{_short(point[0], 4)} {_short(point[1], 3)}")
        pen = "L"
    return "".join(out)


def thinned(points: Sequence[Point], off: float = 0.003) -> list[Point]:
    """Without the points that lie nearer than `off`, up or down, to the straight line that leaves them out.

    From each kept point a cone is held open that every point since has passed through; the last that can be
    seen through it is the next one kept.
    """
    if len(points) < 3:
        return list(points)
    kept, low, high = [points[0]], -inf, inf
    for before, (x, y) in pairwise(points):
        x0, y0 = kept[-1]
        slope = (y - y0) / (x - x0) if x > x0 else inf
        if not low <= slope <= high and before != kept[-1]:
            kept.append(before)
            x0, y0, low, high = *before, -inf, inf
        if x > x0:
            low, high = max(low, (y - off - y0) / (x - x0)), min(high, (y + off - y0) / (x - x0))
    return [*kept, points[-1]]


def area(upper: Sequence[Point], lower: Sequence[Point]) -> str:
    """The closed band between two lines."""
    return path([*upper, *reversed(lower)]) + "Z" if upper else ""


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return text.removeprefix("0") if text.startswith("0.") else text


def height(top: float, bottom: float = 0.0) -> Callable[[float], float]:
    """From an amount to y: `top` is drawn at 0, `bottom` at 1; amounts beyond lie on the edge."""
    reach = (top - bottom) or 1.0
    return lambda amount: min(1.0, max(0.0, (top - amount) / reach))


def at(course: Course, utc_s: float) -> tuple[float, float, float] | None:
    """Low, likely and high of a course at a moment, straight between its points; None outside."""
    t = course.utc_s
    if not t or not t[0] <= utc_s <= t[-1]:
        return None
    n = max(1, bisect_left(t, utc_s))
    if n >= len(t):
        return course.low[-1], course.likely[-1], course.high[-1]
    part = (utc_s - t[n - 1]) / (t[n] - t[n - 1]) if t[n] > t[n - 1] else 1.0
    lines = (course.low, course.likely, course.high)
    low, likely, high = (v[n - 1] + (v[n] - v[n - 1]) * part for v in lines)
    return low, likely, high
