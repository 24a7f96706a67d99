"""What the nights of a load say of its health: a fridge that runs too much, standing load that creeps up, a
pump that moves less for what it takes. A load is measured by its own past only, so that none is ill by its
make; and by two nights in a row where guests or a party make one.

The limits are common practice: a duty 40 % above its usual is what a failed door seal or a condenser full of
dust costs; six hours without a pause is a thermostat that no longer reaches its mark.
"""

from collections.abc import Mapping, Sequence
from statistics import median
from typing import NamedTuple

import numpy as np

from monitor.clock import Interval

HARDER, HARDER_NIGHTS = 1.4, 2
"""A duty so many times its usual, in so many nights in a row."""
ALIKE_C = 3.0
"""Nights are alike in warmth within this. [°C]"""
PAST_NIGHTS = 5
"""So many nights of the past, at least, tell what is usual,"""
MOST_NIGHTS = 30
"""and no more than these latest."""
NO_PAUSE_S = 6 * 3600.0
CREEP_NIGHTS, CREEP_W, CREEP_SHARE, CREEP_SURE = 7, 3.0, 0.15, 3.0
"""Standing load creeps if in so many nights it rose by so much and by such a share of itself, along a line
whose slope is so many times its own standard error."""
STEP_W = 6.0
"""An inverter left on takes so much at least with nothing behind it. [W]"""
WEAKER = 0.75
"""A pump that gives less than this share of its usual litres for a watt-hour."""


class Sign(NamedTuple):
    """Something to be told: its id and the figures that go into its sentence."""

    id: str
    facts: Mapping[str, float | str]


class CyclerNight(NamedTuple):
    """One night of what runs by a thermostat."""

    duty: float
    """Share of the night in which it ran."""
    longest_s: float
    """Its longest run."""
    air_C: float | None = None
    """The air's mean; None where nobody measured it."""


def cycler_night(
    runs: Sequence[tuple[float, float]], during: Interval, air_C: float | None = None
) -> CyclerNight:
    """A night by the UTC intervals in which it ran; they may reach beyond the night."""
    inside = [min(b, during.end_s) - max(a, during.start_s) for a, b in runs]
    on_s = sum(max(0.0, seconds) for seconds in inside)
    return CyclerNight(on_s / during.seconds, max((b - a for a, b in runs), default=0.0), air_C)


def cycler_signs(load: str, nights: Sequence[CyclerNight]) -> list[Sign]:
    """What its nights say, the oldest first; the last is the one that is told."""
    if not nights:
        return []
    last = nights[-1]
    if last.longest_s > NO_PAUSE_S:
        return [Sign("load without a pause", {"load": load, "hours": last.longest_s / 3600})]
    late, past = nights[-HARDER_NIGHTS:], nights[:-HARDER_NIGHTS][-MOST_NIGHTS:]
    usual = [_usual_duty(past, night.air_C) for night in late]
    known = [duty for duty in usual if duty is not None]
    if len(known) < HARDER_NIGHTS:
        return []
    if all(night.duty > HARDER * duty for night, duty in zip(late, known, strict=True)):
        return [Sign("load runs harder", {"load": load, "duty": last.duty, "usual": known[-1]})]
    return []


def _usual_duty(past: Sequence[CyclerNight], air_C: float | None) -> float | None:
    """The median of the nights that were as warm; of all where warmth is not known."""
    alike = [
        night.duty
        for night in past
        if air_C is None or (night.air_C is not None and abs(night.air_C - air_C) <= ALIKE_C)
    ]
    return median(alike) if len(alike) >= PAST_NIGHTS else None


def standing_signs(standing_W: Sequence[float]) -> list[Sign]:
    """What stands through each night, the oldest first: whether it creeps up, or went up in one step. [W]"""
    if len(standing_W) <= PAST_NIGHTS:
        return []
    stepped = standing_W[-1] - median(standing_W[:-1][-MOST_NIGHTS:])
    level = standing_W[:-1][-PAST_NIGHTS:]
    if stepped >= STEP_W and standing_W[-1] - max(level) >= STEP_W and max(level) - min(level) < STEP_W / 2:
        return [Sign("standing load went up", {"watts": standing_W[-1], "more_W": stepped})]
    late = np.array(standing_W[-CREEP_NIGHTS:])
    if late.size < CREEP_NIGHTS:
        return []
    at = np.arange(CREEP_NIGHTS) - (CREEP_NIGHTS - 1) / 2
    slope = float(at @ late / (at @ at))
    left = late - late.mean() - slope * at
    error = float(np.sqrt(left @ left / (CREEP_NIGHTS - 2) / (at @ at)))
    rise_W = slope * (CREEP_NIGHTS - 1)
    if rise_W >= max(CREEP_W, CREEP_SHARE * float(late.mean())) and slope > CREEP_SURE * error:
        return [Sign("standing load creeps up", {"watts": standing_W[-1], "more_W": rise_W})]
    return []


def pump_signs(load: str, L_per_Wh: Sequence[float]) -> list[Sign]:
    """What a pump moved for what it took, by night, the oldest first. [L/Wh]"""
    late, past = L_per_Wh[-HARDER_NIGHTS:], L_per_Wh[:-HARDER_NIGHTS][-MOST_NIGHTS:]
    if len(past) < PAST_NIGHTS:
        return []
    usual = median(past)
    if all(value < WEAKER * usual for value in late):
        return [Sign("pump moves less", {"load": load, "L_per_Wh": late[-1], "usual": usual})]
    return []
