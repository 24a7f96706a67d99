"""Random lives of four alerts against the clauses of the published alert standards.

The clauses, in short (IMO MSC.302(87), performance standards for bridge alert management; MSC.252(83) for
what acknowledged means; IEC 62682 for the shelf, from memory):

- MSC.302(87) 5.2: one alert for one situation.
- 7.3.5: silencing lasts half a minute; the sound resumes if nobody has acknowledged.
- 7.3.7: what is unacknowledged stays on the screen until somebody acknowledges it.
- 7.3.8: an alarm is heard until it is acknowledged or over.
- MSC.252(83) 20.2.7-8: acknowledged is steady until rectified: acknowledging clears nothing.
- MSC.302(87) 13.1.2, 13.2.2: after a loss of power the state is as it was.
- IEC 62682: what is shelved has an end, and calls again at it.
"""

from dataclasses import dataclass, field

from hypothesis import settings, strategies
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from monitor.alerts.book import BLIND_S, AlertBook
from monitor.alerts.jobs import JOBS, Jobs, excused
from monitor.alerts.lines import SECOND_WAY_S
from monitor.alerts.rules import RULES
from monitor.alerts.shelf import MOST_S
from monitor.alerts.sounding import Sounding
from monitor.errors import CommandError
from monitor.records import CALLS, AlertChange, Finding, Mode, OpenAlert, Severity
from tests.alerts.logbook import SAYS, finding

ROOTS = {"low charge": "low voltage"}
WATCHED = ("low voltage", "low charge", "clock not confirmed", "pump running on")
IN_FORCE = ("active", "acknowledged")
AFTER = {
    None: {"active", "shelved", "suppressed"},
    "active": {"active", "acknowledged", "returned", "ended", "shelved", "suppressed"},
    "acknowledged": {"active", "acknowledged", "ended", "shelved", "suppressed"},
    "returned": {"active", "shelved", "suppressed", "ended"},
    "shelved": {"active", "acknowledged", "ended", "shelved"},
    "suppressed": {"active", "acknowledged", "ended", "suppressed"},
    "ended": set(),
}
AWAKE = Mode("at anchor", "awake")


@dataclass
class Life:
    """What an onlooker saw of one situation: told apart from the book's own timers."""

    says: str = "clear"
    raised: bool = False
    held_s: float = -1.0
    """How long it has held without a break; -1 when it does not hold now."""
    severe_s: float = -1.0
    clear_s: float = -1.0
    acknowledged: set[str] = field(default_factory=set)


