"""The leak judge: runs of just one refill, in time, are the leak detector; rests are the proof.

While nobody draws, a pump starts only because water has gone: a lone refill. A leak of q L/h makes
one every V_d / q hours; an innocent household makes 0.1 to 0.3 a night. For each rate of a grid a
cumulative sum compares the two (`monitor.estimation.poisson`), and a leak is suspected when one
passes the threshold.

A leak is also regular, which plain sums leave out: from a full accumulator the next start must
come within V_d / q, draws only hasten it. So a longer rest refutes q and its sum begins anew, and
every rest is an upper bound: the system is tight to within V_d / T.
"""

from collections import deque
from collections.abc import Sequence
from math import exp
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.bouts import APART_S, Bout
from monitor.estimation.heater import Heaters
from monitor.estimation.poisson import RefillSums, rate_band
from monitor.estimation.pump import LOST_S, RefillTime
from monitor.estimation.rests import Rests
from monitor.records import Estimate, Reason
from monitor.settings import Heater, Pump

TIGHT, SUSPECTED, UNKNOWN = "tight", "leak suspected", "not enough known yet"

STARTS_PER_H = tuple(0.04 * 2 ** (n / 2) for n in range(18))
"""The rates that are looked for, 0.04 to 14 starts an hour, each 1.4 times the one before."""
INNOCENT_PER_H = 0.02
"""Lone refills by chance, asleep: 0.16 in a night of 8 h, where a run counts as one while it is
within `INNOCENT_L` of a refill, and in proportion where the timing is coarser."""
INNOCENT_L = 0.045
AWAKE_FACTOR = 12.0
"""How many more there are by day, half an hour after the last draw."""
THRESHOLD = 9.0
"""At which sum of evidence a leak is suspected; set on simulated households so that a false one
comes in some ten years of nights, at the drawdowns of 0.04 to 1.5 L and timings of 0.1 to 1 s."""
LEAST_REFILLS = 3
"""Fewer are never called a leak."""
DOUBT = 3.0
"""Past this sum a system is not called tight."""
HOLD_ASLEEP_S, HOLD_AWAKE_S = 600.0, 1800.0
"""After a draw another is likely: starts so soon after one say nothing. [s]"""
LONG_RUN_S = 480.0
"""A run past this is no usual draw (common practice: 6 to 8 minutes): rests before it are void."""
FORGET_S = 12 * HOUR_S
"""Past this silence the plumbing may be another. [s]"""
EXPLAINED_SHARE = 0.7
"""A heater that took this share of a drawdown is the whole reason for the refill."""
DRAWS_ASLEEP_PER_H, DRAWS_AWAKE_PER_H = 0.2, 1.5
"""Draws too small to start the pump (common practice: 1.5 a night)."""
TIGHT_L_PER_H = 0.1
"""A bound this low is called tight: some drips a minute. [L/h]"""


