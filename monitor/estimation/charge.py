"""The charge of a bank with its band: counted from the last full charge, unknown before the first.

Lithium iron phosphate shows its charge in its voltage only at the ends, so the count is pinned
where the charger holds the full voltage and the current has fallen to a tail. Between fulls the
band widens with what is not known of the sensor (`monitor.estimation.counting`); time in which
nothing was heard widens it and is never filled.
"""

from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.counting import PRIORS, ChargeCount, Remaining
from monitor.estimation.full import FullHold
from monitor.estimation.knees import rested_charge
from monitor.estimation.readings import Floats, heard, standing_at
from monitor.records import Column, Estimate, Reason
from monitor.settings import Bank

BAND_90 = 1.645
_REST_AFTER_S = 1800.0
_CLOSURE_AFTER_S = 12 * 3600.0
"""A stretch shorter than this teaches nothing that the fulls' own error would not drown."""
_LOST_SD = 0.30
"""A count whose standard deviation is this share of the capacity says nothing any more."""
_USUAL_CURRENT_SHARE = 0.03
_USUAL_CURRENT_SPAN_S = 86400.0
_LONGEST_SPACINGS = 5.0
_LEAST_CAP_S = 2.0
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
        self.bank = bank
        self.counted = bank.role == "house"
        self._count = ChargeCount(bank.capacity_Ah, PRIORS[bank.chemistry])
        self._anchored = False
        self._lost = False
        self._fresh = False
        """It became known in this very full charge: there is nothing to compare with."""
        self._since_full_s = 0.0
        self._until_s: float | None = None
        """Elapsed time up to which everything is accounted for."""
        self._last_A = np.nan
        self._cap_s = 60.0
        self._gap_s = 0.0
        self._usual_A2 = (_USUAL_CURRENT_SHARE * bank.capacity_Ah) ** 2
        self._hold = FullHold(bank)
        self._rest_run_s = 0.0
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
        if self._until_s is not None and times[-1] < self._until_s:
            self._until_s = None
        spans, unheard_s = self._spans(times)
        if unheard_s > 0:
            self._unheard(unheard_s)
        self._gap_s = 0.0
        heard_s = float(spans.sum())
        held = np.concatenate(([self._last_A], amps[:-1])) if self._until_s is not None else amps[:-1]
        self._last_A, self._until_s = float(amps[-1]), float(times[-1])
        if temperature is not None:
            self._hold.feel(heard(temperature)[1])
        if heard_s > 0:
            volts = standing_at(times, *heard(voltage))
            unbroken = unheard_s <= _TOLERATED_S
            holding = unbroken and self._hold.holds(amps, volts, self.since_full_s)
            if not holding:
                self._end_hold()
            net_Ah = self._follow(spans, held, heard_s)
            if holding:
                self._hold_on(heard_s, float(amps.mean()), net_Ah)
            self._look_for_rest(amps, volts, heard_s if unbroken else 0.0)

    def gap(self, seconds: float) -> None:
        """The watch was off or deaf for so long. Say the longest it may have been."""
        if seconds > 0 and self.counted:
            self._unheard(seconds)
            self._last_A = np.nan
            if self._until_s is not None:
                self._until_s += seconds

    def new_boot(self) -> None:
        """Elapsed time begins anew, wherever it was: how long that took is told by `gap`."""
        self._until_s, self._last_A = None, np.nan

    # What comes out.

    def estimates(self, at_s: float) -> list[Estimate]:
        """charge_pct and left_Wh (above 0 %) with their 90 % bands; None before the first full."""
        name, left = self.bank.name, self._remaining(at_s)
        if left is None:
            reason = self._why_unknown()
            return [
                Estimate(what, name, at_s, None, None, None, reason) for what in ("charge_pct", "left_Wh")
            ]
        reason, volts = self._why(at_s), self.bank.nominal_V
        return [
            _banded("charge_pct", name, at_s, 100 * left.share, 100 * left.share_sd, 100.0, reason),
            _banded("left_Wh", name, at_s, left.Ah * volts, left.sd_Ah * volts, np.inf, reason),
        ]

    def posterior(self, at_s: float | None = None) -> tuple[float, float] | None:
        """Mean and standard deviation of what is left above 0 %. [Wh] None while it is unknown."""
        left = self._remaining(self._until_s if at_s is None else at_s)
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
        if not self._anchored or self._until_s is None:
            return None
        return self._until_s - self._since_full_s

    @property
    def offset_A(self) -> float:
        """The sensor's offset (and any drain it does not see) as learned so far. [A]"""
        return self._count.offset_A

    @property
    def changed(self) -> bool:
        """Two full charges in a row did not fit the count: sensor or bank is not what it was."""
        return self._count.changed

    def state(self) -> dict[str, Any]:
        """What a restart must not lose, as JSON values."""
        return {
            "count": self._count.state(),
            "hold": self._hold.state(),
            "label_Ah": self.bank.capacity_Ah,
            "anchored": self._anchored,
            "lost": self._lost,
            "since_full_s": self._since_full_s,
            "usual_A2": self._usual_A2,
        }

    def restore(self, state: dict[str, Any]) -> None:
        """The inverse of `state`; call `gap` next. Of a bank with another label nothing is kept."""
        if state["label_Ah"] != self.bank.capacity_Ah:
            return
        self._count.restore(state["count"])
        self._hold.restore(state["hold"])
        self._anchored, self._lost = bool(state["anchored"]), bool(state["lost"])
        self._since_full_s = float(state["since_full_s"])
        self._usual_A2 = float(state["usual_A2"])

    # How it is done.

    def _spans(self, times: Floats) -> tuple[Floats, float]:
        """How long the reading before each one held, and the time that none covers. [s]"""
        if times.size > 2:
            self._cap_s = max(_LONGEST_SPACINGS * float(np.median(np.diff(times))), _LEAST_CAP_S)
        edges = times if self._until_s is None else np.concatenate(([self._until_s], times))
        whole = np.maximum(np.diff(edges), 0.0)
        spans = np.minimum(whole, self._cap_s)
        if self._until_s is not None and np.isnan(self._last_A):
            spans[0] = 0.0
        return spans, float((whole - spans).sum())

    def _follow(self, spans: Floats, held: Floats, heard_s: float) -> float:
        """Count the minute and return what the sensor has of it. [Ah]"""
        held = np.where(spans > 0, held, 0.0)
        net_As = float(spans @ held)
        charged_As = float(spans @ np.maximum(held - self._count.offset_A, 0.0))
        self._count.advance(heard_s / 3600, net_As / 3600, charged_As / 3600)
        self._since_full_s += heard_s
        weight = min(1.0, heard_s / _USUAL_CURRENT_SPAN_S)
        self._usual_A2 += weight * (float(spans @ np.square(held)) / heard_s - self._usual_A2)
        return net_As / 3600

    def _unheard(self, seconds: float) -> None:
        """Widen by the usual current flowing one way all the time: within a gap it is one unknown."""
        if seconds > _TOLERATED_S:
            self._end_hold()
            self._rest_run_s = 0.0
        self._count.blur(self._unknown_Ah2(self._gap_s + seconds) - self._unknown_Ah2(self._gap_s))
        self._gap_s += seconds
        self._since_full_s += seconds
        if self._anchored and self._is_lost():
            self._anchored, self._lost = False, True

    def _unknown_Ah2(self, seconds: float) -> float:
        return self._usual_A2 * (seconds / 3600) ** 2

    def _hold_on(self, heard_s: float, amps: float, net_Ah: float) -> None:
        """The charger holds the full voltage on: the bank is full once that has lasted."""
        hold = self._hold
        hold.go_on(heard_s, amps - self._count.offset_A, net_Ah)
        if hold.full and not self._anchored:
            self._count.pin(*hold.below())
            self._anchored, self._fresh, self._lost = True, True, False
            self._since_full_s = 0.0
        elif hold.closed:
            self._count.pin(*hold.below())
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
        below_Ah, sd_Ah = self._hold.below()
        since_s = None if self._fresh else self._since_full_s
        miss_Ah = None
        if since_s is not None and since_s >= _CLOSURE_AFTER_S:
            miss_Ah = self._count.close(below_Ah, sd_Ah).miss_Ah
        else:
            self._count.pin(below_Ah, sd_Ah)
        self._fulls.append(Full(self._until_s or 0.0, since_s, miss_Ah, self._count.offset_A))
        self._fresh, self._since_full_s = False, 0.0

    def _look_for_rest(self, amps: Floats, volts: Floats, heard_s: float) -> None:
        """Under the plateau a rested voltage is a measurement: once a rest, after half an hour."""
        calm = heard_s > 0 and volts.size and float(np.abs(amps).max()) < 0.02 * self.bank.capacity_Ah
        if not calm or not self._anchored or self.bank.chemistry != "lifepo4":
            self._rest_run_s = 0.0
            return
        before_s, self._rest_run_s = self._rest_run_s, self._rest_run_s + heard_s
        if before_s < _REST_AFTER_S <= self._rest_run_s:
            rested = rested_charge(float(np.median(volts)) / self.bank.cells)
            if rested is not None:
                self._count.rested(rested.pct / 100, rested.sd_pct / 100)

    def _remaining(self, at_s: float | None) -> Remaining | None:
        """What is left, the silence since the newest reading included in its band."""
        gap_s = self._gap_s + self._silence_s(at_s)
        unheard_Ah2 = self._unknown_Ah2(gap_s) - self._unknown_Ah2(self._gap_s)
        if not self._anchored or self._is_lost(unheard_Ah2):
            return None
        return self._count.remaining(unheard_Ah2)

    def _is_lost(self, unheard_Ah2: float = 0.0) -> bool:
        return self._count.below_sd_Ah**2 + unheard_Ah2 > (_LOST_SD * self._count.capacity_Ah) ** 2

    def _silence_s(self, at_s: float | None) -> float:
        if at_s is None or self._until_s is None:
            return 0.0
        return max(0.0, at_s - self._until_s - self._cap_s)

    def _why(self, at_s: float) -> Reason:
        facts = {
            "since_s": self._since_full_s + max(0.0, at_s - (self._until_s or at_s)),
            "offset_A": self._count.offset_A,
            "offset_sd_A": self._count.offset_sd_A,
        }
        if self._silence_s(at_s) > 0:
            return Reason("charge not heard", {**facts, "silent_s": self._silence_s(at_s)})
        return Reason("charge count doubted" if self._count.changed else "charge counted", facts)

    def _why_unknown(self) -> Reason:
        if not self.counted:
            return Reason("charge not told of this bank", {"bank": self.bank.name})
        return Reason("charge lost in a gap" if self._lost or self._anchored else "charge unknown until full")


def _banded(
    name: str, subject: str, at_s: float, value: float, sd: float, most: float, reason: Reason
) -> Estimate:
    low, high = max(0.0, value - BAND_90 * sd), min(most, value + BAND_90 * sd)
    return Estimate(name, subject, at_s, value, low, high, reason)