class Watch(RuleBasedStateMachine):
    @initialize()
    def begin(self) -> None:
        self.book, self.jobs, self.sounding = AlertBook(), Jobs(), Sounding()
        self.boot, self.at_s, self.last_s = 1, 1000.0, 1000.0
        self.fresh = True
        self.hushed_s = float("-inf")
        self.unseen_s: dict[str, float] = {}
        self.lives = {name: Life() for name in WATCHED}
        self.log: list[AlertChange] = []
        self.look()

    # ---- what may happen

    @rule(name=strategies.sampled_from(WATCHED), says=strategies.sampled_from(sorted(SAYS)))
    def something_changes(self, name: str, says: str) -> None:
        self.lives[name].says = says
        self.at_s += 0.5
        self.look()

    @rule(raised=strategies.booleans())
    def the_pump_gets_worse_or_better(self, raised: bool) -> None:
        self.lives["pump running on"].raised = raised
        self.at_s += 0.5
        self.look()

    @rule(
        dt_s=strategies.sampled_from([1.0, 30.0, 60.0, 170.0, BLIND_S + 1]), times=strategies.integers(1, 20)
    )
    def time_passes(self, dt_s: float, times: int) -> None:
        for _ in range(times):
            self.at_s += dt_s
            self.look()

    @precondition(lambda self: self.book.open())
    @rule(data=strategies.data())
    def somebody_acknowledges(self, data: strategies.DataObject) -> None:
        unseen = [o for o in self.book.open() if o.state in ("active", "returned", "shelved")]
        if unseen:
            alert = data.draw(strategies.sampled_from(unseen))
            self.at_s += 0.5
            try:
                self.hear([self.book.acknowledge(alert.alert, self.boot, self.at_s)])
            except CommandError:  # Acknowledged first and put aside then.
                assert alert.state == "shelved"
            self.lives[alert.rule].acknowledged.add(alert.alert)

    @precondition(lambda self: any(o.state == "acknowledged" for o in self.book.open()))
    @rule(data=strategies.data())
    def a_finger_had_slipped(self, data: strategies.DataObject) -> None:
        """What was taken for seen calls again; somebody has to see it anew."""
        seen = [o for o in self.book.open() if o.state == "acknowledged"]
        alert = data.draw(strategies.sampled_from(seen))
        self.at_s += 0.5
        self.hear([self.book.take_back(alert.alert, self.boot, self.at_s)])
        self.lives[alert.rule].acknowledged.discard(alert.alert)

    @precondition(lambda self: self.book.open())
    @rule(data=strategies.data(), minutes=strategies.sampled_from([1, 5, 20, 60, 700, 20_000]))
    def somebody_puts_it_aside(self, data: strategies.DataObject, minutes: int) -> None:
        alert = data.draw(strategies.sampled_from(self.book.open()))
        self.at_s += 0.5
        lawful = 300 <= 60 * minutes <= MOST_S[alert.severity]
        try:
            change = self.book.shelve(alert.alert, 60.0 * minutes, self.boot, self.at_s)
        except CommandError:
            assert not lawful or alert.state in ("suppressed", "returned")
        else:
            assert lawful
            self.hear([change])

    @precondition(lambda self: self.book.shelf())
    @rule(data=strategies.data())
    def somebody_takes_it_off(self, data: strategies.DataObject) -> None:
        name, subject, _ = data.draw(strategies.sampled_from(self.book.shelf()))
        self.at_s += 0.5
        self.hear(self.book.unshelve(name, subject, self.at_s))

    @rule()
    def somebody_silences_it(self) -> None:
        self.sounding.hush(self.at_s)
        self.hushed_s = self.at_s

    @rule(name=strategies.sampled_from(sorted(JOBS)))
    def a_job_begins(self, name: str) -> None:
        self.jobs.begin(name, None, self.boot, self.at_s)

    @rule(in_a_new_boot=strategies.booleans())
    def the_watch_is_restarted(self, in_a_new_boot: bool) -> None:
        """13.1.2, 13.2.2: the book stands as before. A loss of power begins a new boot."""
        before, state, jobs = self.book.open(), self.book.state(), self.jobs.state()
        self.book, self.jobs, self.sounding = AlertBook(), Jobs(), Sounding()
        self.book.restore(state)
        self.jobs.restore(jobs)
        assert [_kept(o) for o in self.book.open()] == [_kept(o) for o in before]
        self.fresh, self.hushed_s = True, float("-inf")
        if in_a_new_boot:
            self.boot, self.at_s = self.boot + 1, 5.0
        self.look()

    # ---- how it is looked at

    def look(self) -> None:
        """One step of the book, and the same moment for the onlooker."""
        passed_s = self.at_s - self.last_s
        broken = self.fresh or passed_s > BLIND_S
        self.fresh, self.last_s = False, self.at_s
        findings = [self.finding(name) for name in WATCHED]
        self.excuses = excused(self.jobs.at(self.boot, self.at_s), findings)
        for name, life in self.lives.items():
            holds, clears = SAYS[life.says]
            holds = holds and ((name, "it") not in self.excuses or life.raised)  # Never an alarm.
            life.held_s = _grown(life.held_s, holds, passed_s, broken)
            life.severe_s = _grown(life.severe_s, holds and life.says == "severe", passed_s, broken)
            life.clear_s = _grown(life.clear_s, clears, passed_s, broken)
        changes = self.book.step(self.boot, self.at_s, findings, self.excuses)
        for change in changes:
            self.judge(change)
        self.unseen_s = {
            alert: s if s >= SECOND_WAY_S else 0.0 if broken else s + passed_s
            for alert, s in self.unseen_s.items()
        }
        self.hear(changes)

    def finding(self, name: str) -> Finding:
        life = self.lives[name]
        under = ((ROOTS[name], "it"),) if name in ROOTS else ()
        return finding(name, life.says, severity=Severity.ALARM if life.raised else None, under=under)

    def hear(self, changes: list[AlertChange]) -> None:
        self.log += changes
        called = {c.alert for c in changes if c.what in CALLS and c.what != "escalated"}
        self.unseen_s |= dict.fromkeys(called, 0.0)
        if any(c.alert in called and c.state == "active" and c.severity is Severity.ALARM for c in changes):
            self.hushed_s = float("-inf")
        self.sounding.take(self.at_s, self.book.open(), called, AWAKE)

    def judge(self, change: AlertChange) -> None:
        """Every transition has its cause."""
        life, row = self.lives[change.rule], RULES[change.rule]
        chatter = 8
        if change.what in ("began", "came back"):
            urgent = row.urgent_delay_s is not None and life.severe_s >= row.urgent_delay_s
            assert life.held_s >= row.on_delay_s or urgent, "never before its delay"
        elif change.what == "suppressed":
            explained = self.in_force(ROOTS.get(change.rule, ""))
            assert explained or (change.severity is not Severity.ALARM and self.excuses), "only with a cause"
        elif change.what == "went" or (change.what == "ended" and not self.was(change, "suppressed")):
            assert life.clear_s >= row.off_delay_s, "never over before its delay"
            assert life.clear_s <= chatter * row.off_delay_s + 2 * BLIND_S
            if change.what == "ended":
                seen = change.alert in life.acknowledged or self.was(change, "shelved")
                assert seen or change.severity is Severity.CAUTION, "7.3.7: nothing unseen goes away"

    def was(self, change: AlertChange, state: str) -> bool:
        """In which state it was before."""
        return next((c.state for c in reversed(self.log) if c.alert == change.alert), "") == state

    def in_force(self, name: str) -> bool:
        """Whether the root cause is there at all, put aside or not."""
        return any(o.rule == name and o.state in (*IN_FORCE, "shelved") for o in self.book.open())

    # ---- what must always be so

    @invariant()
    def one_alert_for_one_situation(self) -> None:
        """5.2, its root cause counted in."""
        rules = [o.rule for o in self.book.open()]
        assert len(rules) == len(set(rules))
        heard = {o.rule: o for o in self.book.open() if o.state in IN_FORCE}
        for child, root in ROOTS.items():
            assert not (child in heard and root in heard)

    @invariant()
    def nothing_is_missed(self) -> None:
        """What has held for its delay is open: heard, put aside, or explained by its root cause."""
        shown = {o.rule: o for o in self.book.open()}
        for name, life in self.lives.items():
            if life.held_s >= RULES[name].on_delay_s:
                assert shown[name].state != "returned"
                if shown[name].state == "suppressed":
                    assert name in ROOTS
                    assert self.in_force(ROOTS[name])
                    assert (name, "it") in self.children(ROOTS[name])
                if shown[name].state == "shelved":
                    assert (name, "it") in {(r, s) for r, s, _ in self.book.shelf()}

    def children(self, root: str) -> tuple[tuple[str, str], ...]:
        return next(o.children for o in self.book.open() if o.rule == root)

    @invariant()
    def no_unacknowledged_alarm_is_silent(self) -> None:
        """7.3.5, 7.3.8: but for half a minute after somebody silenced it."""
        alarms = [o for o in self.book.open() if o.severity is Severity.ALARM and o.state == "active"]
        sound = self.sounding.now(self.at_s)
        if alarms and self.at_s - self.hushed_s >= 30.0:
            assert sound.pattern == "alarm"
            assert sound.alert in {o.alert for o in alarms}
        if not alarms:
            assert sound.pattern != "alarm"

    @invariant()
    def nobody_answered_so_the_second_way_is_taken(self) -> None:
        """Two minutes without a restart or a stretch in which nobody looked, and then once."""
        for alert in self.book.open():
            if alert.state == "active" and alert.severity is Severity.ALARM:
                assert alert.escalated == (self.unseen_s[alert.alert] >= SECOND_WAY_S)

    @invariant()
    def the_shelf_has_an_end(self) -> None:
        for name, subject, until_s in self.book.shelf():
            assert until_s > self.at_s - 1.0
            open_ = [o for o in self.book.open() if (o.rule, o.subject) == (name, subject)]
            assert all(o.until_s == until_s or o.state != "shelved" for o in open_)
            assert not [o for o in open_ if o.state in IN_FORCE], "what got worse is off the shelf"

    @invariant()
    def acknowledging_clears_nothing(self) -> None:
        """20.2.7-8: whatever was acknowledged and is not over yet is still on the screen."""
        latest: dict[str, AlertChange] = {change.alert: change for change in self.log}
        for change in latest.values():
            if change.state == "acknowledged":
                assert [o.state for o in self.book.open() if o.alert == change.alert] == ["acknowledged"]

    @invariant()
    def the_transitions_tell_the_whole_story(self) -> None:
        """Whoever reads only what was written down knows what is open, each step a lawful one."""
        states: dict[str, str] = {}
        for change in self.log:
            assert change.state in AFTER[states.get(change.alert)], change
            states[change.alert] = change.state
        still = {alert: state for alert, state in states.items() if state != "ended"}
        assert {o.alert: o.state for o in self.book.open()} == still


def _kept(alert: OpenAlert) -> tuple[object, ...]:
    """What a restart must not lose."""
    return (
        alert.alert, alert.severity, alert.state, alert.since_s, alert.reason, alert.until_s, alert.because,
        alert.children, alert.escalated,
    )  # fmt: skip


def _grown(so_far_s: float, now: bool | None, passed_s: float, broken: bool) -> float:
    if not now:
        return -1.0
    return 0.0 if broken or so_far_s < 0 else so_far_s + passed_s


Watch.TestCase.settings = settings(max_examples=200, stateful_step_count=50)
TestTheClauses = Watch.TestCase
