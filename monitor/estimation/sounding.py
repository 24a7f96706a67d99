"""From a sender's reading to litres, for a tank of any shape."""

from bisect import bisect_right
from collections.abc import Sequence
from math import acos, pi, sqrt

from monitor.settings import Tank

Table = list[tuple[float, float]]
"""Pairs of reading [%] and litres, both rising."""


class Sounding:
    """A table of readings: straight between its pairs, level beyond them."""

    def __init__(self, table: Sequence[tuple[float, float]]) -> None:
        self.table: Table = list(table)
        self._readings = [reading for reading, _ in self.table]

    def litres(self, reading_pct: float) -> float:
        """All the water in the tank, the unusable bottom included. [L]"""
        at = bisect_right(self._readings, reading_pct)
        if at == 0 or at == len(self.table):
            return self.table[0 if at == 0 else -1][1]
        (r0, v0), (r1, v1) = self.table[at - 1], self.table[at]
        return v0 + (v1 - v0) * (reading_pct - r0) / (r1 - r0)


def table_of(tank: Tank) -> Table:
    """The tank's own table; where none is given, that of its shape, the reading taken for the depth."""
    if tank.sounding:
        return list(tank.sounding)
    if tank.shape == "lying cylinder":
        return lying_cylinder(tank.capacity_L)
    if tank.shape == "wedge":
        return wedge(tank.capacity_L, tank.wedge_bottom)
    return [(0.0, 0.0), (100.0, tank.capacity_L)]


def cylinder_share(depth_share: float) -> float:
    """Share of a horizontal cylinder's volume below a share of its diameter.

    V = L (r² acos((r-h)/r) - (r-h) sqrt(2rh - h²)), over L pi r², with h = 2 r `depth_share`.
    Valid for flat ends and 0 <= depth_share <= 1. Source: the circular segment's area.
    """
    y = 1.0 - 2.0 * _depth(depth_share)
    return (acos(y) - y * sqrt(1.0 - y * y)) / pi


def wedge_share(depth_share: float, bottom: float = 0.0) -> float:
    """Share of a wedge's volume below a share of its depth; `bottom` is its breadth there over that at
    the top.

    The breadth grows evenly, b(h) = bottom + (1 - bottom) h, so V(h)/V(1) = (2 bottom h + (1 - bottom) h²)
    / (1 + bottom): h² of a V, h of a box. Valid for level ends and 0 <= depth_share, bottom <= 1.
    Source: the trapezium's area.
    """
    h = _depth(depth_share)
    return (2.0 * bottom * h + (1.0 - bottom) * h * h) / (1.0 + bottom)


def lying_cylinder(capacity_L: float, pairs: int = 41) -> Table:
    """The table of a cylinder lying on its side, its sender telling the depth."""
    return [(100.0 * h, capacity_L * cylinder_share(h)) for h in _depths(pairs)]


def wedge(capacity_L: float, bottom: float = 0.0, pairs: int = 41) -> Table:
    """The table of a tank that narrows evenly towards its bottom, as one that lies in the bilge does."""
    return [(100.0 * h, capacity_L * wedge_share(h, bottom)) for h in _depths(pairs)]


def _depths(pairs: int) -> list[float]:
    return [n / (pairs - 1) for n in range(pairs)]


def _depth(share: float) -> float:
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"a depth lies between 0 and 1 of the whole, got {share}")
    return share
