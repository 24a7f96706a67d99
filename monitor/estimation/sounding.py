"""From a sender's reading to litres, for a tank of any shape."""

from bisect import bisect_right
from math import acos, pi, sqrt

from monitor.settings import Tank

Table = list[tuple[float, float]]
"""Pairs of reading [%] and litres, both rising."""


class Sounding:
    """A tank's table: straight between its pairs, level beyond them; a straight line by default."""

    def __init__(self, tank: Tank) -> None:
        self._table: Table = list(tank.sounding) or [(0.0, 0.0), (100.0, tank.capacity_L)]
        self._readings = [reading for reading, _ in self._table]

    def litres(self, reading_pct: float) -> float:
        """All the water in the tank, the unusable bottom included. [L]"""
        at = bisect_right(self._readings, reading_pct)
        if at == 0 or at == len(self._table):
            return self._table[0 if at == 0 else -1][1]
        (r0, v0), (r1, v1) = self._table[at - 1], self._table[at]
        return v0 + (v1 - v0) * (reading_pct - r0) / (r1 - r0)


def cylinder_share(depth_share: float) -> float:
    """Share of a horizontal cylinder's volume below a share of its diameter.

    V = L (r² acos((r-h)/r) - (r-h) sqrt(2rh - h²)), over L pi r², with h = 2 r `depth_share`.
    Valid for flat ends and 0 <= depth_share <= 1. Source: the circular segment's area.
    """
    if not 0.0 <= depth_share <= 1.0:
        raise ValueError(f"a depth lies between 0 and 1 of the diameter, got {depth_share}")
    y = 1.0 - 2.0 * depth_share
    return (acos(y) - y * sqrt(1.0 - y * y)) / pi


def horizontal_cylinder(capacity_L: float, pairs: int = 21) -> Table:
    """The table of a cylinder lying on its side, its sender telling the depth."""
    shares = [n / (pairs - 1) for n in range(pairs)]
    return [(100.0 * h, capacity_L * cylinder_share(h)) for h in shares]


def wedge(capacity_L: float, pairs: int = 21) -> Table:
    """The table of a V-shaped tank that stands on its edge: V = capacity x depth²."""
    shares = [n / (pairs - 1) for n in range(pairs)]
    return [(100.0 * h, capacity_L * h * h) for h in shares]
