"""The guided test: which cock to shut, how long to wait, and what it means that the pump starts or does not.

A step waits so long that a leak of the suspected size would have emptied a full accumulator:
1.3 V_d / q, at least 20 minutes. It is over when the pump starts.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.clock import HOUR_S, MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.accumulator import pump_drawdown_L
from monitor.estimation.guided_next import concluded
from monitor.estimation.guided_state import GuidedTest, restored
from monitor.estimation.guided_steps import (
    BACK,
    COOL,
    DONE,
    DREW,
    GIVEN_UP,
    LOOKS,
    OVER,
    STEPS,
    STOPPED,
    TAPS,
    WAIT,
    parts,
    usable,
)
from monitor.estimation.guided_told import told
from monitor.estimation.guided_wait import APART_S, long_run_s, ran, shrunk_L, wait_s
from monitor.estimation.watcher import Heard, Look
from monitor.records import Command, Estimate, Event, EventKind, Finding, Guided
from monitor.settings import Pump, Settings

NO_USE_STARTS = 3
"""Where no cock is named, so many starts are enough to tell how fast it leaks."""
EXPLAINED_SHARE = 0.5
"""Of a drawdown: where a heater's cooling took as much, it may have started the pump."""
KEPT_S = 12 * HOUR_S


class GuidedWatch:
    """Watches one test at a time, which the crew starts, answers and stops. See `guided`."""

    name = "guided"
    wishes = frozenset({"guided test"})

    def __init__(self, settings: Settings) -> None:
        self._pumps = {pump.name: pump for pump in settings.pumps}
        self._heaters = settings.heaters
        self._test: GuidedTest | None = None
        self._at_s = 0.0
        self._end_s: float | None = None
        """Of the newest minute."""
        self._boot = -1
        self._utc_s: float | None = None
        self._was_off = False
        self._running: Mapping[str, float | None] = {}
        self._refill_s: Mapping[str, float] = {}
        self._leak_L_per_h: dict[str, float] = {}
        """As the judge suspects it."""
        self._events: list[Event] = []

    # ---- what the crew does

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """Start, answer or stop a test. Raises CommandError, saying why, where it cannot be."""
        pump = self._pumps.get(command.subject)
        if pump is None:
            raise CommandError("no pump is called {pump!r}", pump=command.subject)
        self._at_s = max(self._at_s, at_s)
        action, answer = str(command.facts.get("action")), str(command.facts.get("answer"))
        if action == "start":
            self._start(pump)
            return
        test = self._test
        if test is None or test.pump != pump.name:
            raise CommandError("no guided test of {pump} is under way", pump=pump.name)
        answer = DONE if action == "done" else answer
        if action == "stop":
            self._stop(test)
        elif action in ("done", "answer") and answer in STEPS[test.step].answers:
            self._answer(test, pump, answer)
        else:
            can = ", ".join(("stop", *STEPS[test.step].answers))
            raise CommandError(
                "the guided test waits for one of: {can}; got {action} {answer!r}",
                can=can,
                action=action,
                answer=answer,
            )

    def _start(self, pump: Pump) -> None:
        if self._test is not None and self._test.step != OVER:
            raise CommandError("a guided test of {pump} is under way: stop it first", pump=self._test.pump)
        if self._running.get(pump.name) is None:
            raise CommandError("nothing is heard of {pump}: a test could not watch it", pump=pump.name)
        suspects = parts(pump, bool(self._heaters))
        self._test = GuidedTest(pump.name, COOL if self._heaters else TAPS, suspects)

    def _answer(self, test: GuidedTest, pump: Pump, answer: str) -> None:
        step, full_s = STEPS[test.step], test.full_s
        if answer == DREW:
            test.again("drew", self._at_s)
        elif answer in LOOKS:
            self._finish(test, LOOKS[answer])
        elif step.refill and (full_s is None or self._running.get(pump.name) is None):
            test.note = "no refill"
        else:
            test.go(step.then)
            if step.then == WAIT:
                suspected = self._leak_L_per_h.get(pump.name)
                test.wait_s = wait_s(pump, self._drawdown_L(pump.name), suspected, test.rests_h)
                test.again("", self._at_s, full_s)

    def _stop(self, test: GuidedTest) -> None:
        """What was shut or switched off is told to be put back; who stops there, too, has read it."""
        if test.outcome:
            self._test = None
        else:
            self._finish(test, STOPPED)
            self._test = None if test.step == OVER else test

    # ---- what is watched

    def take(self, minute: Heard) -> None:
        water = minute.water
        gap_s = 0.0 if self._end_s is None else minute.start_s - self._end_s
        self._at_s = self._end_s = minute.end_s
        self._boot, self._running = minute.boot, water.running_s
        self._refill_s = water.refill_s
        told = {pump: reason.facts.get("leak_L_per_h") for pump, (_, reason) in water.verdicts.items()}
        self._leak_L_per_h = {p: float(q) for p, q in told.items() if isinstance(q, float | int) and q > 0}
        test, passed_s = self._test, self._passed_s(minute.utc_s)
        if test is None:
            return
        if gap_s > APART_S and test.step == WAIT:
            test.again("lost", None)
        test.age_s += passed_s
        test.step_age_s += passed_s
        for event in water.events:
            if event.kind == EventKind.PUMP_RUN and event.subject == test.pump:
                self._ran(test, event, minute)
        if test.step == WAIT:
            self._wait(test, minute)
        self._grow_old(test)

    def look(self, now: Look) -> None:
        """Between minutes: a signal that is lost, a tap that runs."""
        self._at_s, self._boot, self._running = now.at_s, now.boot, now.running_s
        if self._test is not None and self._test.step == WAIT:
            self._disturbed(self._test)

    def _disturbed(self, test: GuidedTest) -> bool:
        """Whether the wait cannot go on as things stand."""
        running_s = self._running.get(test.pump)
        if running_s is None:
            test.again("lost", None)
        elif running_s > self._long_s(test.pump):
            test.again("drew", None)
        return running_s is None or test.since_s is None

    def _wait(self, test: GuidedTest, minute: Heard) -> None:
        if any((minute.newest(f"{h.name} on") or 0.0) > 0.5 for h in self._heaters):
            test.again("heater on", None)
            return
        if self._running.get(test.pump) == 0.0 and test.since_s is None:
            test.again(test.note, minute.end_s)
        if self._disturbed(test) or self._running.get(test.pump) != 0.0:
            return
        if not test.warm_C:
            test.warm_C = self._warm_C(minute)
        if test.lone_s is not None:
            if minute.end_s - (test.full_s or 0.0) >= APART_S:
                self._started(test, test.lone_s)
        elif test.since_s is not None and minute.end_s - test.since_s >= test.wait_s:
            test.starts = 0 if test.starts == 1 else test.starts
            self._conclude(test, minute.end_s)

    def _ran(self, test: GuidedTest, run: Event, minute: Heard) -> None:
        """A run of the pump is over."""
        taken_L = shrunk_L(self._heaters, test.warm_C, self._warm_C(minute))
        cooled = taken_L >= EXPLAINED_SHARE * self._drawdown_L(test.pump)
        if ran(test, run, self._long_s(test.pump), cooled):
            self._started(test, run.start_s)

    def _started(self, test: GuidedTest, at_s: float) -> None:
        """The pump started with nobody drawing. The first time, unless a leak is suspected already, it may
        have been a draw all the same: it has to start again."""
        test.starts, test.lone_s = test.starts + 1, None
        if test.first and test.from_full_s is not None:
            test.rests_h.append((at_s - test.from_full_s) / HOUR_S)
            hours = max(1e-3, sum(test.rests_h))
            test.L_per_h = len(test.rests_h) * self._drawdown_L(test.pump) / hours
        if test.first and test.starts < self._needed(test):
            test.note, test.since_s, test.from_full_s = "once", test.full_s, test.full_s
        else:
            self._conclude(test, at_s)

    def _needed(self, test: GuidedTest) -> int:
        if not usable(self._pumps[test.pump]):
            return NO_USE_STARTS
        return 1 if test.pump in self._leak_L_per_h else 2

    def _grow_old(self, test: GuidedTest) -> None:
        """What was concluded is shown for half a day; what nobody goes on with ends by itself."""
        if test.step_age_s <= KEPT_S + (test.wait_s if test.step == WAIT else 0.0):
            return
        if test.step == OVER:
            self._test = None
        elif test.step != BACK:
            self._finish(test, GIVEN_UP)

    # ---- what follows

    def _conclude(self, test: GuidedTest, at_s: float) -> None:
        """A wait is over, with starts or without."""
        found = concluded(test, self._pumps[test.pump], at_s)
        if found is not None:
            self._finish(test, found)

    def _finish(self, test: GuidedTest, found: str) -> None:
        test.outcome = found
        own = next((part.cock for part in test.suspects if part.cock), "")
        facts = {"pump": test.pump, "outcome": found, "cock": own or test.cock, "L_per_h": test.L_per_h}
        facts["minutes"] = round(test.age_s / 60)
        self._events.append(Event(EventKind.TEST, test.pump, self._boot, self._at_s, None, facts))
        test.go(BACK if test.shut or self._heaters else OVER)

    # ---- small helpers

    def _passed_s(self, utc_s: float | None) -> float:
        """Since the last minute; after a restart also what the watch was off, as soon as the clock tells."""
        if utc_s is None:
            return MINUTE_S
        before_s, self._utc_s = self._utc_s if self._was_off else None, utc_s
        self._was_off = False
        return MINUTE_S if before_s is None else max(MINUTE_S, utc_s - before_s)

    def _drawdown_L(self, pump: str) -> float:
        """As measured, learned, or else as promised."""
        settings, seconds = self._pumps[pump], self._refill_s.get(pump)
        if settings.drawdown_L is not None:
            return settings.drawdown_L
        return seconds * settings.flow_L_per_min / 60 if seconds else pump_drawdown_L(settings)

    def _long_s(self, pump: str) -> float:
        return long_run_s(self._pumps[pump], self._drawdown_L(pump))

    def _warm_C(self, minute: Heard) -> dict[str, float]:
        heard = ((h.name, minute.newest(f"{h.name} temperature")) for h in self._heaters)
        return {name: celsius for name, celsius in heard if celsius is not None}

    # ---- what is told

    def guided(self) -> Guided | None:
        """The test under way, or the one last concluded until it is stopped or twelve hours old."""
        test = self._test
        if test is None:
            return None
        pump, heater = self._pumps[test.pump], bool(self._heaters)
        return told(test, pump, heater, self._drawdown_L(pump.name), self._at_s)

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        return []

    def events(self) -> Iterator[Event]:
        """The tests that were concluded since this was last asked."""
        found, self._events = self._events, []
        return iter(found)

    # ---- restarts

    def new_boot(self) -> None:
        """Elapsed time began anew: what the pump did meanwhile nobody saw."""
        self._running, self._at_s, self._boot, self._was_off = {}, 0.0, -1, True
        self._end_s = None
        if self._test is not None:
            self._test.interrupted()

    def state(self) -> dict[str, Any]:
        return {} if self._test is None else {"test": self._test.state(), "utc_s": self._utc_s}

    def restore(self, state: Mapping[str, Any]) -> None:
        kept = state.get("test")
        if kept is None or kept["pump"] not in self._pumps:
            return
        self._test = restored(kept, {c.name for c in self._pumps[kept["pump"]].cocks})
        self._utc_s, self._was_off = state["utc_s"], True
