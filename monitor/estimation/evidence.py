"""Evidence in lone refills: for each of many leaks, is it likelier than no leak?

From a full accumulator a leak of `rate` drawdowns an hour has used up u = rate T + v after a rest
T, v being what heaters and declared draws took (as a share of the drawdown, with its standard
deviation). The pump starts on its own when u comes to 1, within sigma, or before where somebody
drew a little meanwhile (chance p), anywhere alike. With l_0 innocent lone refills an hour,

    g(T) = du/dt [(1 - p) n(u) + p]        the density of a start of its own, n peaked at 1
    S(T) = (1 - p) N(u) + p - m u          the chance that there was none
    lone refill:     ln (l_0 S + g) / (l_0 S_0 + g_0)
    ended by a draw: ln S / S_0

where m is the mean of p over the rest, draws coming at random: m = 1 - p / (-ln (1 - p)), and the
index 0 stands for the same without a leak. These are added into a cumulative sum for
each leak that never falls below 0.
"""

from collections.abc import Mapping, Sequence
from math import exp, log1p, pi, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

RATIO = 1.08
STARTS_PER_H: Floats = np.array([0.04 * RATIO**n for n in range(78)])
"""The rates that are looked for, 0.04 to 15 starts an hour."""
SIGMA = 0.048
"""Scatter of a pressure switch, 3 %, of a drip, and of rates that stand 8 % apart."""
WIDE, FROM, TO = 0.2, 0.7, 1.25
"""This share of starts is only told to lie so far about its time: drips change, seas work the hull."""
FLOOR = 1e-5


class Rest(NamedTuple):
    """What is known of the time since the pump stopped."""

    hours: float
    taken: float = 0.0
    """By heaters and declared draws, as a share of the drawdown,"""
    taken_sd: float = 0.0
    """its standard deviation,"""
    taken_per_h: float = 0.0
    """and how fast it grows."""
    drawn: float = 0.0
    """How likely it is that somebody drew a little."""

    @property
    def mean_drawn(self) -> float:
        """The mean over the rest of that chance, as it grew."""
        return 1.0 - self.drawn / -log1p(-min(self.drawn, 0.9999)) if self.drawn > 1e-4 else 0.5 * self.drawn


class RefillSums:
    """The cumulative sums of all `STARTS_PER_H`."""

    def __init__(self) -> None:
        self.sums: Floats = np.zeros(len(STARTS_PER_H))
        self.events = np.zeros(len(STARTS_PER_H), dtype=np.int64)
        """How many refills each has counted since it last stood at 0."""
        self.stirred = False
        """Whether any is above 0."""

    def refill(self, rest: Rest, innocent_per_h: float) -> None:
        """The pump refilled with nobody drawing."""
        chance, density = _chance(rest), _density(rest)
        none = innocent_per_h * _chance_0(rest) + _density_0(rest)
        gain = np.log((innocent_per_h * chance + density) / none)
        self.events += gain > 0
        self._add(np.where(self._refuted(rest), -np.inf, gain))

    def ended(self, rest: Rest) -> None:
        """Somebody's draw ended the rest."""
        if self.stirred:
            self._add(self._waited(rest))

    def now(self, rest: Rest | None) -> Floats:
        """The sums as they stand while a rest goes on."""
        if rest is None or not self.stirred:
            return self.sums
        return np.maximum(0.0, self.sums + self._waited(rest))

    def reset(self) -> None:
        self.sums[:] = 0.0
        self.events[:] = 0
        self.stirred = False

    def restore(self, kept: Mapping[str, Sequence[float]]) -> None:
        """Sums above 0 and what they count, by their place."""
        self.reset()
        for place, (total, events) in kept.items():
            if int(place) < len(self.sums):
                self.sums[int(place)], self.events[int(place)] = total, int(events)
        self.stirred = bool(self.events.any())

    def _waited(self, rest: Rest) -> Floats:
        gain = np.log(_chance(rest) / _chance_0(rest))
        gain[self._refuted(rest)] = -np.inf
        return gain

    def _refuted(self, rest: Rest) -> npt.NDArray[np.bool_]:
        """Leaks that would surely have started the pump before."""
        return STARTS_PER_H * rest.hours + rest.taken - 4 * rest.taken_sd > TO

    def _add(self, gain: Floats) -> None:
        self.sums = np.maximum(0.0, self.sums + gain)
        self.events[self.sums == 0.0] = 0
        self.stirred = bool(self.events.any())


def _normal(x: float) -> float:
    """The normal distribution function, by the logistic curve, within 0.01."""
    return 1.0 / (1.0 + exp(-min(1.702 * x, 50.0))) if x > -40 else 0.0


def _chance(rest: Rest) -> Floats:
    u = STARTS_PER_H * rest.hours + rest.taken
    sigma = sqrt(SIGMA**2 + rest.taken_sd**2)
    sharp = 1.0 / (1.0 + np.exp(np.minimum(1.702 / sigma * (u - 1.0), 60.0)))
    wide = np.minimum(1.0, np.maximum(0.0, (TO - u) / (TO - FROM)))
    alone = (1 - WIDE) * sharp + WIDE * wide
    hastened = (rest.drawn - rest.mean_drawn * np.maximum(u, 0.0)) * (u < 1.0)
    found: Floats = np.maximum(FLOOR, (1 - rest.drawn) * alone + hastened)
    return found


def _density(rest: Rest) -> Floats:
    u = STARTS_PER_H * rest.hours + rest.taken
    sigma = sqrt(SIGMA**2 + rest.taken_sd**2)
    sharp = np.exp(-0.5 * ((u - 1.0) / sigma) ** 2) / (sigma * sqrt(2 * pi))
    wide = ((u > FROM) & (u < TO)) / (TO - FROM)
    alone = (1 - WIDE) * sharp + WIDE * wide
    speed = STARTS_PER_H + max(0.0, rest.taken_per_h)
    found: Floats = speed * ((1 - rest.drawn) * alone + rest.drawn * (u < 1.0))
    return found


def _chance_0(rest: Rest) -> float:
    u = rest.taken
    sigma = sqrt(SIGMA**2 + rest.taken_sd**2)
    wide = min(1.0, max(0.0, (TO - u) / (TO - FROM)))
    alone = (1 - WIDE) * _normal((1.0 - u) / sigma) + WIDE * wide
    return max(FLOOR, (1 - rest.drawn) * alone + (rest.drawn - rest.mean_drawn * max(0.0, u)) * (u < 1.0))


def _density_0(rest: Rest) -> float:
    u = rest.taken
    sigma = sqrt(SIGMA**2 + rest.taken_sd**2)
    sharp = exp(-0.5 * ((u - 1.0) / sigma) ** 2) / (sigma * sqrt(2 * pi))
    wide = (FROM < u < TO) / (TO - FROM)
    alone = (1 - WIDE) * sharp + WIDE * wide
    return max(0.0, rest.taken_per_h) * ((1 - rest.drawn) * alone + rest.drawn * (u < 1.0))
