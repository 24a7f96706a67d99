"""The electrical side, second by second: sources, the house bank, the converter, the buffer.

At each second what the sources give less what the loads take goes into the bank, to the watt;
the chargers hold back where the bank would rise above their voltage. The sun is used first,
then the alternator, then the charger at the shore or the generator.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulators.battery import LeadBuffer, LithiumBank

Floats = NDArray[np.float64]

ABSORPTION_V = 14.2
FLOAT_V = 13.5
TAIL_PART = 0.04
FULL_AFTER_S = 600
FULL_AGAIN_PCT = 97.0
"""Below this the next full charge counts as another one."""
HOLD_S = 2700
"""How long the chargers hold the absorption voltage once the tail is small."""
RECHARGE_V = 13.15
CONVERTER_A = 25.0
CONVERTER_EFFICIENCY = 0.91
CHARGER_EFFICIENCY = 0.90
CHARGER_A = 80.0
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
    charger_W: Floats
    """What the battery charger may give at its DC side; 0 without shore or generator."""


@dataclass(slots=True)
class Electrics:
    """What came of it, second by second."""

    fulls_s: list[int]
    """Seconds at which a charger had held the absorption voltage with a small tail for ten minutes.
    A bank that merely stands above 3.45 V a cell after a charge, the sun feeding it a little, is not
    full, however much it looks like it."""
    outages_s: list[int]
    """Seconds at which the BMS opened its contactor, or closed it again."""
    floating: bool
    bank_V: Floats
    bank_A: Floats
    charge_pct: Floats
    sun_W: Floats
    alternator_W: Floats
    charger_W: Floats
    load_W: Floats
    """All that the house bus supplied, the converter's input included."""
    buffer_V: Floats
    buffer_A: Floats
    converter_A: Floats
    closed: Floats
    """1 while the BMS keeps its contactor closed, 0 while it is open."""


class House:
    """Holds the banks and the chargers' state from stretch to stretch."""

    def __init__(self, bank: LithiumBank, buffer: LeadBuffer) -> None:
        self.bank, self.buffer = bank, buffer
        self.floating = False
        self.closed = True
        self._tail_A = TAIL_PART * bank.capacity_Ah
        self._tail_s = self._full_s = 0
        self._full_told = False

    def run(self, demand: Demand) -> Electrics:
        """Live through the stretch, one step a second."""
        rows: list[tuple[float, ...]] = []
        fulls: list[int] = []
        outages: list[int] = []
        columns = (demand.house_W, demand.navigation_W, demand.sun_W, demand.alternator_A, demand.charger_W)
        for second, needs in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
            was_closed = self.closed
            rows.append(self._second(*needs))
            if self._full_s == FULL_AFTER_S and not self._full_told:
                self._full_told = True
                fulls.append(second)
            if self.closed != was_closed:
                outages.append(second)
        told = np.array(rows).T if rows else np.empty((11, 0))
        return Electrics(fulls, outages, self.floating, *told)

    def _second(
        self, house_W: float, navigation_W: float, sun_W: float, alternator_A: float, charger_W: float
    ) -> tuple[float, ...]:
        """One second under these needs; returns the columns of Electrics in their order."""
        bank, buffer = self.bank, self.buffer
        alternator_W = alternator_A * bank.voltage_V
        can_W = sun_W + alternator_W + charger_W
        if self.closed:
            converter_A = buffer.step(navigation_W, CONVERTER_A, 1.0)
            load_W = house_W + converter_A * buffer.voltage_V / CONVERTER_EFFICIENCY
        else:
            converter_A = buffer.step(navigation_W, 0.0, 1.0)
            load_W = sun_W = alternator_W = charger_W = 0.0
        net_W = sun_W + alternator_W + charger_W - load_W
        if net_W > 0.0 or self.floating:
            surplus_W = net_W - bank.power_at_W(FLOAT_V if self.floating else ABSORPTION_V)
            if surplus_W > 0.0:
                charger_W, surplus_W = _held_back(charger_W, surplus_W)
                alternator_W, surplus_W = _held_back(alternator_W, surplus_W)
                sun_W, surplus_W = _held_back(sun_W, surplus_W)
                net_W = sun_W + alternator_W + charger_W - load_W
        bank.step(net_W, 1.0)
        self._mind_full(bank.voltage_V, bank.current_A)
        self._mind_chargers(bank.voltage_V, bank.current_A, can_W)
        # The BMS opens when the bank is flat and closes when something charges in earnest.
        self.closed = bank.voltage_V > OPEN_BELOW_V if self.closed else can_W > CLOSE_ABOVE_W
        return (
            bank.voltage_V, bank.current_A, bank.charge_pct, sun_W, alternator_W, charger_W,
            load_W, buffer.voltage_V, buffer.current_A, converter_A, float(self.closed),
        )  # fmt: skip

    def _mind_full(self, voltage: float, current: float) -> None:
        if voltage > ABSORPTION_V - 0.05 and 0.0 < current < self._tail_A:
            self._full_s += 1
        else:
            self._full_s = 0
            self._full_told = self._full_told and self.bank.charge_pct > FULL_AGAIN_PCT

    def _mind_chargers(self, voltage: float, current: float, can_W: float) -> None:
        if self.floating:
            if voltage < RECHARGE_V or can_W <= 0.0:
                self.floating = False
                self._tail_s = 0
        elif voltage > ABSORPTION_V - 0.03 and current < self._tail_A:
            self._tail_s += 1
            self.floating = self._tail_s >= HOLD_S
        elif voltage < ABSORPTION_V - 0.3:
            self._tail_s = 0


def _held_back(watts: float, surplus_W: float) -> tuple[float, float]:
    """A source that gives so much less, as far as it goes, and what is still too much."""
    kept = max(0.0, watts - surplus_W)
    return kept, surplus_W - (watts - kept)
