"""The electrical side, second by second: sources, the house bank, the converter, the buffer.

At each second what the sources give less what the loads take goes into the bank, to the watt;
the chargers hold back where the bank would rise above their voltage. The sun is used first,
then the alternator, then the charger at the shore or the generator. With the BMS's contactor open
the house bus is dead and only the buffer gives.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulators.battery import LeadBuffer, LithiumBank
from simulators.bms import Bms, Cause

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
DUMP_A, DUMP_V = 10.0, 17.0
"""A contactor that opens under more charge than this throws the alternator's load off: the bus jumps
for a moment (common practice)."""
BUS_FALLS_S = 2.0
WARM_C = 20.0


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
    coldest_C: Floats = field(default_factory=lambda: np.empty(0))
    """Of the cells; taken to be warm where it is not given."""


@dataclass(slots=True)
class Electrics:
    """What came of it, second by second."""

    fulls_s: list[int]
    """Seconds at which a charger had held the absorption voltage with a small tail for ten minutes.
    A bank that merely stands above 3.45 V a cell after a charge, the sun feeding it a little, is not
    full, however much it looks like it."""
    outages_s: list[int]
    """Seconds at which the BMS opened its contactor, or closed it again."""
    causes: list[Cause]
    """Why, for each of them; empty where it closed."""
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
    bus_V: Floats
    """On the house's side of the contactor."""
    buffer_Ah: Floats
    cells_V: Floats
    """Four rows."""
    coldest_C: Floats


class House:
    """Holds the banks, the BMS and the chargers' state from stretch to stretch."""

    def __init__(self, bank: LithiumBank, buffer: LeadBuffer, absorption_V: float = ABSORPTION_V) -> None:
        self.bank, self.buffer, self.bms = bank, buffer, Bms()
        self.absorption_V = absorption_V
        self.regulator_V: float | None = None
        """The alternator's own voltage where it is not the other chargers'; it knows no float then."""
        self.floating = False
        self.converter_limit_A = CONVERTER_A
        self._bus_V = bank.voltage_V
        self._tail_A = TAIL_PART * bank.capacity_Ah
        self._tail_s = self._full_s = 0
        self._full_told = False

    @property
    def closed(self) -> bool:
        return self.bms.closed

    def run(self, demand: Demand) -> Electrics:
        """Live through the stretch, one step a second."""
        rows: list[tuple[float, ...]] = []
        fulls: list[int] = []
        outages: list[int] = []
        causes: list[Cause] = []
        seconds = len(demand.house_W)
        coldest_C = demand.coldest_C if len(demand.coldest_C) else np.full(seconds, WARM_C)
        columns = (demand.house_W, demand.navigation_W, demand.sun_W, demand.alternator_A, demand.charger_W,
                   coldest_C)  # fmt: skip
        for second, needs in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
            was_closed = self.closed
            rows.append(self._second(*needs))
            if self._full_s == FULL_AFTER_S and not self._full_told:
                self._full_told = True
                fulls.append(second)
            if self.closed != was_closed:
                outages.append(second)
                causes.append(self.bms.cause)
        told = np.array(rows).T if rows else np.empty((13 + len(self.bank.counts), 0))
        lines = [*told[:13], np.repeat(told[13:], self.bank.counts, axis=0), coldest_C]
        return Electrics(fulls, outages, causes, self.floating, *lines)

    def _second(
        self,
        house_W: float,
        navigation_W: float,
        sun_W: float,
        alternator_A: float,
        charger_W: float,
        coldest_C: float,
    ) -> tuple[float, ...]:
        """One second under these needs; returns the columns of Electrics in their order."""
        bank, buffer, bms = self.bank, self.buffer, self.bms
        alternator_W = alternator_A * bank.voltage_V
        can_W = sun_W + alternator_W + charger_W
        if bms.closed:
            converter_A = buffer.step(navigation_W, self.converter_limit_A, 1.0)
            load_W = house_W + converter_A * buffer.voltage_V / CONVERTER_EFFICIENCY
        else:
            converter_A = buffer.step(navigation_W, 0.0, 1.0)
            load_W = sun_W = alternator_W = charger_W = 0.0
        net_W = sun_W + alternator_W + charger_W - load_W
        if net_W > 0.0 or self.floating:
            sun_W, alternator_W, charger_W = self._held(sun_W, alternator_W, charger_W, net_W)
            net_W = sun_W + alternator_W + charger_W - load_W
        bank.step(net_W, 1.0)
        self._mind_full(bank.voltage_V, bank.current_A)
        self._mind_chargers(bank.voltage_V, bank.current_A, can_W)
        was_closed, cells_V = bms.closed, bank.cells_V
        bms.mind(max(cells_V), min(cells_V), bank.current_A, coldest_C, can_W)
        if bms.closed:
            self._bus_V = bank.voltage_V
        elif was_closed:
            self._bus_V = DUMP_V if bank.current_A > DUMP_A else self._bus_V
        else:
            self._bus_V *= math.exp(-1 / BUS_FALLS_S)
        return (
            bank.voltage_V, bank.current_A, bank.charge_pct, sun_W, alternator_W, charger_W,
            load_W, buffer.voltage_V, buffer.current_A, converter_A, float(bms.closed), self._bus_V,
            buffer.charge_Ah, *cells_V,
        )  # fmt: skip

    def _held(
        self, sun_W: float, alternator_W: float, charger_W: float, net_W: float
    ) -> tuple[float, float, float]:
        """The sources, held back where together they would raise the bank above their voltage."""
        limit_V = FLOAT_V if self.floating else self.absorption_V
        surplus_W = net_W - self.bank.power_at_W(limit_V)
        if surplus_W <= 0.0:
            return sun_W, alternator_W, charger_W
        charger_W, surplus_W = _held_back(charger_W, surplus_W)
        if self.regulator_V is not None and alternator_W > 0.0:
            sun_W, surplus_W = _held_back(sun_W, surplus_W)
            surplus_W -= self.bank.power_at_W(self.regulator_V) - self.bank.power_at_W(limit_V)
        alternator_W, surplus_W = _held_back(alternator_W, max(0.0, surplus_W))
        sun_W, surplus_W = _held_back(sun_W, surplus_W)
        return sun_W, alternator_W, charger_W

    def _mind_full(self, voltage: float, current: float) -> None:
        if voltage > self.absorption_V - 0.05 and 0.0 < current < self._tail_A:
            self._full_s += 1
        else:
            self._full_s = 0
            self._full_told = self._full_told and self.bank.charge_pct > FULL_AGAIN_PCT

    def _mind_chargers(self, voltage: float, current: float, can_W: float) -> None:
        if self.floating:
            if voltage < RECHARGE_V or can_W <= 0.0:
                self.floating = False
                self._tail_s = 0
        elif voltage > self.absorption_V - 0.03 and current < self._tail_A:
            self._tail_s += 1
            self.floating = self._tail_s >= HOLD_S
        elif voltage < self.absorption_V - 0.3:
            self._tail_s = 0


def _held_back(watts: float, surplus_W: float) -> tuple[float, float]:
    """A source that gives so much less, as far as it goes, and what is still too much."""
    kept = max(0.0, watts - surplus_W)
    return kept, surplus_W - (watts - kept)
