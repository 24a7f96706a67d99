"""The charge of a bank with its band: counted from the last full charge, unknown before the first.

Lithium iron phosphate shows its charge in its voltage only at the ends, so the count is corrected
where the charger holds the full voltage and the current has fallen to a tail. Between fulls the
band widens with what is not known of the sensor (`monitor.estimation.counting`); time in which
nothing was heard widens it by what usually flows (`monitor.estimation.swing`) and is never filled.
"""

from typing import Any, NamedTuple

import numpy as np

from monitor.estimation import charge_told
from monitor.estimation.bank_rest import BankRest, Warmth
from monitor.estimation.counting import ChargeCount, Remaining
from monitor.estimation.full import FullHold
from monitor.estimation.knees import cold_doubt
from monitor.estimation.low_end import LowEnd
from monitor.estimation.priors import PRIORS
from monitor.estimation.readings import heard, standing_at
from monitor.estimation.spans import Held, Holding
from monitor.estimation.swing import Swing
from monitor.records import Column, Estimate
from monitor.settings import Bank

_CLOSURE_AFTER_S = 12 * 3600.0
"""A stretch shorter than this teaches nothing that the fulls' own error would not drown."""
_LOST_SD = 0.30
"""A count whose standard deviation is this share of the capacity says nothing any more."""
_TOLERATED_S = 15.0
"""Of a minute: a hiccup of the bus ends no full charge and no rest."""


class Full(NamedTuple):
    """A full charge: when it was over, how long after the one before (None where that is not known),
    by how much the count was off [Ah] (None where that was too short to tell), and the sensor offset
    now believed [A]."""

    at_s: float
    since_s: float | None
    miss_Ah: float | None
    offset_A: float


