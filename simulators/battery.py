"""The two banks: lithium iron phosphate with hysteresis and coulombic loss, and a lead buffer.

Current is positive into the bank. Both follow their laws exactly at every step, so that charge
and energy can be counted: what goes in is stored, given back or lost, nothing else.
"""

import math
from bisect import bisect_right
from itertools import pairwise
from operator import mul, sub
from typing import NamedTuple

# Charge [%] and mean open-circuit voltage of a cell [V]: the flat plateau and two knees that
# slow (C/27) laboratory cycles of an LFP cell show between 5 and 98 %; the ends are ours.
CURVE = (
    (-2.0, 2.00), (0.0, 2.50), (2.0, 2.85), (5.0, 3.025), (10.0, 3.178), (20.0, 3.245), (30.0, 3.280),
    (40.0, 3.301), (50.0, 3.308), (60.0, 3.317), (70.0, 3.330), (80.0, 3.345), (90.0, 3.352),
    (95.0, 3.369), (98.0, 3.440), (99.0, 3.480), (100.0, 3.530), (101.0, 3.700), (102.0, 4.000),
)  # fmt: skip
HALF_GAP_V = 0.020
"""Half of what lies between the charging and the discharging branch, a cell."""
HYSTERESIS_PCT = 4.0
"""How much charge must flow before the other branch is reached (to 1/e)."""


def open_circuit_V(charge_pct: float) -> float:
    """The mean open-circuit voltage of one cell at that charge. [V]"""
    at = min(max(bisect_right(CURVE, (charge_pct,)), 1), len(CURVE) - 1)
    (x0, y0), (x1, y1) = CURVE[at - 1], CURVE[at]
    return y0 + (y1 - y0) * (charge_pct - x0) / (x1 - x0)


STEPS = 50
"""Table steps for one per cent: the curve's own corners lie on them."""
_TABLE = [open_circuit_V(n / STEPS) for n in range(-2 * STEPS, 102 * STEPS + 1)]
_RISE = [b - a for a, b in pairwise(_TABLE)] + [0.0]
_LAST = len(_TABLE) - 2


class Cell(NamedTuple):
    """One cell of a series string, or several that are alike."""

    part: float = 1.0
    """Its capacity as a part of the bank's."""
    ahead_pct: float = 0.0
    """How much fuller than the bank's charge it starts, in per cent of the bank's capacity."""
    alike: int = 1


EVEN = (Cell(alike=4),)


