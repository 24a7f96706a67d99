"""Whether a charger holds its voltage, and which: then the cells level off and nothing is cut.

A held voltage shows in a current that falls by itself while the voltage stays. What is held is
learned, for the engine's regulator and for the other chargers apart.
"""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from monitor.estimation.trend import Floats
from monitor.settings import Bank

USUAL_CELL_V = 3.55
"""What chargers hold a lithium cell at, until learned: makers' 14.2 V for four. Common practice."""
LEAST_CELL_V = 3.42
"""Below it a steady voltage is the plateau, not a charger's hold."""
STEADY_CELL_V, STEADY_MIN = 0.002, 4
"""A voltage that stays within this for so long is held,"""
TAPER = 0.97
"""where the current falls meanwhile, to this part of it or less,"""
LEARNT_TAPER = 0.75
"""and to this part over a hold that is learned from,"""
LEARNT_MIN = 10
"""lasting so long."""
UNKNOWN_REGULATOR_V = 0.015
"""So much more a cell may an engine's regulator hold, until it has shown its own voltage."""
PASSED_CELL_V = 0.003
"""So far above what was thought to be held, it is not held."""


class Holding:
    """The voltages the chargers of one bank hold."""

    def __init__(self, bank: Bank) -> None:
        self._cells = bank.cells
        self._usual_V = USUAL_CELL_V * bank.cells
        self._learned_V: dict[str, float] = {}
        self._since_A: float | None = None
        self._minutes = 0
        self._passed = False
        self.held = False

    def take(self, by: str, current_A: Floats, pack_V: Floats) -> None:
        """Look at the newest minutes (means, the newest last) of a charge by "engine" or "others"."""
        if not pack_V.size or not math.isfinite(pack_V[-1] + current_A[-1]):
            self.leave()
            return
        self.held = self._steady(current_A, pack_V)
        if self.held:
            self._since_A = self._since_A or float(current_A[0])
            self._minutes += 1
            if self._minutes >= LEARNT_MIN and current_A[-1] <= LEARNT_TAPER * self._since_A:
                self._learned_V[by] = round(float(np.median(pack_V)), 3)
                self._passed = False
        else:
            self._since_A, self._minutes = None, 0
            expected_V = self._expected_V(by)
            if pack_V[-1] > expected_V + PASSED_CELL_V * self._cells:
                self._passed = True
        if pack_V[-1] < LEAST_CELL_V * self._cells:
            self._passed = False

    def leave(self) -> None:
        """No charge, or nothing known of it."""
        self.held, self._passed, self._since_A, self._minutes = False, False, None, 0

    def expected_V(self, by: str) -> float:
        """What the chargers will hold; infinite where they have gone beyond it."""
        return math.inf if self._passed else self._expected_V(by)

    def _expected_V(self, by: str) -> float:
        spare_V = UNKNOWN_REGULATOR_V * self._cells if by == "engine" else 0.0
        return self._learned_V.get(by, self._usual_V + spare_V)

    def _steady(self, current_A: Floats, pack_V: Floats) -> bool:
        current_A, pack_V = current_A[-STEADY_MIN:], pack_V[-STEADY_MIN:]
        if pack_V.size < STEADY_MIN or not pack_V.min() >= LEAST_CELL_V * self._cells:
            return False
        steady = np.ptp(pack_V) <= STEADY_CELL_V * self._cells
        return bool(steady and current_A[-1] <= TAPER * current_A[0])

    def state(self) -> dict[str, Any]:
        return dict(self._learned_V)

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        self._learned_V = {by: float(state[by]) for by in ("engine", "others") if by in state}
