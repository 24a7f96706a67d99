"""The leak judge: runs of just one refill, in time, are the leak detector; rests are the proof.

While nobody draws, a pump starts only because water has gone: a lone refill. A leak of q L/h makes
one every V_d / q hours, and so regularly that three of them stand out from the 0.1 to 0.3 a night
that an innocent household makes by chance (`monitor.estimation.evidence`). A rest longer than
V_d / q refutes q, and bounds every leak: the system is tight to within V_d / T.

What heaters and declared draws take is counted as volume, so that a heater that cools explains the
refills it can explain and no more.
"""

from collections.abc import Sequence
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.bouts import APART_S, Bout
from monitor.estimation.evidence import Rest
from monitor.estimation.leak_told import (
    SUSPECTED,
    TIGHT,
    TIGHT_L_PER_H,
    UNKNOWN,
    estimates,
    verdict,
)
from monitor.estimation.pressure import Decay
from monitor.estimation.pump import LOST_S, RefillTime
from monitor.estimation.resting import Resting
from monitor.estimation.rests import Rests
from monitor.estimation.suspicion import Suspicion
from monitor.records import Estimate, Reason
from monitor.settings import Heater, Pump

__all__ = ["SUSPECTED", "TIGHT", "UNKNOWN", "LeakJudge"]

DOUBT = 3.0
"""Past this sum of evidence a system is not called tight."""
HOLD_ASLEEP_S, HOLD_AWAKE_S = 600.0, 1800.0
"""After a draw another is likely: starts so soon after one say nothing. [s]"""
LONG_RUN_S = 480.0
"""A run past this is no usual draw (common practice: 6 to 8 minutes): rests before it are void."""
FORGET_S = 12 * HOUR_S
"""Past this silence the plumbing may be another. [s]"""
UNLEARNED = 1.35
"""So far a drawdown may be from what the settings promise, until runs have borne it out."""
UNPROVEN = 0.15
"""Until then so many more runs may be taken for refills, as a share of draws."""


