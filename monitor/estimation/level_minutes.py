"""A sender's readings, minute by minute, and the level they make."""

from collections import deque
from collections.abc import Sequence
from statistics import fmean

from monitor.records import Column

WINDOW = 15
"""How many minute medians make one level."""
LATEST = 3
"""So many medians in a row beside the level are the new level."""
TRIMMED = 0.2
"""Share of the medians left out at each end."""


def heard(column: Column | None) -> list[tuple[float, float]]:
    """Times and values of the readings that were available."""
    if column is None:
        return []
    return [(t, v) for t, v in zip(column.times_s, column.values, strict=True) if v == v]


def pieces(level: Column, piece_s: float) -> list[tuple[float, list[float]]]:
    """The readings that were available, by the minute they fall in."""
    found: dict[float, list[float]] = {}
    for at_s, value in heard(level):
        found.setdefault(at_s // piece_s * piece_s, []).append(value)
    return list(found.items())


class Level:
    """The trimmed mean of the latest minutes' medians [%]; None before there is one."""

    def __init__(self) -> None:
        self.pct: float | None = None
        self._medians: deque[float] = deque(maxlen=WINDOW)

    def add(self, median_pct: float, moved_pct: float, *, anew: bool) -> float:
        """A believed median. `moved_pct`: what is no noise; `anew`: the tank is being filled."""
        if anew:
            self._medians.clear()
        self._medians.append(median_pct)
        if self._moved_on(moved_pct):
            self._medians = deque(list(self._medians)[-LATEST:], maxlen=WINDOW)
        self.pct = _trimmed_mean(self._medians)
        return self.pct

    def _moved_on(self, moved_pct: float) -> bool:
        """Whether the latest medians all lie to one side of the level: much was drawn at once."""
        if self.pct is None or len(self._medians) <= LATEST:
            return False
        off = [m - self.pct for m in list(self._medians)[-LATEST:]]
        return min(off) > moved_pct or max(off) < -moved_pct


def _trimmed_mean(values: Sequence[float]) -> float:
    cut = int(TRIMMED * len(values))
    return fmean(sorted(values)[cut : len(values) - cut])
