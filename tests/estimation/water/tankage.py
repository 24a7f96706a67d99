"""An independent tank: a shape cut into thin slices, a float that reads its depth, a pump that draws."""

from array import array
from collections.abc import Callable
from math import sqrt
from random import Random

from monitor.records import Column

Breadth = Callable[[float], float]
"""Breadth of the water's surface at a share of the depth, in any unit."""
SLICES = 2000


def box(depth: float) -> float:
    return 1.0


def cylinder(depth: float) -> float:
    """The chord of a circle at that height."""
    return 2.0 * sqrt(max(0.0, 0.25 - (depth - 0.5) ** 2))


def vee(depth: float) -> float:
    return depth


def hull(depth: float) -> float:
    """A third as broad at the bottom as at the top."""
    return (1.0 + 2.0 * depth) / 3.0


class Shape:
    """Volume by adding up slices: no formula of the project."""

    def __init__(self, capacity_L: float, breadth: Breadth) -> None:
        self.capacity_L = capacity_L
        total, below = 0.0, [0.0]
        for n in range(SLICES):
            total += breadth((n + 0.5) / SLICES)
            below.append(total)
        self.below_L = [capacity_L * b / total for b in below]

    def litres(self, reading_pct: float) -> float:
        at = reading_pct / 100 * SLICES
        n = min(max(0, int(at)), SLICES - 1)
        return self.below_L[n] + (at - n) * (self.below_L[n + 1] - self.below_L[n])

    def reading_pct(self, litres: float) -> float:
        low, high = 0.0, 100.0
        while high - low > 1e-4:
            middle = (low + high) / 2
            low, high = (middle, high) if self.litres(middle) < litres else (low, middle)
        return (low + high) / 2


def minute(n: int, *readings: float) -> Column:
    """Readings spread over minute `n`."""
    times = [n * 60.0 + k * 60.0 / len(readings) for k in range(len(readings))]
    return Column(array("d", times), array("d", readings))


def noisy(rng: Random, n: int, reading_pct: float, sd_pct: float = 0.2) -> Column:
    """A minute of readings, six of them, that waves move."""
    return minute(n, *[rng.gauss(reading_pct, sd_pct) for _ in range(6)])
