"""The two fresh water tanks: how full they are, and what a sender says of it."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

TankRates = Mapping[tuple[str, str], float]
"""By what happens ("fill", "make", "before the pump") and to which tank. [L/s]"""
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

    def tank(self, name: str) -> Tank:
        """The tank of that name."""
        return next(tank for tank in self.tanks if tank.name == name)

    def steady_s(self, seconds: float, pumped: float, rates: TankRates) -> float:
        """How long of these seconds no tank runs dry at that rate [L/s], nor one that is filled runs over."""
        if pumped:
            reach_s = (self.chosen.litres - self.chosen.unusable_L) / pumped
            seconds = min(seconds, reach_s) if reach_s > 1e-4 else seconds
        for (what, name), rate in rates.items():
            if rate and what != "before the pump":
                room_s = self.tank(name).room_L / rate
                seconds = min(seconds, room_s) if room_s > 1e-3 else seconds
        return seconds

    def fill_and_seep(self, seconds: float, rates: TankRates) -> tuple[float, float]:
        """Hose, watermaker and leaking outlets, for so long. Returns litres seeped away and litres made."""
        seeped = made = 0.0
        for (what, name), rate in rates.items():
            if rate and what == "before the pump":
                seeped += self.tank(name).draw(rate * seconds)
            elif rate:
                kept = self.tank(name).fill(rate * seconds)
                made += kept if what == "make" else 0.0
        return seeped, made

    def turn(self, below_L: float = 12.0) -> str | None:
        """Go over to the fullest tank if the chosen one has less than this; says to which."""
        fullest = max(self.tanks, key=lambda tank: tank.litres - tank.unusable_L)
        if self.chosen.litres - self.chosen.unusable_L >= below_L or fullest is self.chosen:
            return None
        self.chosen = fullest
        return fullest.name