class LeakJudge:
    """Hears one pump's runs and says whether the system is tight.

    Feed it in order of time: `heater` and `quiet` when they are known, `run` for each whole run,
    then `tick` (the pump's signal is alive) at least every `lost_s`.
    """

    def __init__(self, pump: Pump, heaters: Sequence[Heater] = (), lost_s: float = LOST_S) -> None:
        self._name = pump.name
        self._timing_s = pump.timing_s
        self._flow_L_per_s = pump.flow_L_per_min / 60.0
        self._measured_L = pump.drawdown_L
        self._lost_s = lost_s
        self.refill = RefillTime(pump)
        self._suspicion = Suspicion()
        self._resting = Resting(pump, heaters)
        self._rests = Rests()
        self._asleep = False
        self._doubted = False
        self._stirred = False
        """A refill that nothing explains may have been a leak's first: rests before it prove nothing."""
        self._stream_L_per_h: float | None = None
        self._now_s: float | None = None
        self._counted_s = 0.0
        self._quiet_s = 0.0
        self._ran_s = 0.0
        """How long it has been running, by the ticks."""
        self._bout: Bout | None = None
        self._before: Rest | None = None
        """The rest before that bout."""

    @property
    def drawdown_L(self) -> float:
        """What one refill moves, as it was measured or by its time. [L]"""
        return self._measured_L or self.refill.seconds * self._flow_L_per_s

    @property
    def tolerance_s(self) -> float:
        """How far from a refill's length a run may be and still count as one. [s]"""
        return 0.08 * self.refill.seconds + self._timing_s

    @property
    def _share(self) -> float:
        """Of the draws that start the pump, how many look like a refill."""
        return self.tolerance_s / self.refill.seconds + (UNPROVEN if self.refill.unproven else 0.0)

    def quiet(self, at_s: float, asleep: bool) -> None:
        """Whether everybody is asleep or away, from now on."""
        self._asleep = asleep

    def heater(self, name: str, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        """What is known of a heater: its water's temperature, and whether anything heats it."""
        self._resting.heaters.take(name, at_s, temperature_C, on)

    def pressure(self, at_s: float, gauge_bar: float) -> None:
        """What a gauge on the accumulator shows."""
        if self._bout is None:
            self._resting.pressure(at_s, gauge_bar)

    def tick(self, at_s: float, running: bool = False) -> None:
        """The pump's signal was alive up to `at_s`, and every run that ended is told; whether it
        runs now: a run under way is no rest."""
        if running and self._now_s is not None and at_s - self._now_s <= self._lost_s:
            self._ran_s += max(0.0, at_s - self._now_s)
            self._now_s = max(at_s, self._now_s)
            if self._ran_s > LONG_RUN_S:
                self._rests.forget()
        else:
            self._ran_s = 0.0
            self._come_to(at_s)
        cycle_h = None if self._bout is None else self._bout.cycle_h()
        if cycle_h is not None:
            self._stream_L_per_h = self.drawdown_L / cycle_h
        self._decide()

    def run(self, start_s: float, end_s: float) -> None:
        """One whole run of the pump."""
        self._come_to(start_s)
        if end_s - start_s > LONG_RUN_S:
            self._rests.forget()
        if self._bout is not None:
            self._bout.add(start_s, end_s, self.refill.seconds, self.tolerance_s)
            return
        self._before = self._resting.so_far(start_s, self.drawdown_L)
        self._bout = Bout(start_s, end_s, longest_s=end_s - start_s)

    def _come_to(self, at_s: float) -> None:
        silence_s = 0.0 if self._now_s is None else at_s - self._now_s
        if self._now_s is None or silence_s > self._lost_s:
            self._unheard(at_s, silence_s)
        self._now_s = max(at_s, self._now_s or at_s)
        if self._bout is not None and at_s - self._bout.end_s >= APART_S:
            self._close(self._bout)
        if self._bout is None:
            self._wait(at_s)

    def _unheard(self, at_s: float, silence_s: float) -> None:
        """The signal begins, or begins again: nothing is known of what was before."""
        if self._now_s is not None:
            self._rests.end(self._now_s)
        self._bout = None
        self._resting.forget()
        self._counted_s = self._quiet_s = at_s
        if silence_s > FORGET_S:
            self._suspicion.forget()

    def _wait(self, at_s: float) -> None:
        """No run up to here."""
        waited_h = max(0.0, at_s - self._counted_s) / HOUR_S
        quiet_h = max(0.0, at_s - max(self._counted_s, self._quiet_s)) / HOUR_S
        self._suspicion.quiet(self._asleep, quiet_h)
        self._counted_s = max(self._counted_s, at_s)
        resting = self._resting
        resting.go_on(at_s, waited_h, self._asleep, self.drawdown_L)
        seconds = resting.seconds(at_s)
        if seconds is None:
            return
        if resting.heaters.heating_unseen():
            self._rests.withhold()
            return
        sure = 1.0 if self.refill.sure else UNLEARNED
        self._rests.go_on(seconds, resting.room_L(self.drawdown_L, sure))
        if resting.lost is not None:
            self._rests.at_most(resting.lost.high_L_per_h)
        if self._rests.now_L_per_h <= TIGHT_L_PER_H:
            self._stirred = False

    def _close(self, bout: Bout) -> None:
        """The bout is over: it was a draw, or a lone refill."""
        self._rests.end(bout.start_s)
        ran_on = bout.longest_s > LONG_RUN_S
        if ran_on:
            self._rests.forget()
        self._stream_L_per_h = None
        rest, disturbed = self._before, bout.start_s < self._quiet_s
        lone = bout.runs == 1 and abs(bout.longest_s - self.refill.seconds) <= self.tolerance_s
        if bout.runs == 1:
            self.refill.add(bout.longest_s)
        if lone and not disturbed and rest is not None:
            self._lone(rest)
        elif not lone and rest is not None and not disturbed:
            self._suspicion.ended(rest)
        pumped_L = bout.longest_s * self._flow_L_per_s
        if not lone and not (bout.runs == 1 and self._resting.declared.explain(pumped_L, self.drawdown_L)):
            self._quiet_s = bout.end_s + (HOLD_ASLEEP_S if self._asleep else HOLD_AWAKE_S)
        # Whoever hears a pump run on switches it off: that stop fills no accumulator.
        self._resting.begin(bout.end_s, full=not ran_on)
        self._counted_s = bout.end_s
        self._bout = None

    def _lone(self, rest: Rest) -> None:
        """A refill with nobody drawing."""
        unexplained = self._suspicion.refill(rest, self._share, self._asleep, self.drawdown_L)
        if unexplained and self._asleep:
            if not self._stirred:
                self._rests.forget()
            self._stirred = True

    def _decide(self) -> None:
        rest = None
        if self._suspicion.stirred and self._bout is None and self._now_s is not None:
            rest = self._resting.so_far(self._now_s, self.drawdown_L)
        self._suspicion.decide(rest, self._share, self._resting.heaters.guessed())
        doubted = self.suspects or self._suspicion.height > DOUBT
        if doubted and not self._doubted:
            self._rests.forget(under_way=False)
        self._doubted = doubted

    @property
    def suspects(self) -> bool:
        """Whether it suspects a leak now."""
        return bool(self._suspicion) or self._stream_L_per_h is not None or self._by_gauge is not None

    @property
    def _by_gauge(self) -> Decay | None:
        """What a gauge surely says, where one does."""
        lost = self._resting.lost
        return lost if lost is not None and lost.sure else None

    def tight_below_L_per_h(self) -> float | None:
        """The smallest leak that some rest of the last 18 hours would have shown; no less
        than what is suspected. [L/h]"""
        bound = self._rests.lowest(self._now_s or 0.0)
        if bound is None:
            return None
        rate = self.rate_L_per_h()
        return bound if rate is None else max(bound, rate[2])

    def rate_L_per_h(self) -> tuple[float, float, float] | None:
        """The suspected leak: likely, and its 90 % band. [L/h]"""
        if self._stream_L_per_h is not None:
            q = self._stream_L_per_h
            return q, 0.8 * q, 1.25 * q
        if self._by_gauge is not None:
            return self._by_gauge[:3]
        return self._suspicion.rate_L_per_h(self.drawdown_L, self._timing_s / self.refill.seconds)

    def verdict(self) -> tuple[str, Reason]:
        """One of `TIGHT`, `SUSPECTED`, `UNKNOWN`, and why."""
        rate, bound = self.rate_L_per_h(), self.tight_below_L_per_h()
        by_gauge = self._by_gauge is not None and self._stream_L_per_h is None
        unknown = self._resting.heaters.unknown()
        return verdict(rate, bound, self._suspicion.refills, self._doubted, unknown, by_gauge)

    def estimates(self, at_s: float) -> list[Estimate]:
        """leak_L_per_h, None unless one is suspected; tight_below_L_per_h, None without a rest."""
        _, reason = self.verdict()
        return estimates(self._name, at_s, self.rate_L_per_h(), self.tight_below_L_per_h(), reason)

    def state(self) -> dict[str, Any]:
        """What must outlive a restart, as JSON values; no time of this boot is in it."""
        return {
            "suspicion": self._suspicion.state(),
            "bounds": self._rests.state(self._now_s or 0.0),
            "refills": self.refill.state(),
        }

    def restore(self, state: dict[str, Any], at_s: float = 0.0) -> None:
        """The inverse of `state`, at `at_s` of a new boot: how long it was off is not known."""
        if "suspicion" in state:
            self._suspicion.restore(state["suspicion"])
        self._rests.restore(state["bounds"], at_s)
        self.refill.restore(state["refills"])
