"""The two banks: lithium iron phosphate with hysteresis and coulombic loss, and a lead buffer.

Current is positive into the bank. Both follow their laws exactly at every step, so that charge
and energy can be counted: what goes in is stored, given back or lost, nothing else.
"""

import math
from bisect import bisect_right
from itertools import pairwise

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


class LithiumBank:
    """Cells in series behind a resistance and one slow polarisation.

    E = cells (OCV(charge) + hysteresis), V = E + polarisation + I R. Charging stores the part
    `efficiency` of the charge (0.996, laboratory LFP at 25 degrees); above 3.45 V a cell the
    balancer burns `balancer_A` of it.
    """

    cells = 4
    resistance_ohm = 0.0025
    polarisation_ohm = 0.004
    polarisation_s = 600.0
    efficiency = 0.996
    balancer_A = 0.6
    balancing_V = 3.45

    def __init__(self, capacity_Ah: float, charge_pct: float) -> None:
        self.capacity_Ah = capacity_Ah
        self.charge_Ah = capacity_Ah * charge_pct / 100
        self.hysteresis = 0.0
        """-1 on the discharging branch, +1 on the charging one."""
        self.polarisation_V = 0.0
        self.voltage_V = self.resting_V
        self.current_A = 0.0
        self.in_Ah = self.out_Ah = self.lost_Ah = 0.0
        self.in_Wh = self.stored_Wh = 0.0

    @property
    def charge_pct(self) -> float:
        return 100 * self.charge_Ah / self.capacity_Ah

    @property
    def resting_V(self) -> float:
        """E: what stands behind resistance and polarisation."""
        x = (100 * self.charge_Ah / self.capacity_Ah + 2.0) * STEPS
        n = min(max(int(x), 0), len(_TABLE) - 2)
        return self.cells * (_TABLE[n] + (x - n) * _RISE[n] + HALF_GAP_V * self.hysteresis)

    def step(self, power_W: float, seconds: float) -> None:
        """Take (or give, if negative) exactly this power at the terminals for that long."""
        behind = self.resting_V
        emf = behind + self.polarisation_V
        root = emf * emf + 4 * self.resistance_ohm * power_W
        voltage = 0.5 * (emf + math.sqrt(root)) if root > 0 else 0.5 * emf
        current = (voltage - emf) / self.resistance_ohm
        self.voltage_V, self.current_A = voltage, current
        Ah = current * seconds / 3600
        lost = 0.0
        if Ah > 0:
            lost = Ah * (1 - self.efficiency)
            self.in_Ah += Ah
        else:
            self.out_Ah -= Ah
        if voltage > self.cells * self.balancing_V:
            lost += self.balancer_A * seconds / 3600
        stored = Ah - lost
        self.charge_Ah += stored
        self.lost_Ah += lost
        share = math.exp(-abs(stored) * 100 / self.capacity_Ah / HYSTERESIS_PCT)
        target = 1.0 if stored > 0 else -1.0
        self.hysteresis = target + (self.hysteresis - target) * share
        before = self.polarisation_V
        self.polarisation_V += (current * self.polarisation_ohm - before) * seconds / self.polarisation_s
        self.in_Wh += voltage * Ah
        self.stored_Wh += behind * stored

    def power_at_W(self, voltage_V: float) -> float:
        """The power that brings the terminals to this voltage now. [W]"""
        return voltage_V * (voltage_V - self.resting_V - self.polarisation_V) / self.resistance_ohm


class LeadBuffer:
    """The navigation battery, floated by the converter. OCV = 11.8 + 0.8 x charge/capacity [V].

    It accepts no more than a current that falls with what is missing; on float it keeps
    taking `float_A` that turns to heat.
    """

    float_V = 13.6
    resistance_ohm = 0.018
    float_A = 0.15
    acceptance_h = 1.2

    def __init__(self, capacity_Ah: float, charge_pct: float = 98.0) -> None:
        self.capacity_Ah = capacity_Ah
        self.charge_Ah = capacity_Ah * charge_pct / 100
        self.voltage_V = self.float_V
        self.current_A = 0.0

    def step(self, load_W: float, limit_A: float, seconds: float) -> float:
        """Feed that load for so long; returns what the converter gave [A] at `voltage_V`."""
        load_A = load_W / self.voltage_V
        missing = max(0.0, self.capacity_Ah - self.charge_Ah)
        accepts = missing / self.acceptance_h
        ocv = 11.8 + 0.8 * self.charge_Ah / self.capacity_Ah
        wanted = min(accepts, (self.float_V - ocv) / self.resistance_ohm) + self.float_A
        given = min(limit_A, load_A + wanted)
        into = given - load_A
        self.current_A = into
        self.charge_Ah += (into - self.float_A if into > self.float_A else min(into, 0.0)) * seconds / 3600
        self.voltage_V = (
            self.float_V if into >= wanted - 1e-9 else max(10.0, ocv + into * self.resistance_ohm)
        )
        return given