class ChargeTracker:
    """Follows one bank, a minute of readings at a time."""

    def __init__(self, bank: Bank) -> None:
        prior = PRIORS[bank.chemistry]
        self.bank = bank
        self.counted = bank.role == "house"
        self._count = ChargeCount(bank.capacity_Ah, prior)
        self._low_end = LowEnd(self._count, bank.capacity_Ah, prior.capacity_sd)
        self._swing = Swing(bank.capacity_Ah)
        self._holding = Holding()
        self._hold = FullHold(bank)
        self._rest = BankRest(bank.capacity_Ah, bank.cells)
        self._warmth = Warmth()
        self._anchored = False
        self._lost = False
        self._fresh = False
        """It became known in this very full charge: there is nothing to compare with."""
        self._since_full_s = 0.0
        self._gap_s = 0.0
        """Of the gap that is not over: what may have flowed in it is not in the count yet."""
        self._fulls: list[Full] = []

    # What goes in.

    def take(self, current: Column, voltage: Column, temperature: Column | None = None) -> None:
        """Count a minute of readings, at the rate they came. [A, V, °C; positive current charges]

        Each reading holds until the next, for at most five times the usual spacing; time beyond
        that is a gap. An empty column is silence. Times that run backwards begin a new boot: how
        long the watch was off is told by `gap`.
        """
        times, amps = heard(current)
        if not self.counted or not times.size:
            return
        held = self._holding.take(times, amps)
        if held.unheard_s > 0:
            self._unheard(held.unheard_s)
        self._count.blur(self._swing.sd_Ah(self._gap_s) ** 2)
        self._gap_s = 0.0
        heard_s = held.heard_s
        self._warmth.feel(np.empty(0) if temperature is None else heard(temperature)[1], heard_s)
        self._hold.feel(self._warmth.celsius)
        if heard_s > 0:
            volts = standing_at(times, *heard(voltage))
            unbroken = held.unheard_s <= _TOLERATED_S
            holding = unbroken and self._hold.holds(amps, volts, self.since_full_s)
            if not holding:
                self._end_hold()
            net_Ah = self._follow(held, heard_s)
            if holding:
                self._hold_on(heard_s, float(amps.mean()), net_Ah)
            cell_V = self._rest.cell_V(amps, volts, heard_s if unbroken else 0.0)
            if cell_V is not None and self.bank.chemistry == "lifepo4":
                self._low_end.rested(cell_V, self._warmth.celsius, self._anchored)

    def gap(self, seconds: float) -> None:
        """The watch was off or deaf for so long. Say the longest it may have been."""
        if seconds > 0 and self.counted:
            self._unheard(seconds)
            self._holding.gap(seconds)

    def new_boot(self) -> None:
        """Elapsed time begins anew, wherever it was: how long that took is told by `gap`."""
        self._holding.new_boot()

    # What comes out.

    def estimates(self, at_s: float) -> list[Estimate]:
        """charge_pct and left_Wh (above 0 %) with their 90 % bands; None before the first full."""
        left = self._remaining(at_s)
        if left is None:
            return charge_told.unknown(self.bank, at_s, self.counted, self._lost or self._anchored)
        until_s = self._holding.until_s
        since_s = self._since_full_s + max(0.0, at_s - (at_s if until_s is None else until_s))
        silent_s, low_end = self._holding.silence_s(at_s), self._low_end
        why = charge_told.why(since_s, silent_s, self.changed, self._count, low_end)
        return charge_told.estimates(self.bank, at_s, left, why, self._count, low_end.capacity.pairs)

    def posterior(self, at_s: float | None = None) -> tuple[float, float] | None:
        """Mean and standard deviation of what is left above 0 %. [Wh] None while it is unknown."""
        left = self._remaining(self._holding.until_s if at_s is None else at_s)
        return None if left is None else (left.Ah * self.bank.nominal_V, left.sd_Ah * self.bank.nominal_V)

    def full_events(self) -> list[Full]:
        """The full charges found since this was last asked."""
        found, self._fulls = self._fulls, []
        return found

    @property
    def anchored(self) -> bool:
        return self._anchored

    @property
    def since_full_s(self) -> float | None:
        """Seconds since the bank was last full, up to the newest reading; None before the first."""
        return self._since_full_s if self._anchored else None

    @property
    def last_full_at_s(self) -> float | None:
        """Elapsed time of the last full; before the boot's beginning it is negative."""
        if not self._anchored or self._holding.until_s is None:
            return None
        return self._holding.until_s - self._since_full_s

    @property
    def offset_A(self) -> float:
        """The sensor's offset (and any drain it does not see) as learned so far. [A]"""
        return self._count.offset_A

    @property
    def offset_sd_A(self) -> float:
        return self._count.offset_sd_A

    @property
    def capacity_Ah(self) -> tuple[float, float]:
        """What it holds, as learned so far, and the standard deviation of that. [Ah]"""
        return self._count.capacity_Ah, self._count.capacity_sd_Ah

    @property
    def low_ends(self) -> int:
        """So many pairs of a full charge and a low end the capacity was learned from."""
        return self._low_end.capacity.pairs

    def zeroed(self, offset_A: float, sd_A: float) -> float:
        """The sensor's offset was measured with nothing flowing: what that moved the count by. [Ah]"""
        return self._count.zeroed(offset_A, sd_A)

    def unzeroed(self, offset_A: float, sd_A: float, moved_Ah: float) -> None:
        """As it was before `zeroed`."""
        self._count.hold_offset(offset_A, sd_A, moved_Ah)

    @property
    def changed(self) -> bool:
        """Two full charges, or two low ends, in a row did not fit: sensor or bank is not what it was."""
        return self._count.changed or self._low_end.capacity.changed

    def state(self) -> dict[str, Any]:
        """What a restart must not lose, as JSON values."""
        return {
            "count": self._count.state(),
            "low_end": self._low_end.state(),
            "swing": self._swing.state(),
            "hold": self._hold.state(),
            "label_Ah": self.bank.capacity_Ah,
            "anchored": self._anchored,
            "lost": self._lost,
            "since_full_s": self._since_full_s,
            "gap_s": self._gap_s,
        }

    def restore(self, state: dict[str, Any]) -> None:
        """The inverse of `state`; call `gap` next. Of a bank with another label nothing is kept."""
        if state["label_Ah"] != self.bank.capacity_Ah:
            return
        self._count.restore(state["count"])
        self._low_end.restore(state["low_end"])
        self._swing.restore(state["swing"])
        self._hold.restore(state["hold"])
        self._anchored, self._lost = bool(state["anchored"]), bool(state["lost"])
        self._since_full_s, self._gap_s = float(state["since_full_s"]), float(state["gap_s"])

    # How it is done.

    def _follow(self, held: Held, heard_s: float) -> float:
        """Count the minute and return what the sensor has of it. [Ah]"""
        offset_A, hours = self._count.offset_A, heard_s / 3600
        net_Ah = float(held.spans_s @ held.amps) / 3600
        charged_Ah = float(held.spans_s @ np.maximum(held.amps - offset_A, 0.0)) / 3600
        if not self._hold.closed:
            self._count.advance(hours, net_Ah, charged_Ah)
        self._swing.take(heard_s, net_Ah - offset_A * hours)
        self._pass(heard_s)
        return net_Ah

    def _unheard(self, seconds: float) -> None:
        """Nobody knows what flowed: within a gap, however it is told, that is one unknown."""
        if seconds > _TOLERATED_S:
            self._end_hold()
            self._rest.end()
        self._swing.gap(seconds)
        self._gap_s += seconds
        self._pass(seconds)
        if self._anchored and self._is_lost(self._swing.sd_Ah(self._gap_s) ** 2):
            self._anchored, self._lost = False, True

    def _pass(self, seconds: float) -> None:
        self._since_full_s += seconds
        self._low_end.pass_by(seconds)

    def _hold_on(self, heard_s: float, amps: float, net_Ah: float) -> None:
        """The charger holds the full voltage on: the bank is full once that has lasted."""
        hold = self._hold
        was_Ah, *_ = hold.below()
        hold.go_on(heard_s, amps - self._count.offset_A, net_Ah)
        if hold.full and not self._anchored:
            below_Ah, sd_Ah, common_Ah = hold.below()
            self._low_end.full(
                below_Ah, float(np.hypot(sd_Ah, common_Ah)), self._warmth.celsius, anchored=False
            )
            self._count.pin(below_Ah, sd_Ah, common_Ah)
            self._anchored, self._fresh, self._lost = True, True, False
            self._since_full_s = 0.0
        elif hold.closed:
            below_Ah, _, common_Ah = hold.below()
            self._count.settle(was_Ah - below_Ah, common_Ah)
            self._since_full_s = 0.0
        elif hold.done:
            self._close()

    def _end_hold(self) -> None:
        if self._hold.full and not self._hold.closed:
            self._close()
        self._hold.end()

    def _close(self) -> None:
        """The full charge is over, or as good as over: learn from it, and count from here."""
        self._hold.close()
        below_Ah, sd_Ah, common_Ah = self._hold.below()
        since_s = None if self._fresh else self._since_full_s
        miss_Ah = None
        if since_s is not None and since_s >= _CLOSURE_AFTER_S:
            miss_Ah = self._count.close(below_Ah, sd_Ah, common_Ah).miss_Ah
        else:
            self._count.pin(below_Ah, sd_Ah, common_Ah)
        self._fulls.append(Full(self._holding.until_s or 0.0, since_s, miss_Ah, self._count.offset_A))
        self._low_end.full(below_Ah, float(np.hypot(sd_Ah, common_Ah)), self._warmth.celsius, anchored=True)
        self._fresh, self._since_full_s = False, 0.0

    def _remaining(self, at_s: float | None) -> Remaining | None:
        """What is left, the gap that is not over included in its band."""
        unheard_Ah2 = self._swing.sd_Ah(self._gap_s + self._holding.silence_s(at_s)) ** 2
        if not self._anchored or self._is_lost(unheard_Ah2):
            return None
        return self._count.remaining(unheard_Ah2, cold_doubt(self._warmth.celsius))

    def _is_lost(self, unheard_Ah2: float) -> bool:
        return self._count.below_sd_Ah**2 + unheard_Ah2 > (_LOST_SD * self._count.capacity_Ah) ** 2