class LithiumBank:
    """Cells in series behind a resistance and one slow polarisation.

    E = sum over the cells (OCV(charge) + hysteresis), V = E + polarisation + I R; a cell shows its
    own E and its even share of the drop. Charging stores the part `efficiency` of the charge
    (0.996, laboratory LFP at 25 degrees); the balancer burns `balancer_A` in every cell above 3.45 V.
    """

    resistance_ohm = 0.0025
    polarisation_ohm = 0.004
    polarisation_s = 600.0
    efficiency = 0.996
    balancer_A = 0.6
    balancing_V = 3.45

    def __init__(self, capacity_Ah: float, charge_pct: float, cells: tuple[Cell, ...] = EVEN) -> None:
        self.capacity_Ah = capacity_Ah
        self.counts = [cell.alike for cell in cells]
        self.cells = sum(self.counts)
        self._capacities_Ah = [capacity_Ah * cell.part for cell in cells]
        self._charges_Ah = [capacity_Ah * (charge_pct + cell.ahead_pct) / 100 for cell in cells]
        self._losts_Ah = [0.0] * len(cells)
        self.hysteresis = 0.0
        """-1 on the discharging branch, +1 on the charging one."""
        self.polarisation_V = 0.0
        self._resting_cells_V = [
            _table_V(at, of) for at, of in zip(self._charges_Ah, self._capacities_Ah, strict=True)
        ]
        self.cells_V = list(self._resting_cells_V)
        """At the terminals of each group of like cells."""
        self.voltage_V = self.resting_V
        self.current_A = 0.0
        self.in_Ah = self.out_Ah = 0.0
        self.in_Wh = self.stored_Wh = self.lost_Wh = 0.0

    @property
    def charge_Ah(self) -> float:
        """What can be taken out before the emptiest cell is empty."""
        return min(self._charges_Ah)

    @property
    def usable_Ah(self) -> float:
        """From the emptiest cell empty to the fullest cell full."""
        if len(self.counts) == 1:
            return self._capacities_Ah[0]
        room_Ah: float = min(map(sub, self._capacities_Ah, self._charges_Ah))
        return self.charge_Ah + room_Ah

    @property
    def charge_pct(self) -> float:
        """What can be taken out, of what the string can give from full to empty."""
        return 100 * self.charge_Ah / self.usable_Ah

    @property
    def lost_Ah(self) -> float:
        """By the mean cell."""
        lost_Ah: float = sum(map(mul, self.counts, self._losts_Ah))
        return lost_Ah / self.cells

    @property
    def resting_V(self) -> float:
        """E: what stands behind resistance and polarisation."""
        volts: float = sum(map(mul, self.counts, self._resting_cells_V))
        return volts

    def step(self, power_W: float, seconds: float) -> None:
        """Take (or give, if negative) exactly this power at the terminals for that long."""
        behind = self.resting_V
        emf = behind + self.polarisation_V
        root = emf * emf + 4 * self.resistance_ohm * power_W
        voltage = 0.5 * (emf + math.sqrt(root)) if root > 0 else 0.5 * emf
        current = (voltage - emf) / self.resistance_ohm
        self.voltage_V, self.current_A = voltage, current
        Ah = current * seconds / 3600
        if Ah > 0:
            self.in_Ah += Ah
        else:
            self.out_Ah -= Ah
        stored = self._store(Ah, (voltage - behind) / self.cells, seconds)
        share = math.exp(-abs(stored) * 100 / self.capacity_Ah / HYSTERESIS_PCT)
        target = 1.0 if stored > 0 else -1.0
        self.hysteresis = target + (self.hysteresis - target) * share
        before = self.polarisation_V
        self.polarisation_V += (current * self.polarisation_ohm - before) * seconds / self.polarisation_s
        self.in_Wh += voltage * Ah
        gap_V = HALF_GAP_V * self.hysteresis
        for n, charge_Ah in enumerate(self._charges_Ah):
            self._resting_cells_V[n] = _table_V(charge_Ah, self._capacities_Ah[n]) + gap_V

    def _store(self, Ah: float, drop_V: float, seconds: float) -> float:
        """Put so much into each cell, less what it loses; returns what the mean cell stored. [Ah]"""
        wasted = Ah * (1 - self.efficiency) if Ah > 0 else 0.0
        stored_Ah = 0.0
        for n, volts in enumerate(self._resting_cells_V):
            count = self.counts[n]
            lost = wasted
            self.cells_V[n] = shown = volts + drop_V
            if shown > self.balancing_V:
                lost += self.balancer_A * seconds / 3600
            stored = Ah - lost
            self._charges_Ah[n] += stored
            self._losts_Ah[n] += lost
            stored_Ah += count * stored
            self.stored_Wh += count * volts * stored
            self.lost_Wh += count * volts * lost
        return stored_Ah / self.cells

    def power_at_W(self, voltage_V: float) -> float:
        """The power that brings the terminals to this voltage now. [W]"""
        return voltage_V * (voltage_V - self.resting_V - self.polarisation_V) / self.resistance_ohm


def _table_V(charge_Ah: float, capacity_Ah: float) -> float:
    """The mean open-circuit voltage of one cell, quickly. [V]"""
    x = (100 * charge_Ah / capacity_Ah + 2.0) * STEPS
    n = int(x)
    if n < 0 or n > _LAST:
        n = 0 if n < 0 else _LAST
    return _TABLE[n] + (x - n) * _RISE[n]


class LeadBuffer:
    """The navigation battery, floated by the converter. OCV = 11.8 + 0.8 x charge/capacity [V].

    It accepts no more than a current that falls with what is missing; on float it keeps
    taking `float_A` that turns to heat. Below two fifths of its charge its resistance rises, to five
    times when it is empty (common practice: 10.5 V is the end), and then its loads fall off.
    """

    float_V = 13.6
    resistance_ohm = 0.018
    float_A = 0.15
    acceptance_h = 1.2
    weak_below = 0.4

    def __init__(self, capacity_Ah: float, charge_pct: float = 98.0) -> None:
        self.capacity_Ah = capacity_Ah
        self.charge_Ah = capacity_Ah * charge_pct / 100
        self.voltage_V = self.float_V
        self.current_A = 0.0

    def step(self, load_W: float, limit_A: float, seconds: float) -> float:
        """Feed that load for so long; returns what the converter gave [A] at `voltage_V`."""
        load_A = load_W / self.voltage_V
        if self.charge_Ah <= 0.0:
            load_A = min(load_A, limit_A)
        missing = max(0.0, self.capacity_Ah - self.charge_Ah)
        accepts = missing / self.acceptance_h
        left = self.charge_Ah / self.capacity_Ah
        ocv = 11.8 + 0.8 * self.charge_Ah / self.capacity_Ah
        wanted = min(accepts, (self.float_V - ocv) / self.resistance_ohm) + self.float_A
        given = min(limit_A, load_A + wanted)
        into = given - load_A
        self.current_A = into
        self.charge_Ah += (into - self.float_A if into > self.float_A else min(into, 0.0)) * seconds / 3600
        ohm = self.resistance_ohm * (1 + 4 * max(0.0, 1 - left / self.weak_below))
        self.voltage_V = self.float_V if into >= wanted - 1e-9 else max(10.0, ocv + into * ohm)
        return given
