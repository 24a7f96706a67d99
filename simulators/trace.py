"""What happened to the water in one stretch of time."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulators.accumulator import ATMOSPHERE_BAR, Accumulator
from simulators.loads import (
    PUMP_A,
    PUMP_A_PER_BAR,
    PUMP_DRY_A,
    PUMP_PIECE_S,
    PUMP_START_S,
    PUMP_START_TIMES,
    PUMP_V,
)
from simulators.shapes import Piece

Floats = NDArray[np.float64]

SUMS = (
    "taken_L", "drawn_L", "leaked_L", "above_L", "returned_L", "relieved_L", "swelled_L", "made_L",
    "filled_L", "spilt_L",
)  # fmt: skip
"""What only grows (but for swelled and taken): taken from the tanks by the pump, less what came back through
it; drawn at taps; leaked after the pump; leaked before it; come back through the pump; let out by the relief
valve; pushed out by warming, less drawn in by cooling; made; filled into the tanks, what was made included;
and what ran over."""

Intervals = list[tuple[float, float]]


@dataclass(slots=True)
class Trace:
    """Corners of the broken lines, and the pump's runs. [UTC s]"""

    accumulator: Accumulator
    times_s: list[float] = field(default_factory=list)
    accumulator_L: list[float] = field(default_factory=list)
    tanks_L: dict[str, list[float]] = field(default_factory=dict)
    edges: list[tuple[float, bool]] = field(default_factory=list)
    """Every start (True) and stop of the pump."""
    runs: Intervals = field(default_factory=list)
    """Start and stop of every run that ended in this stretch."""
    pumping: Intervals = field(default_factory=list)
    """The same, and of a run that goes on, up to the end of the stretch."""
    dry: Intervals = field(default_factory=list)
    """While it ran and found no water."""
    stalled: Intervals = field(default_factory=list)
    """While it ran against more pressure than it can pump up."""
    strained: list[tuple[float, float, float]] = field(default_factory=list)
    """While taps asked for more than it gives: from when to when, and the pressure that is left. [bar]"""
    sums: dict[str, list[float]] = field(default_factory=lambda: {name: [] for name in SUMS})
    """At the corners, since the beginning of the voyage."""
    heater: list[tuple[float, float, bool]] = field(default_factory=list)
    """Time, temperature, element on: at the beginning and at the minutes."""

    def bar(self, times_s: Floats) -> Floats:
        """The pressure in the accumulator at these times (Boyle), or what open taps leave of it."""
        bottle = self.accumulator
        held = np.interp(times_s, self.times_s, self.accumulator_L)
        air_L = bottle.volume_L - np.clip(held, 0.0, 0.999 * bottle.volume_L)
        absolute_bar = bottle.absolute_precharge_bar * bottle.volume_L / air_L
        found = np.where(held > 0, np.maximum(0.0, absolute_bar - ATMOSPHERE_BAR), 0.0)
        for start_s, end_s, bar in self.strained:
            found[(times_s >= start_s) & (times_s < end_s)] = bar
        return np.asarray(found)

    def running(self, times_s: Floats) -> Floats:
        """1 where the pump runs, else 0."""
        return _within(self.pumping, times_s)

    def pump_A(self, times_s: Floats) -> Floats:
        """What a running pump takes: by the pressure behind it, or little where it finds no water."""
        dry = _within(self.dry, times_s)
        return np.asarray(np.where(dry > 0, PUMP_DRY_A, PUMP_A + PUMP_A_PER_BAR * self.bar(times_s)))

    def pump_pieces(self, start_s: float) -> list[Piece]:
        """The pump's power from `start_s` on: by the pressure behind it, and more as its motor starts."""
        found: list[Piece] = []
        for began_s, end_s in self.pumping:
            begins_s, starts = max(began_s, start_s), began_s >= start_s
            if begins_s >= end_s:
                continue
            edges = np.arange(begins_s, end_s, PUMP_PIECE_S)
            if starts:
                edges = np.insert(edges, 1, began_s + PUMP_START_S)
            edges = np.append(edges[edges < end_s], end_s)
            watts = PUMP_V * self.pump_A((edges[:-1] + edges[1:]) / 2)
            watts[0] *= PUMP_START_TIMES if starts else 1.0
            found += zip(edges[:-1].tolist(), edges[1:].tolist(), watts.tolist(), strict=True)
        return found


def _within(intervals: Intervals, times_s: Floats) -> Floats:
    edges = np.array(intervals, dtype=np.float64).ravel()
    return np.asarray(np.searchsorted(edges, times_s, side="right") % 2, dtype=np.float64)


def lengthen(intervals: Intervals, start_s: float, end_s: float) -> None:
    """Add this piece of time, which may carry on the last."""
    if intervals and intervals[-1][1] >= start_s:
        start_s = intervals.pop()[0]
    intervals.append((start_s, end_s))
