"""Two clocks, kept apart: elapsed time of a boot, which never jumps, and wall time, derived from it.

Durations, integrals and change detectors use elapsed time only. A boot is placed in UTC by
anchors: pairs of elapsed and wall time from a source that is trusted (network time, a GNSS
message on the bus, the crew). Until the first anchor a boot is "pending" and its wall time is
unknown, not guessed.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

MINUTE_S = 60
HOUR_S = 3600
DAY_S = 86400


class Interval(NamedTuple):
    """Half-open, in UTC seconds since 1970: start_s <= t < end_s. Every query uses this one."""

    start_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        return self.end_s - self.start_s

    def hours(self) -> Iterator["Interval"]:
        """The whole and part hours of UTC it is made of, in order."""
        start = self.start_s
        while start < self.end_s:
            end = min(self.end_s, (start // HOUR_S + 1) * HOUR_S)
            yield Interval(start, end)
            start = end


class Anchor(NamedTuple):
    """At `elapsed_s` of its boot it was `utc_s`, as told by `source`, within `sigma_s`."""

    elapsed_s: float
    utc_s: float
    source: str
    sigma_s: float


@dataclass(frozen=True, slots=True)
class Boot:
    """One run of the computer (or one stretch of a recording) and where it lies in UTC.

    Between anchors the mapping is linear, outside them it keeps the nearest one's difference:
    a computer's oscillator is within some 50 ppm, 4 s a day (common practice).
    """

    number: int
    anchors: tuple[Anchor, ...] = ()

    @property
    def placed(self) -> bool:
        return bool(self.anchors)

    def utc_s(self, elapsed_s: float) -> float | None:
        """Wall time at `elapsed_s`; None while the boot is pending."""
        return _along([(a.elapsed_s, a.utc_s) for a in self.anchors], elapsed_s)

    def elapsed_s(self, utc_s: float) -> float | None:
        """The inverse of `utc_s`."""
        return _along([(a.utc_s, a.elapsed_s) for a in self.anchors], utc_s)

    def with_anchor(self, anchor: Anchor) -> "Boot":
        """The same boot with one more anchor, which counts alone if it contradicts the earlier ones.

        A line between two contradicting anchors would bend time, so the newer word replaces them.
        """
        believed_s = self.utc_s(anchor.elapsed_s)
        if believed_s is not None and abs(anchor.utc_s - believed_s) > HOUR_S:
            return Boot(self.number, (anchor,))
        return Boot(self.number, tuple(sorted((*self.anchors, anchor))))


def _along(points: list[tuple[float, float]], x: float) -> float | None:
    if not points:
        return None
    at = bisect_right(points, (x, float("inf")))
    if at == 0 or at == len(points):
        nearest = points[0] if at == 0 else points[-1]
        return nearest[1] + (x - nearest[0])
    (x0, y0), (x1, y1) = points[at - 1], points[at]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0) if x1 > x0 else y1
