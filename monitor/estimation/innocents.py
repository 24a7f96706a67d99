"""How often this boat's pump refills once with nobody drawing and nothing leaking."""

from dataclasses import dataclass, field
from math import exp, log, sqrt

from monitor.clock import HOUR_S
from monitor.settings import Pump

VISITS_PER_H = 0.15
"""Draws asleep (common practice: 1.2 in a night of 8 h). One that ends just after it started the pump
looks like a refill: a share of tolerance over refill of them."""
AWAKE_FACTOR = 12.0
"""How many more there are by day, half an hour after the last draw."""
PRIOR_REFILLS = 2.0
"""So many refills' worth of nights the guess weighs."""
MOST, LEAST_ASLEEP, LEAST_AWAKE = 2.5, 0.25, 1.0
"""How far from the guess the boat's own nights may move it: a leak that was there from the start is
still seen; by day they come in clusters."""
HELD_NIGHTS = 3
"""The latest nights teach nothing yet: what a leak's first refills teach would hide it."""
HALF_LIFE_H = 600.0
"""Quiet hours until a night counts half: some two months."""
DRAWS_ASLEEP_PER_H, DRAWS_AWAKE_PER_H = 0.2, 1.5
"""Draws of all sizes, asleep (common practice: 1.5 a night) and by day, half an hour after the last."""


def small_per_h(drawdown_L: float, asleep: bool) -> float:
    """Draws too small to start the pump, of draws of 0.1 to 1.2 L anywhere alike. [1/h]"""
    share = min(0.9, max(0.1, (drawdown_L - 0.05) / 1.1) + 0.1)
    return share * (DRAWS_ASLEEP_PER_H if asleep else DRAWS_AWAKE_PER_H)


@dataclass
class Quiet:
    """Hours with nobody drawing and the lone refills in them: by day, and asleep."""

    refills: list[float] = field(default_factory=lambda: [0.0, 0.0])
    hours: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def take(self, later: "Quiet") -> None:
        """What was before counts less and less."""
        for n in (False, True):
            fade = exp(-log(2.0) * later.hours[n] / HALF_LIFE_H)
            self.hours[n] = self.hours[n] * fade + later.hours[n]
            self.refills[n] = self.refills[n] * fade + later.refills[n]

    def state(self) -> list[list[float]]:
        return [[round(n, 3) for n in self.refills], [round(h, 2) for h in self.hours]]


class Innocents:
    """Learns the rate from lone refills in the boat's quiet hours, those asleep and those awake apart;
    the latest `HELD_NIGHTS` nights and days wait until nothing was found in them."""

    def __init__(self) -> None:
        self._known = Quiet()
        self._held: list[Quiet] = []
        self._slept = False

    def quiet(self, asleep: bool, hours: float, refills: float = 0.0) -> None:
        """So many hours with nobody drawing, and the lone refills in them."""
        if not self._held or (asleep and not self._slept):
            self._held.append(Quiet())
            if len(self._held) > HELD_NIGHTS:
                self._known.take(self._held.pop(0))
        self._slept = asleep
        self._held[-1].hours[asleep] += hours
        self._held[-1].refills[asleep] += refills

    def per_h(self, share: float, asleep: bool) -> float:
        """Lone refills by chance, where a run within `share` of a refill's length counts as one. [1/h]"""
        guess = VISITS_PER_H * share * (1.0 if asleep else AWAKE_FACTOR)
        known = self._known
        learned = (PRIOR_REFILLS + known.refills[asleep]) / (PRIOR_REFILLS / guess + known.hours[asleep])
        least = LEAST_ASLEEP if asleep else LEAST_AWAKE
        return min(MOST * guess, max(least * guess, learned))

    def state(self) -> list[list[list[float]]]:
        return [quiet.state() for quiet in (self._known, *self._held)]

    def restore(self, state: list[list[list[float]]]) -> None:
        self._known, *self._held = (Quiet(*map(list, pair)) for pair in state)


class DeclaredDraws:
    """What the settings say takes water by itself: an ice maker, a flush."""

    STARTS_IT = 1.0
    """One that takes this many drawdowns always starts the pump, and for longer than a refill."""
    UNTIMED_PER_H = 0.3
    """How often one comes of which no period is given."""
    ABOUT = 0.12
    """How exactly a flush takes its litres."""

    def __init__(self, pump: Pump) -> None:
        self._draws = pump.draws

    def taken_L(self, rest_s: float, drawdown_L: float) -> tuple[float, float]:
        """What the small ones took in a rest: likely, and its standard deviation. [L]"""
        likely = variance = 0.0
        for draw in self._draws:
            if draw.every_h is not None and draw.litres < self.STARTS_IT * drawdown_L:
                count = rest_s / HOUR_S / draw.every_h
                likely += draw.litres * count
                variance += draw.litres**2 * min(count, 0.25 + 0.05 * count)
        return likely, sqrt(variance)

    def untimed_per_h(self, drawdown_L: float) -> float:
        """How often a small one of unknown period comes. [1/h]"""
        small = [d for d in self._draws if d.every_h is None and d.litres < self.STARTS_IT * drawdown_L]
        return self.UNTIMED_PER_H * len(small)

    def explain(self, pumped_L: float, drawdown_L: float) -> bool:
        """Whether a run of so much is what one of the big ones takes: nobody is up."""
        return any(
            (1 - self.ABOUT) * d.litres <= pumped_L <= (1 + self.ABOUT) * d.litres + drawdown_L
            for d in self._draws
            if d.litres >= self.STARTS_IT * drawdown_L
        )
