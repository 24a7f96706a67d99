"""The electrical side, second by second: sources, the house bank, the converter, the buffer.

At each second what the sources give less what the loads take goes into the bank, to the watt;
the chargers hold back where the bank would rise above their voltage. The sun is used first,
then the alternator, then the shore.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulators.battery import LeadBuffer, LithiumBank

Floats = NDArray[np.float64]

ABSORPTION_V = 14.2
FLOAT_V = 13.5
TAIL_PART = 0.04
HOLD_S = 2700
"""How long the chargers hold the absorption voltage once the tail is small."""
RECHARGE_V = 13.15
CONVERTER_A = 25.0
CONVERTER_EFFICIENCY = 0.91
CHARGER_EFFICIENCY = 0.90
SHORE_CHARGER_A = 80.0
OPEN_BELOW_V, CLOSE_ABOVE_W = 10.6, 200.0


@dataclass(slots=True)
class Demand:
    """One stretch of seconds, all arrays of the same length. Powers in W at their own side."""

    house_W: Floats
    """DC loads of the house, inverter's input and pump included, converter not."""
    navigation_W: Floats
    sun_W: Floats
    """What the panels could give now."""
    alternator_A: Floats
    """What the alternator can give now; 0 with the engine stopped."""
    shore_W: Floats
    """What the shore charger may give at its DC side; 0 unplugged."""


@dataclass(slots=True)
class Electrics:
    """What came of it, second by second."""

    fulls_s: list[int]
    """Seconds at which the bank had been held full for ten minutes."""
    outages_s: list[int]
    """Seconds at which the BMS opened its contactor, or closed it again."""
    floating: bool
    bank_V: Floats
    bank_A: Floats
    charge_pct: Floats
    hysteresis: Floats
    sun_W: Floats
    alternator_W: Floats
    shore_W: Floats
    load_W: Floats
    """All that the house bus supplied, the converter's input included."""
    buffer_V: Floats
    buffer_A: Floats
    converter_A: Floats


class House:
    """Holds the banks and the chargers' state from stretch to stretch."""

    def __init__(self, bank: LithiumBank, buffer: LeadBuffer) -> None:
        self.bank, self.buffer = bank, buffer
        self.floating = False
        self.closed = True
        self._tail_s = 0
        self._full_s = 0

    def run(self, demand: Demand) -> Electrics:
        """Live through the stretch, one step a second."""
        bank, buffer = self.bank, self.buffer
        tail_A = TAIL_PART * bank.capacity_Ah
        full_V = bank.cells * 3.45
        rows: list[tuple[float, ...]] = []
        fulls: list[int] = []
        outages: list[int] = []
        columns = (demand.house_W, demand.navigation_W, demand.sun_W, demand.alternator_A, demand.shore_W)
        seconds = zip(*(column.tolist() for column in columns), strict=True)
        for second, (house_W, navigation_W, sun_W, alternator_A, shore_W) in enumerate(seconds):
            given_A = buffer.step(
                navigation_W if self.closed else 0.0, CONVERTER_A if self.closed else 0.0, 1.0
            )
            alternator_W = alternator_A * bank.voltage_V
            can_W = sun_W + alternator_W + shore_W
            if self.closed:
                load_W = house_W + given_A * buffer.voltage_V / CONVERTER_EFFICIENCY
            else:
                load_W, sun_W, alternator_W, shore_W = 0.0, 0.0, 0.0, 0.0
            net_W = sun_W + alternator_W + shore_W - load_W
            if (can_W > 0.0 and net_W > 0.0) or self.floating:
                hold_W = bank.power_at_W(FLOAT_V if self.floating else ABSORPTION_V)
                surplus_W = net_W - hold_W
                if surplus_W > 0:
                    kept = max(0.0, shore_W - surplus_W)
                    surplus_W -= shore_W - kept
                    shore_W = kept
                    kept = max(0.0, alternator_W - surplus_W)
                    surplus_W -= alternator_W - kept
                    alternator_W = kept
                    sun_W = max(0.0, sun_W - surplus_W)
                    net_W = sun_W + alternator_W + shore_W - load_W
            bank.step(net_W, 1.0)
            voltage, current = bank.voltage_V, bank.current_A
            if voltage >= full_V and 0.0 < current < tail_A:
                self._full_s += 1
                if self._full_s == 600:
                    fulls.append(second)
            else:
                self._full_s = 0
            self._mind_chargers(voltage, current, tail_A, can_W)
            if self.closed != self._contactor(voltage, can_W):
                self.closed = not self.closed
                outages.append(second)
            rows.append(
                (
                    voltage, current, bank.charge_pct, bank.hysteresis, sun_W, alternator_W, shore_W, load_W,
                    buffer.voltage_V, buffer.current_A, given_A,
                )
            )  # fmt: skip
        told = np.array(rows).T if rows else np.empty((11, 0))
        return Electrics(fulls, outages, self.floating, *told)

    def _mind_chargers(self, voltage: float, current: float, tail_A: float, can_W: float) -> None:
        if self.floating:
            if voltage < RECHARGE_V or can_W <= 0.0:
                self.floating = False
                self._tail_s = 0
        elif voltage > ABSORPTION_V - 0.03 and current < tail_A:
            self._tail_s += 1
            self.floating = self._tail_s >= HOLD_S
        elif voltage < ABSORPTION_V - 0.3:
            self._tail_s = 0

    def _contactor(self, voltage: float, can_W: float) -> bool:
        """The BMS opens when the bank is flat and closes again when something charges in earnest."""
        return voltage > OPEN_BELOW_V if self.closed else can_W > CLOSE_ABOVE_W
