"""When a bank is full, and how full: the charger holds the full voltage and the current is a tail.

At a held voltage the current falls with what is still missing, q = tau * I, so a tail of I says how
far below full the bank stands. tau is learned from the bank's own tails (charge taken in over fall
of current), so a charge broken off early and one held to the end are measured by the same rule.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.settings import Bank

Floats = npt.NDArray[np.float64]

FULL_AFTER_S = 600.0
_LONGEST_S = 2 * 3600.0
_DONE_SHARE = 0.01
"""At a current of this share of the capacity nothing more is to be learned from waiting."""
_HELD_SHARE = 0.9
"""Of a minute's readings: a load that starts may dip a few."""
_HALF_STEP_V = 0.005
SD_SHARE = 0.003
"""Of the capacity, common practice: what a full charge at a held voltage is worth at first; its tail comes
on top. Later the boat's own closures say (`monitor.estimation.repeats`)."""
_TAU_H, _TAU_DOUBT, _TAU_LEAST_H, _TAU_MOST_H = 0.35, 0.25, 0.05, 1.5
"""Common practice: a tail of 4 % stands some 1.5 % below full, give or take a quarter."""
_COLD_C, _COLD_FACTOR = 10.0, 2.0
"""Common practice: in the cold the tail comes early."""
_USUAL_HOLD_V = 3.52
"""A cell, common practice: chargers hold 3.45 to 3.65 V; what this bank's hold is learned."""
_SLACK_V = 0.025
"""A cell this far below the usual hold is hardly held by a charger: it is a sunny bank nearly full."""
_LOW_HOLD_SD_SHARE = 0.025
PATIENCE_S = 7 * 86400.0
"""So long after the last full a lower hold is taken for what the chargers now do."""


class FullHold:
    """Follows one stretch of held full voltage after another."""

    def __init__(self, bank: Bank) -> None:
        self._full_V = bank.full_voltage_V - _HALF_STEP_V
        self._cells = bank.cells
        usual_V = bank.full_V or (_USUAL_HOLD_V * bank.cells if bank.chemistry == "lifepo4" else None)
        self._usual_V = self._full_V if usual_V is None else usual_V
        self._learned_V: float | None = None
        """What the chargers were seen to hold."""
        self._held_V = 0.0
        self._tail_A = bank.tail_current_A
        self._capacity_Ah = bank.capacity_Ah
        self._tau_h, self._tails = _TAU_H, 0
        self._cold = False
        self._lasted_s = 0.0
        self._at_A = self._from_A = self._taken_Ah = 0.0
        self.closed = False
        """This stretch has been learned from."""

    @property
    def full(self) -> bool:
        """It has lasted the ten minutes."""
        return self._lasted_s >= FULL_AFTER_S

    @property
    def done(self) -> bool:
        """Waiting on would tell nothing new."""
        return self.full and (self._at_A < _DONE_SHARE * self._capacity_Ah or self._lasted_s >= _LONGEST_S)

    def below(self) -> tuple[float, float, float]:
        """How far below full the bank stands at this tail, and two standard deviations: of what this full
        has for itself, and of what such a tail tells wrong every time. [Ah]"""
        below_Ah = self._tau_h * self._at_A
        share = SD_SHARE * (_COLD_FACTOR if self._cold else 1.0)
        if self._low:
            share = _LOW_HOLD_SD_SHARE
        return below_Ah, share * self._capacity_Ah, _TAU_DOUBT * below_Ah

    def feel(self, temperature_C: float | None) -> None:
        """The bank's temperature, where it is known."""
        self._cold = temperature_C is not None and temperature_C < _COLD_C

    @property
    def _low(self) -> bool:
        """The voltage stands above the limit, but below what the chargers hold."""
        usual_V = self._usual_V if self._learned_V is None else self._learned_V
        return self._held_V < usual_V - _SLACK_V * self._cells

    def holds(self, amps: Floats, volts: Floats, since_full_s: float | None) -> bool:
        """Whether a minute's readings (pairs) show the full voltage held and a tail flowing in.

        A nearly full bank in the sun stands above the limit with a small current too. So once it is
        known what the chargers hold, less is no full until a week has passed without one.
        """
        if not volts.size:
            return False
        least_V = self._full_V
        if self._learned_V is not None and since_full_s is not None and since_full_s < PATIENCE_S:
            least_V = max(least_V, self._learned_V - _SLACK_V * self._cells)
        both = (volts >= least_V) & (amps > 0) & (amps < self._tail_A)
        if both.mean() < _HELD_SHARE or not 0 < amps.mean() < self._tail_A:
            return False
        self._held_V = float(np.median(volts))
        return True

    def go_on(self, seconds: float, amps: float, taken_Ah: float) -> None:
        """It held for so long, at this mean current (offset removed), and took in so much."""
        was_full = self.full
        self._lasted_s += seconds
        self._at_A = max(0.0, amps)
        if not was_full:
            self._from_A, self._taken_Ah = self._at_A, 0.0
        else:
            self._taken_Ah += taken_Ah

    def close(self) -> None:
        """Learn tau from this stretch, where its current fell enough to show it."""
        self.closed = True
        if not self._low:
            before_V = self._held_V if self._learned_V is None else self._learned_V
            self._learned_V = before_V + 0.5 * (self._held_V - before_V)
        elif self._learned_V is not None:
            self._learned_V = self._held_V
        fall_A = self._from_A - self._at_A
        if fall_A > 0.25 * self._from_A and self._taken_Ah > 0:
            seen_h = min(max(self._taken_Ah / fall_A, _TAU_LEAST_H), _TAU_MOST_H)
            self._tails += 1
            self._tau_h += max(0.3, 1 / (self._tails + 1)) * (seen_h - self._tau_h)

    def end(self) -> None:
        """The voltage or the current left: the next stretch begins anew."""
        self._lasted_s, self.closed = 0.0, False

    def state(self) -> dict[str, Any]:
        return {"tau_h": self._tau_h, "tails": self._tails, "hold_V": self._learned_V}

    def restore(self, state: dict[str, Any]) -> None:
        self._tau_h, self._tails = float(state["tau_h"]), int(state["tails"])
        self._learned_V = state["hold_V"]
