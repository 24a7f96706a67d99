"""When a bank has rested: half an hour with next to no current, and then its voltage means something."""

import numpy as np

from monitor.estimation.readings import Floats

REST_AFTER_S = 1800.0
CALM_SHARE = 0.02
"""Of the capacity, an hour."""


class BankRest:
    """Follows one rest after another."""

    def __init__(self, capacity_Ah: float, cells: int) -> None:
        self._calm_A = CALM_SHARE * capacity_Ah
        self._cells = cells
        self._lasted_s = 0.0

    def cell_V(self, amps: Floats, volts: Floats, heard_s: float) -> float | None:
        """The voltage of a rested cell, once in each rest: when the half hour is over."""
        if heard_s <= 0 or not volts.size or float(np.abs(amps).max()) >= self._calm_A:
            self._lasted_s = 0.0
            return None
        before_s, self._lasted_s = self._lasted_s, self._lasted_s + heard_s
        over = before_s < REST_AFTER_S <= self._lasted_s
        return float(np.median(volts)) / self._cells if over else None

    def end(self) -> None:
        """Nobody saw what flowed."""
        self._lasted_s = 0.0


class Warmth:
    """The bank's temperature while it is known: the newest told, for an hour."""

    _LASTS_S = 3600.0

    def __init__(self) -> None:
        self.celsius: float | None = None
        self._age_s = 0.0

    def feel(self, temperatures_C: Floats, seconds: float) -> None:
        """What was told in so long; empty where nothing was."""
        self._age_s += seconds
        if temperatures_C.size:
            self.celsius, self._age_s = float(np.median(temperatures_C)), 0.0
        elif self._age_s > self._LASTS_S:
            self.celsius = None
