"""The last quarter of an hour of a bank, minute by minute, and how its figures go at the present current."""

import math
from collections import deque

import numpy as np

from monitor.estimation.bank_minute import BankMinute, Placed
from monitor.estimation.trend import Fit, Floats, fit
from monitor.settings import Bank

KEPT_MIN = 16
LOOKED_AT_MIN = 8
AMPS, HIGHEST, LOWEST, PACK, HOTTEST, COLDEST, CHARGE_LIMIT, DISCHARGE_LIMIT = range(8)
"""The columns; NaN where it is unknown."""
REST_SHARE = 0.005
"""Of the capacity in Ah: a smaller current is rest."""
RESISTANCE_OHM_AH = 0.2
"""A cell's resistance times its capacity, until the bank's own steps tell. Common practice."""
STEP_SHARE = 0.03
"""A step of the current by this part of the capacity in Ah shows the resistance."""


class Recent:
    """Learns the cells' resistance on the way: the part of a voltage that follows the current at once."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._rows: deque[tuple[float, ...]] = deque(maxlen=KEPT_MIN)
        self._at_s = -math.inf
        self.resistance_ohm = RESISTANCE_OHM_AH / bank.capacity_Ah
        self.leads_min = 0
        """For how many minutes in a row the highest cell has led by more than the chargers' hold allows."""

    def take(self, minute: BankMinute) -> None:
        """Take one minute; a gap before it begins the trends anew."""
        if minute.start_s - self._at_s > 90.0 or minute.start_s <= self._at_s:
            self._rows.clear()
            self.leads_min = 0
        self._at_s = minute.start_s
        row = (
            _nan(minute.current_A),
            _value(minute.highest),
            _value(minute.lowest),
            _nan(minute.pack_V),
            _value(minute.warmth.hottest),
            _value(minute.warmth.coldest),
            *(_nan(limit) for limit in minute.bms_limits_A),
        )
        if self._rows:
            self._learn(self._rows[-1], row)
        self._rows.append(row)

    def clear(self) -> None:
        self._rows.clear()
        self._at_s, self.leads_min = -math.inf, 0

    @property
    def direction(self) -> int:
        """1 while the bank is charged, -1 while it is discharged, 0 at rest or unknown."""
        current_A = self._rows[-1][AMPS] if self._rows else math.nan
        if not abs(current_A) >= REST_SHARE * self._bank.capacity_Ah:
            return 0
        return 1 if current_A > 0 else -1

    def column(self, column: int, minutes: int = KEPT_MIN) -> Floats:
        """The newest of them, whichever way the current flowed."""
        return np.array([row[column] for row in self._rows])[-minutes:]

    def same_way(self) -> Floats:
        """The newest rows in which the current flowed as it does now."""
        rows, sign = np.array(self._rows), self.direction
        against = np.flatnonzero(~(rows[:, AMPS] * sign > 0)) if sign else np.empty(0, int)
        return rows[against[-1] + 1 :] if against.size else rows

    def at_current(self, rows: Floats, column: int, current_A: float, cells: int = 1) -> Fit | None:
        """The trend of a voltage over these rows, as it would be had this current flowed all the time."""
        return fit(rows[:, column] - (rows[:, AMPS] - current_A) * self.resistance_ohm * cells)

    def _learn(self, before: tuple[float, ...], now: tuple[float, ...]) -> None:
        step_A, step_V = now[AMPS] - before[AMPS], (now[PACK] - before[PACK]) / self._bank.cells
        if abs(step_A) > STEP_SHARE * self._bank.capacity_Ah and math.isfinite(step_V):
            usual = RESISTANCE_OHM_AH / self._bank.capacity_Ah
            seen = min(max(step_V / step_A, 0.2 * usual), 5 * usual)
            self.resistance_ohm += 0.2 * (seen - self.resistance_ohm)


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def _value(placed: Placed | None) -> float:
    return math.nan if placed is None else placed.value
