"""Modelled cells as a cheap sensor sees them: the traces of `traces/recipe.py`, and what is said of them.

- Offset, uniform ±200 mA, and about that it wanders by 10 mA over two days (1 µV at a 500 A, 50 mV shunt);
  gain, uniform ±1 %; noise 0.15 A and 3 mV a reading; steps of 0.1 A and 10 mV.
- The model loses nothing, so the sensor is shown the loss: of what flows in, 0.99617 reaches the cell
  (measured at 25 °C in G. Plett's ESC toolbox data).
- Every ten seconds, a minute at a time where a charger could be holding, ten minutes at a time elsewhere:
  nothing in the tracker depends on a block's length but holds and rests.
"""

import itertools
from array import array
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.records import Column

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int_]

EFFICIENCY = 0.99617
WANDER_A, WANDER_H = 0.010, 48.0
TAIL_SHARE, HELD_WITHIN_V, LASTS_MIN, APART_MIN = 0.04, 0.04, 10, 720
NEAR_TOP_V = 13.5
BLOCK_MIN = 10
READINGS = 6
"""A minute."""
TURNS = 3
"""The weeks of a trace are lived through so often, by the same sensor: some 66 days."""


class Trace(NamedTuple):
    """By the minute: mean current [A], voltage at the end [V], charge below full [Ah], temperature [°C]."""

    amps: Floats
    volts: Floats
    below_Ah: Floats
    celsius: Floats
    capacity_Ah: float
    ends: tuple[tuple[int, int], ...]
    """Held charges: first minute and last. Held is the full voltage with a current of less than 4 % of the
    capacity, for ten minutes at least; what is less than twelve hours apart is one."""

    def pct(self, minute: int) -> float:
        return float(100 * (1 - self.below_Ah[minute] / self.capacity_Ah))


@cache
def trace(name: str) -> Trace:
    with np.load(Path(__file__).parent / "traces" / f"{name}.npz") as kept:
        amps, volts = kept["current_cA"] / 100, kept["voltage_mV"] / 1000
        capacity_Ah, hold_V = float(kept["capacity_Ah"]), float(kept["hold_V"])
        below_Ah, celsius = kept["below_cAh"] / 100, kept["celsius"].astype(np.float64)
    order = lived(_tail(amps, volts, hold_V, capacity_Ah), below_Ah)
    amps, volts, below_Ah, celsius = amps[order], volts[order], below_Ah[order], celsius[order]
    return Trace(amps, volts, below_Ah, celsius, capacity_Ah, _ends(_tail(amps, volts, hold_V, capacity_Ah)))


def lived(tail: Bools, below_Ah: Floats) -> Ints:
    """The weeks lived through `TURNS` times: from a held charge near their end back to one near their
    beginning, where equally much is missing. Minutes of the trace, in order."""
    (first, *_, last) = _ends(tail)
    early, late = np.arange(first[0], first[1] + 1), np.arange(last[0], last[1] + 1)
    apart_Ah = np.abs(below_Ah[early][:, None] - below_Ah[late][None, :])
    back, over = np.unravel_index(int(apart_Ah.argmin()), apart_Ah.shape)
    again = np.arange(early[back] + 1, late[over] + 1)
    order = np.concatenate([np.arange(late[over] + 1), *[again] * (TURNS - 1)])
    return order[: order.size // BLOCK_MIN * BLOCK_MIN]


def _tail(amps: Floats, volts: Floats, hold_V: float, capacity_Ah: float) -> Bools:
    held: Bools = (volts > hold_V - HELD_WITHIN_V) & (amps > 0) & (amps < TAIL_SHARE * capacity_Ah)
    return held


def _ends(tail: Bools) -> tuple[tuple[int, int], ...]:
    edges = np.flatnonzero(np.diff(tail, prepend=False, append=False))
    ends: list[tuple[int, int]] = []
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if after - first < LASTS_MIN:
            continue
        if ends and first - ends[-1][1] < APART_MIN:
            ends[-1] = (ends[-1][0], after - 1)
        else:
            ends.append((first, after - 1))
    return tuple(ends)


class Said(NamedTuple):
    """What the sensor said, a row a minute."""

    times_s: Floats
    amps: Floats
    volts: Floats

    def block(self, minutes: slice) -> tuple[Column, Column]:
        times_s = _packed(self.times_s[minutes])
        return Column(times_s, _packed(self.amps[minutes])), Column(times_s, _packed(self.volts[minutes]))


def _packed(values: Floats) -> "array[float]":
    return array("d", values.tobytes())


def steady(like: Column, value: float) -> Column:
    return Column(like.times_s, array("d", [value]) * len(like.times_s))


def said(true: Trace, rng: np.random.Generator) -> Said:
    """A cheap sensor's readings."""
    offset_A, gain = rng.uniform(-0.2, 0.2) + _wander(true.amps.size, rng), 1 + rng.uniform(-0.01, 0.01)
    through = np.where(true.amps > 0, true.amps / EFFICIENCY, true.amps)[:, None]
    size = (true.amps.size, READINGS)
    amps = through * gain + offset_A[:, None] + rng.normal(0.0, 0.15, size)
    volts = true.volts[:, None] + rng.normal(0.0, 0.003, size)
    times_s = np.arange(1.0, true.amps.size * READINGS + 1).reshape(size) * 60 / READINGS
    return Said(times_s.astype(np.float64), np.round(amps, 1), np.round(volts, 2))


def _wander(minutes: int, rng: np.random.Generator) -> Floats:
    """An offset that comes and goes: hour by hour a first-order process. [A]"""
    keeps = np.exp(-1 / WANDER_H)
    kicks = rng.normal(0.0, WANDER_A, -(-minutes // 60))
    kicks[1:] *= (1 - keeps**2) ** 0.5
    hours = list(itertools.accumulate(kicks.tolist(), lambda last, kick: keeps * last + kick))
    return np.repeat(np.array(hours, np.float64), 60)[:minutes]


def blocks(true: Trace) -> Iterator[slice]:
    """Minutes one by one where a charger could be holding, ten at a time elsewhere."""
    for first in range(0, true.amps.size, BLOCK_MIN):
        if true.volts[first : first + BLOCK_MIN].max() > NEAR_TOP_V:
            yield from (slice(minute, minute + 1) for minute in range(first, first + BLOCK_MIN))
        else:
            yield slice(first, first + BLOCK_MIN)