class LeakJudge:
    """Hears one pump's runs and says whether the system is tight.

    Feed it in order of time: `heater` and `quiet` when they are known, `run` for each whole run,
    then `tick` (the pump's signal is alive) at least every minute.
    """

    def __init__(self, pump: Pump, heaters: Sequence[Heater] = ()) -> None:
        self._name = pump.name
        self._timing_s = pump.timing_s
        self._flow_L_per_s = pump.flow_L_per_min / 60.0
        self.refill = RefillTime(pump)
        self._heaters = Heaters(heaters)
        self._lines = RefillSums(STARTS_PER_H)
        self._intervals: deque[tuple[float, float]] = deque(maxlen=12)
        """Hours of rest before the latest unexplained refills, and the litres gone in them."""
        self._rests = Rests()
        self._asleep = False
        self._suspected = False
        self._doubted = False
        self._stream_L_per_h: float | None = None
        self._now_s: float | None = None
        self._counted_s = 0.0
        self._quiet_s = 0.0
        self._stop_s: float | None = None
        self._ran_s = 0.0
        """How long it has been running, by the ticks."""
        self._draws = 0.0
        """How many draws too small to start the pump are to be expected since it stopped."""
        self._bout: Bout | None = None

    @property
    def drawdown_L(self) -> float:
        """What one refill moves. [L]"""
        return self.refill.seconds * self._flow_L_per_s

    @property
    def tolerance_s(self) -> float:
        """How far from a refill's length a run may be and still count as one. [s]"""
        return 0.08 * self.refill.seconds + self._timing_s

    def quiet(self, at_s: float, asleep: bool) -> None:
        """Whether everybody is asleep or away, from now on."""
        self._asleep = asleep

    def heater(self, name: str, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        """What is known of a heater: its water's temperature, and whether its element is on."""
        self._heaters.take(name, at_s, temperature_C, on)

    def tick(self, at_s: float, running: bool = False) -> None:
        """The pump's signal was alive up to `at_s`, and every run that ended is told; whether it
        runs now: a run under way is no rest."""
        if running and self._now_s is not None and at_s - self._now_s <= LOST_S:
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
        rest_h = None if self._stop_s is None else (start_s - self._stop_s) / HOUR_S
        self._bout = Bout(start_s, end_s, rest_h, self._heaters.taken_L(), self._drawn, 1, end_s - start_s)

    def _come_to(self, at_s: float) -> None:
        silence_s = 0.0 if self._now_s is None else at_s - self._now_s
        if self._now_s is None or silence_s > LOST_S:
            self._lost(at_s, silence_s)
        self._now_s = max(at_s, self._now_s or at_s)
        if self._bout is not None and at_s - self._bout.end_s >= APART_S:
            self._close(self._bout)
        if self._bout is None:
            self._wait(at_s)

    def _lost(self, at_s: float, silence_s: float) -> None:
        """The signal begins, or begins again: nothing is known of what was before."""
        if self._now_s is not None:
            self._rests.end(self._now_s)
        self._bout = self._stop_s = None
        self._counted_s = self._quiet_s = at_s
        if silence_s > FORGET_S:
            self._lines.reset()
            self._intervals.clear()

    def _wait(self, at_s: float) -> None:
        """No run up to here."""
        quiet_h = (at_s - max(self._counted_s, self._quiet_s)) / HOUR_S
        if quiet_h > 0:
            self._lines.wait(quiet_h, self._drawn)
        waited_h = max(0.0, at_s - self._counted_s) / HOUR_S
        self._draws += waited_h * (DRAWS_ASLEEP_PER_H if self._asleep else DRAWS_AWAKE_PER_H)
        self._counted_s = max(self._counted_s, at_s)
        self._heaters.settle(at_s)
        if self._stop_s is None or at_s <= self._stop_s or self._heaters.may_give_back():
            return
        given_L = max(0.0, self._heaters.lag_L() - self._heaters.taken_L())
        room_L, seconds = self.drawdown_L + given_L, at_s - self._stop_s
        self._rests.go_on(seconds, room_L)
        self._refute(seconds / HOUR_S * self.drawdown_L / room_L)

    def _refute(self, rest_h: float) -> None:
        """A rest so long ends the leaks that it excludes. Where the suspected one is among them,
        the refills that spoke for it speak for no slower one."""
        line = self._lines.best(LEAST_REFILLS)
        self._lines.refute(rest_h)
        if self._suspected and line is not None and not self._lines.events[line]:
            self._lines.reset()

    def _close(self, bout: Bout) -> None:
        """The bout is over: it was a draw, or a lone refill."""
        self._rests.end(bout.start_s)
        ran_on = bout.longest_s > LONG_RUN_S
        if ran_on:
            self._rests.forget()
        self._stream_L_per_h = None
        lone = False
        if bout.runs == 1:
            seconds = bout.end_s - bout.start_s
            lone = abs(seconds - self.refill.seconds) <= self.tolerance_s
            if bout.start_s >= self._quiet_s:
                self.refill.add(seconds)
        if not lone:
            self._quiet_s = bout.end_s + (HOLD_ASLEEP_S if self._asleep else HOLD_AWAKE_S)
        elif bout.start_s >= self._quiet_s:
            self._lone(bout)
        # Whoever hears a pump run on switches it off: that stop fills no accumulator.
        self._stop_s = None if ran_on else bout.end_s
        self._counted_s = bout.end_s
        self._draws = 0.0
        self._heaters.pump_stopped()
        self._bout = None

    def _lone(self, bout: Bout) -> None:
        """A refill with nobody drawing: a heater's, or evidence."""
        if self._heaters.may_give_back():
            self._heaters.forgive(self.drawdown_L)
            return
        if bout.rest_h is None or bout.taken_L >= EXPLAINED_SHARE * self.drawdown_L:
            return
        leaked_L = self.drawdown_L - bout.taken_L
        rest_h = bout.rest_h * self.drawdown_L / leaked_L
        self._lines.refill(self._innocent_per_h(bout, bout.rest_h), rest_h, bout.drawn)
        self._intervals.append((bout.rest_h, leaked_L))

    @property
    def _drawn(self) -> float:
        """How likely it is that somebody has drawn a little since the pump stopped."""
        return 1.0 - exp(-self._draws)

    def _innocent_per_h(self, bout: Bout, rest_h: float) -> float:
        """Lone refills an hour without a leak: by chance, and where a draw too small to start the
        pump left a heater only little to take."""
        width_L = self.tolerance_s * self._flow_L_per_s
        by_chance = INNOCENT_PER_H * max(1.0, width_L / INNOCENT_L) * (1.0 if self._asleep else AWAKE_FACTOR)
        return by_chance + bout.drawn * max(0.0, bout.taken_L) / rest_h / self.drawdown_L

    def _decide(self) -> None:
        """Suspect at the threshold; stop suspecting at half of it."""
        line = self._lines.best(LEAST_REFILLS)
        limit = THRESHOLD * (0.5 if self._suspected else 1.0)
        found = line is not None and self._lines.sums[line] >= limit
        self._suspected = found or self._stream_L_per_h is not None
        doubted = self._stream_L_per_h is not None or max(self._lines.sums) > DOUBT
        if doubted and not self._doubted:
            self._rests.forget(under_way=False)
        self._doubted = doubted

    def tight_below_L_per_h(self) -> float | None:
        """The smallest leak that some rest of the last day and a half would have shown; no less
        than what is suspected. [L/h]"""
        bound = self._rests.lowest(self._now_s or 0.0)
        if bound is None:
            return None
        rate = self.rate_L_per_h()
        return bound if rate is None else max(bound, rate[2])

    def rate_L_per_h(self) -> tuple[float, float, float] | None:
        """The suspected leak: likely, and its 90 % band. [L/h]"""
        if not self._suspected:
            return None
        if self._stream_L_per_h is not None:
            q = self._stream_L_per_h
            return q, 0.8 * q, 1.25 * q
        line = self._lines.best(LEAST_REFILLS)
        if line is None:
            return None
        likely = self._lines.rates_per_h[line] * self.drawdown_L
        latest = list(self._intervals)[-self._lines.events[line] :]
        on_time = [(h, v) for h, v in latest if RefillSums.EARLY <= h * likely / v <= RefillSums.LATE]
        if not on_time:
            return likely, likely / 2, likely * 2
        hours, litres = (sum(column) for column in zip(*on_time, strict=True))
        value = litres / hours
        low, high = (rate * litres / len(on_time) for rate in rate_band(len(on_time), hours))
        longest = min(v / h for h, v in latest)
        unsure = 1.1 + 0.25 * self._timing_s / self.refill.seconds
        return value, low / unsure, unsure * max(value, min(high, longest))

    def verdict(self) -> tuple[str, Reason]:
        """One of `TIGHT`, `SUSPECTED`, `UNKNOWN`, and why."""
        rate, bound = self.rate_L_per_h(), self.tight_below_L_per_h()
        line = self._lines.best()
        events, height = (0, 0.0) if line is None else (self._lines.events[line], self._lines.sums[line])
        facts: dict[str, Any] = {"refills": events, "bound_L_per_h": bound}
        if rate is not None:
            value, low, high = rate
            facts |= {"leak_L_per_h": value, "low_L_per_h": low, "high_L_per_h": high}
            return SUSPECTED, Reason("leak suspected", facts | {"leak_L_per_day": 24 * value})
        if self._heaters.may_give_back():
            return UNKNOWN, Reason("leak unknown while a heater may be cooling", facts)
        if height > DOUBT:
            return UNKNOWN, Reason("leak unknown after some refills", facts)
        if bound is None or bound > TIGHT_L_PER_H:
            return UNKNOWN, Reason("leak unknown without a long rest", facts)
        return TIGHT, Reason("tight", facts)

    def estimates(self, at_s: float) -> list[Estimate]:
        """leak_L_per_h, None unless one is suspected; tight_below_L_per_h, None without a rest."""
        _, reason = self.verdict()
        value, low, high = self.rate_L_per_h() or (None, None, None)
        bound = self.tight_below_L_per_h()
        told = Reason("tight to within", {"bound_L_per_h": bound}) if bound is not None else reason
        return [
            Estimate("leak_L_per_h", self._name, at_s, value, low, high, reason),
            Estimate("tight_below_L_per_h", self._name, at_s, bound, bound, bound, told),
        ]

    def state(self) -> dict[str, Any]:
        """What must outlive a restart, as JSON values; no time of this boot is in it."""
        return {
            "sums": [round(s, 4) for s in self._lines.sums],
            "events": list(self._lines.events),
            "intervals": [[round(h, 4), round(v, 4)] for h, v in self._intervals],
            "bounds": self._rests.state(self._now_s or 0.0),
            "suspected": self._suspected,
            "refills": self.refill.state(),
        }

    def restore(self, state: dict[str, Any], at_s: float = 0.0) -> None:
        """The inverse of `state`, at `at_s` of a new boot: how long it was off is not known."""
        if len(state["sums"]) == len(self._lines.sums):
            self._lines.sums = list(state["sums"])
            self._lines.events = list(state["events"])
            self._suspected = state["suspected"]
        self._intervals.extend((h, v) for h, v in state["intervals"])
        self._rests.restore(state["bounds"], at_s)
        self.refill.restore(state["refills"])
