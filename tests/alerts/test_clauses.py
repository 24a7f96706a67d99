"""Random lives of three alerts against the clauses of the published alert standards.

The clauses (IMO MSC.302(87), performance standards for bridge alert management; MSC.252(83) for what
acknowledged means), in short:

- MSC.302(87) 5.2: one alert for one situation.
- MSC.302(87) 7.3.5, 7.3.7, 7.3.8: what is unacknowledged keeps calling: it stays on the screen until
  somebody acknowledges it. (How it sounds is not the book's affair.)
- MSC.252(83) 20.2.7-8: acknowledged is steady until rectified: acknowledging clears nothing.
- MSC.302(87) 13.1.2, 13.2.2: after a loss of power the state is as it was.
"""

from dataclasses import dataclass, field

from hypothesis import settings, strategies
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from monitor.alerts.book import BLIND_S, AlertBook
from monitor.alerts.rules import RULES
from monitor.records import AlertChange, Severity
from tests.alerts.logbook import SAYS, finding

ROOTS = {"low charge": "low voltage"}
WATCHED = ("low voltage", "low charge", "clock not confirmed", "pump running on")
AFTER = {
    None: {"active"},
    "active": {"active", "acknowledged", "returned", "ended"},
    "acknowledged": {"active", "ended"},
    "returned": {"active", "ended"},
    "ended": set(),
}


@dataclass
class Life:
    """What an onlooker saw of one situation: told apart from the book's own timers."""

    says: str = "clear"
    held_s: float = -1.0
    """How long it has held without a break; -1 when it does not hold now."""
    severe_s: float = -1.0
    clear_s: float = -1.0
    acknowledged: set[str] = field(default_factory=set)


class Watch(RuleBasedStateMachine):
    @initialize()
    def begin(self) -> None:
        self.book = AlertBook()
        self.boot, self.at_s, self.last_s = 1, 1000.0, 1000.0
        self.fresh = True
        self.lives = {name: Life() for name in WATCHED}
        self.log: list[AlertChange] = []
        self.look()

    @rule(name=strategies.sampled_from(WATCHED), says=strategies.sampled_from(sorted(SAYS)))
    def something_changes(self, name: str, says: str) -> None:
        self.lives[name].says = says
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
        unseen = [o for o in self.book.open() if o.state != "acknowledged"]
        if unseen:
            alert = data.draw(strategies.sampled_from(unseen))
            self.at_s += 0.5
            self.log.append(self.book.acknowledge(alert.alert, self.boot, self.at_s))
            self.lives[alert.rule].acknowledged.add(alert.alert)

    @rule()
    def power_fails(self) -> None:
        """13.1.2, 13.2.2: the book stands as before."""
        before, state = self.book.open(), self.book.state()
        self.book = AlertBook()
        self.book.restore(state)
        assert self.book.open() == before
        self.boot, self.at_s, self.fresh = self.boot + 1, 5.0, True
        self.look()

    def look(self) -> None:
        """One step of the book, and the same moment for the onlooker."""
        passed_s = self.at_s - self.last_s
        broken = self.fresh or passed_s > BLIND_S
        self.fresh, self.last_s = False, self.at_s
        for life in self.lives.values():
            holds, clears = SAYS[life.says]
            life.held_s = _grown(life.held_s, holds, passed_s, broken)
            life.severe_s = _grown(life.severe_s, life.says == "severe", passed_s, broken)
            life.clear_s = _grown(life.clear_s, clears, passed_s, broken)
        findings = [
            finding(name, life.says, under=((ROOTS[name], "it"),) if name in ROOTS else ())
            for name, life in self.lives.items()
        ]
        changes = self.book.step(self.boot, self.at_s, findings)
        for change in changes:
            self.judge(change, changes)
        self.log += changes

    def judge(self, change: AlertChange, together: list[AlertChange]) -> None:
        """Every transition has its cause."""
        life, row = self.lives[change.rule], RULES[change.rule]
        if change.state == "active":
            urgent = row.urgent_delay_s is not None and life.severe_s >= row.urgent_delay_s
            assert life.held_s >= row.on_delay_s or urgent, "never before its delay"
        elif change.reason.id == "alert: grouped":
            assert self.in_force(ROOTS[change.rule]), "only a root cause in force takes an alert over"
        else:
            assert life.clear_s >= row.off_delay_s, "never over before its delay"
            if change.state == "ended":
                seen = change.alert in life.acknowledged
                assert seen or row.severity is Severity.CAUTION, "7.3.7: nothing unseen goes away"
            else:
                assert change.alert not in life.acknowledged or change.state == "returned"

    def in_force(self, name: str) -> bool:
        return any(o.rule == name and o.state in ("active", "acknowledged") for o in self.book.open())

    @invariant()
    def one_alert_for_one_situation(self) -> None:
        """5.2, its root cause counted in."""
        rules = [o.rule for o in self.book.open()]
        assert len(rules) == len(set(rules))
        for child, root in ROOTS.items():
            assert not (child in rules and self.in_force(root))

    @invariant()
    def nothing_is_missed(self) -> None:
        """What has held for its delay is open, or explained by its root cause."""
        for name, life in self.lives.items():
            if life.held_s >= RULES[name].on_delay_s:
                assert self.in_force(name) or (name in ROOTS and self.in_force(ROOTS[name]))

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
            assert change.state in AFTER[states.get(change.alert)]
            states[change.alert] = change.state
        still = {alert: state for alert, state in states.items() if state != "ended"}
        assert {o.alert: o.state for o in self.book.open()} == still


def _grown(so_far_s: float, now: bool | None, passed_s: float, broken: bool) -> float:
    if not now:
        return -1.0
    return 0.0 if broken or so_far_s < 0 else so_far_s + passed_s


Watch.TestCase.settings = settings(max_examples=150, stateful_step_count=40)
TestTheClauses = Watch.TestCase
