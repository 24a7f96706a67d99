"""How long a lead buffer bank carries what hangs on it, and which loads live how long.

Nobody knows the health of such a battery. So some hundred batteries that might be this one are carried
side by side: what is left of the label, how full it stood, where its rest voltages lie, how far it sags.
What is seen of it while it gives weighs them; the hours left are the weighted median and its 90 % band.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from monitor.clock import HOUR_S
from monitor.estimation.lead import PEUKERT, RATED_H, at_rest_V, over_rated
from monitor.estimation.readings import Floats
from monitor.records import Reason, Rehearsal, Surviving
from monitor.settings import Bank, Load

END_CELL_V = 11.8 / 6
"""A bank is carried down to here under its load: further, a lead battery is harmed. Common practice."""
DARK_CELL_V = 10.5 / 6
"""What hangs on it has gone dark by then, and there is nothing left in it. Common practice."""
CARRYING_CELL_V = 12.2 / 6
"""About the mean of the voltages on the way there: it makes watts into amperes."""
LEAST_W = 1.0
"""Less than this is what the meters are off, not a load."""
_MIGHT_BE = 600
_HEALTH, _HEALTH_SD, _WORN = 0.8, 0.15, 0.75
"""Of the label: a battery is worn out at 0.8 (IEEE 1188, from memory), a good one gives it all, and one
of unknown age lies about there; known to be weak, three quarters of that."""
_FLOATED, _FLOATED_SD = 0.95, 0.03
"""How full a bank is that has been on float for long. Common practice."""
_REST_SD_V, _EMPTY_LIFT_V, _LIFTED = 0.08, 0.29, 0.25
"""Tables lie a tenth of a volt apart, and at the empty end 11.6 to 11.89 V."""
_SAG_OHM_AH, _SAG_SPREAD = 2.5, 0.4
"""Resistance and slow polarisation together, times the capacity. Common practice."""
_RISING, _RISE_MOST = 0.4, 5.0
"""Below two fifths of the charge the resistance rises, to several times when empty. Common practice."""
_BENDS = (0.0, _LIFTED, _RISING, 0.5, 0.75, 1.0)
"""Of the voltage under load by the charge: straight lines between them."""
_LOAD_SPREAD = 0.15
"""Meters, and a load that comes and goes: a quarter of an hour is not the night."""
_SIGHT_SD_V, _BLURRED = 0.05, 2.0
_ENOUGH = 30.0
"""So many of them at least must stay likely, or what was seen is taken as less exact."""
Hours = tuple[float, float, float]
"""Likely, low and high. [h]"""


class Sight(NamedTuple):
    """What was seen of the bank under way, an hour or more after the charger let go of it."""

    drawn_Ah: float
    """Since it was full, or since it was first seen."""
    amperes: float
    """What it gave then."""
    volts: float


class Endurance:
    """The batteries that might be this one."""

    def __init__(self, bank: Bank) -> None:
        rng = np.random.default_rng(1188)
        draw = rng.normal(size=(6, _MIGHT_BE))
        level = rng.uniform(size=(3, _MIGHT_BE))
        self._cells = bank.cells
        twelfths = bank.cells / 6
        health = np.clip(_HEALTH + _HEALTH_SD * draw[0], 0.35, 1.1)
        self._capacity_Ah = bank.capacity_Ah * health
        self._floated = np.clip(_FLOATED + _FLOATED_SD * draw[1], 0.0, 1.0)
        self._anywhere = 0.15 + 0.85 * level[0]
        self._rest_V = _REST_SD_V * twelfths * draw[2]
        self._lift_V = _EMPTY_LIFT_V * twelfths * level[1]
        self._sag_ohm = _SAG_OHM_AH * twelfths / bank.capacity_Ah * np.exp(_SAG_SPREAD * draw[3])
        self._rise = _RISE_MOST * level[2]
        self._load = np.exp(_LOAD_SPREAD * draw[4])
        self._exponent = np.clip(PEUKERT + 0.05 * draw[5], 1.05, 1.4)
        self.weigh(True, 0.0, ())

    def weigh(self, floated: bool, drawn_Ah: float, sights: Sequence[Sight], worn: bool = False) -> None:
        """Take in how it stands.

        Args:
            floated: It was on float for long before; otherwise it may have stood anywhere.
            drawn_Ah: What it has given since then, less what came back. [Ah]
            sights: Its voltage under way.
            worn: Its resistance or rested voltage says that it is weak.
        """
        start = self._floated if floated else self._anywhere
        capacity_Ah = self._capacity_Ah * (_WORN if worn else 1.0)
        misses = np.zeros(_MIGHT_BE)
        for sight in sights:
            told_V = self._under_load_V(start - sight.drawn_Ah / capacity_Ah, sight.amperes)
            misses += ((told_V - sight.volts) / _SIGHT_SD_V) ** 2
        self._weights = _weights(misses)
        self._charge = start - drawn_Ah / capacity_Ah
        self._left_Ah = capacity_Ah

    def hours(self, watts: float) -> Hours:
        """How long it carries that, from how it stands now.

        Likely and low are down to `END_CELL_V`; high is what it may have in it down to `DARK_CELL_V`.
        """
        amperes = watts / (CARRYING_CELL_V * self._cells) * self._load
        drain_A = amperes * over_rated(amperes, self._left_Ah, RATED_H, self._exponent)
        bends_V = [self._under_load_V(bend, amperes) for bend in _BENDS]
        likely_h, low_h = self._quantiles(drain_A, bends_V, END_CELL_V, (0.5, 0.05))
        (high_h,) = self._quantiles(drain_A, bends_V, DARK_CELL_V, (0.95,))
        return likely_h, low_h, high_h

    def _quantiles(
        self, drain_A: Floats, bends_V: Sequence[Floats], end_cell_V: float, parts: tuple[float, ...]
    ) -> list[float]:
        usable_Ah = self._left_Ah * (self._charge - _end_charge(bends_V, end_cell_V * self._cells))
        left_h = np.maximum(0.0, usable_Ah) / drain_A
        order = np.argsort(left_h)
        below = np.cumsum(self._weights[order])
        at = np.minimum(np.searchsorted(below, parts), _MIGHT_BE - 1)
        return [float(h) for h in left_h[order][at]]

    def _under_load_V(self, charge: Floats | float, amperes: Floats | float) -> Floats:
        lift_V = self._lift_V * np.clip(1 - charge / _LIFTED, 0.0, 1.0)
        ohm = self._sag_ohm * (1 + self._rise * np.clip(1 - charge / _RISING, 0.0, 1.0))
        return np.asarray(at_rest_V(100 * charge, self._cells) + self._rest_V + lift_V - amperes * ohm)


def _end_charge(bends_V: Sequence[Floats], end_V: float) -> Floats:
    """Where the voltage under that load has come down to the end: a line between each two bends."""
    end = np.zeros(_MIGHT_BE)
    for (low, high), (low_V, high_V) in zip(pairwise(_BENDS), pairwise(bends_V), strict=True):
        part = np.clip((end_V - low_V) / np.maximum(high_V - low_V, 1e-6), 0.0, 1.0)
        end = np.where(end_V > low_V, low + (high - low) * part, end)
    return end


def _weights(misses: Floats) -> Floats:
    """How likely each is, by its squared misses; blurred until enough of them stay in the running."""
    while True:
        weights = np.exp(-0.5 * (misses - misses.min()))
        weights /= weights.sum()
        if 1 / float(weights @ weights) >= _ENOUGH:
            return np.asarray(weights)
        misses = misses / _BLURRED


def rehearse(
    bank: Bank, loads: Iterable[tuple[Load, float]], watts: float | None, endurance: Endurance, minutes: int
) -> Rehearsal:
    """What would happen if the house side opened now.

    Args:
        bank: The buffer bank.
        loads: Those that hang on it, and what each takes while it is on. [W]
        watts: What hangs on it by the meters, None where they do not tell: then the loads' own count.
        endurance: The bank as it stands.
        minutes: Over how many minutes that was measured.
    """
    kept = sorted(loads, key=lambda load: load[0].keep)
    lives, together_W = [], 0.0
    for load, takes_W in kept:
        together_W += takes_W
        likely_h, low_h, _ = endurance.hours(together_W)
        lives.append(Surviving(load.name, takes_W, likely_h, low_h))
    measured = watts is not None
    hanging_W = watts if watts is not None else together_W or None
    told = {"bank": bank.name, "watts": hanging_W, "end_V": END_CELL_V * bank.cells}
    if hanging_W is None:
        return Rehearsal(bank.name, None, None, None, (), Reason("rehearsal: load unknown", told))
    if hanging_W < LEAST_W:
        return Rehearsal(bank.name, hanging_W, None, None, tuple(lives), Reason("rehearsal: no load", told))
    likely_h, low_h, _ = endurance.hours(hanging_W)
    told |= {"likely_s": likely_h * HOUR_S, "low_s": low_h * HOUR_S, "minutes": minutes}
    reason = Reason("rehearsal: measured" if measured else "rehearsal: by the settings", told)
    return Rehearsal(bank.name, hanging_W, likely_h, low_h, tuple(lives), reason)
