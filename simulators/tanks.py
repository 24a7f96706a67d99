"""The two fresh water tanks: how full they are, and what a sender says of it."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

Sounding = tuple[tuple[float, float], ...]
"""Pairs of the sender's reading [%] and litres, both rising."""


def reading_pct(sounding: Sounding, litres: float) -> float:
    """What the sender says when the tank lies still, by straight lines between the pairs."""
    volumes = [v for _, v in sounding]
    at = min(max(bisect_right(volumes, litres), 1), len(sounding) - 1)
    (r0, v0), (r1, v1) = sounding[at - 1], sounding[at]
    return r0 + (r1 - r0) * (litres - v0) / (v1 - v0)


@dataclass(slots=True)
class Tank:
    """`offset_m` is how far the sender stands to starboard of the middle of a tank `depth_m` deep."""

    name: str
    capacity_L: float
    unusable_L: float
    sounding: Sounding
    litres: float
    offset_m: float = 0.12
    depth_m: float = 0.55
    filled_L: float = 0.0
    """Poured in and kept, since the beginning, and"""
    spilt_L: float = 0.0
    """what ran over."""

    @property
    def room_L(self) -> float:
        return self.capacity_L - self.litres

    def fill(self, litres: float) -> float:
        """Pour in what fits and return it; the rest runs over."""
        fits = max(0.0, min(litres, self.capacity_L - self.litres))
        self.litres += fits
        self.filled_L += fits
        self.spilt_L += litres - fits
        return fits

    def take_back(self, litres: float) -> None:
        """What comes back through the pump; there is always room for what the pipe held."""
        self.litres += litres

    def draw(self, litres: float) -> float:
        """Take what the pick-up reaches and return it."""
        reached = max(0.0, min(litres, self.litres - self.unusable_L))
        self.litres -= reached
        return reached


@dataclass(slots=True)
class Manifold:
    """The pump draws from one tank at a time; the crew turns the cock when that one is nearly dry."""

    tanks: Sequence[Tank]
    chosen: Tank = field(init=False)

    def __post_init__(self) -> None:
        self.chosen = max(self.tanks, key=lambda tank: tank.litres)

    @property
    def litres(self) -> float:
        return sum(tank.litres for tank in self.tanks)

    def turn(self, below_L: float = 12.0) -> str | None:
        """Go over to the fullest tank if the chosen one has less than this; says to which."""
        fullest = max(self.tanks, key=lambda tank: tank.litres - tank.unusable_L)
        if self.chosen.litres - self.chosen.unusable_L >= below_L or fullest is self.chosen:
            return None
        self.chosen = fullest
        return fullest.name
