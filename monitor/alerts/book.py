"""The book of open alerts: what begins, what ends, what still waits to be seen.

An alert is pending until its rule's on delay has passed, then active until somebody acknowledges
it. When its situation is over an acknowledged alert ends; an unacknowledged warning or alarm stays as
"returned" until it is seen; a caution simply ends. Acknowledging changes what is heard, never what is
true: an acknowledged alert stays open while its situation lasts.

Two things keep an open alert out of hearing for a while: the crew's shelf, which always has an end, and
a cause that explains it (a graver alert, or a job aboard). Neither ends it. What gets worse comes off the
shelf; what no longer has a cause calls again.

Only elapsed time is used. A new boot, a silent instrument or a stretch in which nobody looked starts
every delay anew: what was not seen is not counted. Nothing stays on the shelf through a new boot, because
nobody knows how long the computer was off.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from monitor.alerts.lines import (
    ACKNOWLEDGED,
    ACTIVE,
    ENDED,
    GRADE,
    RETURNED,
    SHELVED,
    STALE_S,
    SUPPRESSED,
    Key,
    Line,
    Timer,
    patience_s,
)
from monitor.alerts.rules import RULES, Rule
from monitor.alerts.shelf import Shelf
from monitor.errors import CommandError
from monitor.records import AlertChange, Finding, OpenAlert, Reason, RuleState, Severity

BLIND_S = 180.0
"""Steps further apart than this leave a stretch in which nobody looked."""


class AlertBook:
    """Every alert that wants somebody. Not thread-safe: it belongs to the pipeline."""

    def __init__(self, rules: Mapping[str, Rule] = RULES) -> None:
        self.rules = rules
        """The rules in force; may be replaced between steps."""
        self._lines: dict[Key, Line] = {}
        self._timers: dict[Key, Timer] = {}
        self._shelf = Shelf()
        self._boot: int | None = None
        self._at_s = 0.0

    def step(
        self, boot: int, at_s: float, findings: Sequence[Finding], excused: Mapping[Key, Reason] | None = None
    ) -> list[AlertChange]:
        """Take in what the rules say at `at_s` and return what changed, the worst first.

        `findings` is the whole list: a situation that is missing in it is no longer watched, and its
        alert returns or ends. `excused` are those that a job aboard explains: they do not begin.
        """
        if boot != self._boot or not 0 <= at_s - self._at_s <= BLIND_S:
            for timer in self._timers.values():
                timer.forget()
            for line in self._lines.values():
                line.unseen_s = None
        self._boot, self._at_s = boot, at_s
        changes: list[AlertChange] = []
        for key in self._shelf.due(boot, at_s):
            self._off_the_shelf(key, at_s, changes)
        # Root causes first: what they explain is never heard beside them, and calls when they are over.
        for finding in sorted(findings, key=_depth):
            key = (finding.rule, finding.subject)
            excuse = (excused or {}).get(key)
            timer = self._timers.setdefault(key, Timer())
            timer.take(finding, excuse is not None, at_s)
            self._close(key, timer, changes)
            self._open(key, finding, timer, excuse, changes)
            self._listen(key, timer, changes)
        self._forget({(f.rule, f.subject) for f in findings}, changes)
        self._escalate(changes)
        return sorted(changes, key=lambda change: GRADE[change.severity])

    # ---- what the crew does

    def acknowledge(self, alert: str, boot: int, at_s: float) -> AlertChange:
        """Somebody has seen it. Raises CommandError where there is nothing to acknowledge."""
        key, line = self._found(alert)
        if line.state == ACKNOWLEDGED:
            raise CommandError("this alert has been acknowledged already")
        if line.kept == SUPPRESSED:
            raise CommandError("this alert is explained by another one: acknowledge that one")
        state = ENDED if line.state == RETURNED else ACKNOWLEDGED
        self._shelf.drop(key)
        return self._turn(key, line, "acknowledged", state, boot, at_s)

    def take_back(self, alert: str, boot: int, at_s: float) -> AlertChange:
        """A finger slipped: it calls again. Raises CommandError where it was not acknowledged or is over."""
        key, line = self._found(alert)
        if line.state != ACKNOWLEDGED or line.kept:
            raise CommandError("this alert was not acknowledged: there is nothing to take back")
        line.call(at_s)
        return self._turn(key, line, "taken back", None, boot, at_s)

    def shelve(self, alert: str, for_s: float, boot: int, at_s: float) -> AlertChange:
        """Put an alert aside until a moment. Raises CommandError outside 5 minutes to 1 h (an alarm), 12 h (a
        warning) or a week (a caution)."""
        key, line = self._found(alert)
        if line.kept == SUPPRESSED or line.state == RETURNED:
            raise CommandError("only an alert that lasts, and that nothing else explains, can be put aside")
        line.until_s = self._shelf.put(key, line.severity, for_s, boot, at_s)
        line.kept = SHELVED
        return self._turn(key, line, "shelved", None, boot, at_s)

    def unshelve(self, rule: str, subject: str, at_s: float) -> list[AlertChange]:
        """Take it off the shelf before its time. Raises CommandError where it is not there."""
        changes: list[AlertChange] = []
        if not self._shelf.drop((rule, subject)):
            raise CommandError("this alert has not been put aside")
        self._off_the_shelf((rule, subject), at_s, changes)
        return changes

    # ---- what there is to see

    def open(self) -> tuple[OpenAlert, ...]:
        """The open alerts: what is out of hearing last; else the worst first, of one grade the
        unacknowledged and then the newest first."""
        children: dict[Key, list[Key]] = {}
        for key, line in self._lines.items():
            if line.root is not None:
                children.setdefault(line.root, []).append(key)
        lines = sorted(self._lines.items(), key=lambda item: _rank(item[1]))
        return tuple(line.told(key, self._chatters(key), tuple(children.get(key, ()))) for key, line in lines)

    def states(self) -> list[RuleState]:
        """How every rule stands about everything it watches."""
        return [
            RuleState(*key, self._lines[key].shown) if key in self._lines else timer.state(key)
            for key, timer in self._timers.items()
        ]

    def shelf(self) -> tuple[tuple[str, str, float], ...]:
        """What is put aside, by rule and subject, and until when."""
        return self._shelf.all()

    def begins(self) -> dict[str, tuple[int, float]]:
        """By alert: the boot and the elapsed seconds in which each open one began."""
        return {line.alert: (line.boot, line.began_s) for line in self._lines.values()}

    def record(self, alerts: Collection[str], recorded: bool) -> None:
        """Whether the latest change of each is known to be on the card."""
        for line in self._lines.values():
            if line.alert in alerts:
                line.recorded = recorded

    # ---- through a restart

    def state(self) -> dict[str, Any]:
        """The open alerts and the shelf as JSON values. What is pending is left out: it starts anew."""
        return {
            "open": [line.as_json(key) for key, line in self._lines.items()],
            "shelf": self._shelf.state(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up what `state` gave, after a restart. Rules that no longer exist are left behind."""
        self._timers.clear()
        self._boot = None
        rows = [row for row in state.get("open", ()) if row["rule"] in self.rules]
        self._lines = {(row["rule"], row["subject"]): Line.of_json(row) for row in rows}
        if "shelf" in state:
            self._shelf.restore(state["shelf"])

    # ---- one finding

    def _open(
        self, key: Key, finding: Finding, timer: Timer, excuse: Reason | None, changes: list[AlertChange]
    ) -> None:
        """Begin an alert that is due, raise, silence, release or bring back one that is open."""
        line, rule = self._lines.get(key), self.rules[finding.rule]
        if line is None:
            if timer.due(rule, self._at_s):
                self._begin(key, finding, timer, changes)
            return
        if finding.holds is False and rule.follows and line.state != RETURNED:
            line.reason = finding.reason
        if line.state == RETURNED:
            if timer.due(rule, self._at_s):
                line.reason, line.severity = finding.reason, _graver(finding, rule, line)
                timer.began(self._at_s)
                self._call(key, line, "came back", finding, changes)
            return
        if finding.holds:
            line.reason = finding.reason
            severity = _graver(finding, rule, line)
            if severity != line.severity:
                line.severity = severity
                self._shelf.drop(key)
                self._call(key, line, "raised", finding, changes)
                return
        root = self._root(finding, line.severity)
        because = _grouped(root) if root is not None else excuse if line.severity != Severity.ALARM else None
        if because is not None and line.kept == "":
            line.kept, line.because, line.root = SUPPRESSED, because, root
            changes.append(self._turn(key, line, "suppressed"))
        elif because is not None and line.kept == SUPPRESSED:
            line.because, line.root = because, root
        elif because is None and line.kept == SUPPRESSED and finding.holds is False:
            changes.append(self._turn(key, line, "ended", ENDED))  # Told by its cause, and no more so bad.
        elif because is None and line.kept == SUPPRESSED:
            if line.state == ACTIVE:
                line.call(self._at_s)
            line.heard()
            changes.append(self._turn(key, line, "released"))

    def _begin(self, key: Key, finding: Finding, timer: Timer, changes: list[AlertChange]) -> None:
        alert = f"{key[0]}/{key[1]}/{self._boot}/{self._at_s:.3f}"
        severity = finding.severity or self.rules[key[0]].severity
        line = Line(alert, severity, ACTIVE, self._boot or 0, self._at_s, finding.reason)
        self._lines[key] = line
        timer.began(self._at_s)
        self._call(key, line, "began", finding, changes)

    def _call(self, key: Key, line: Line, what: str, finding: Finding, changes: list[AlertChange]) -> None:
        """Have it call somebody, unless it is explained or lies on the shelf."""
        line.call(self._at_s)
        root, until_s = self._root(finding, line.severity), self._shelf.until_s(key, line.severity)
        if root is not None:
            line.kept, line.because, line.root = SUPPRESSED, _grouped(root), root
        elif until_s is not None:
            line.kept, line.until_s = SHELVED, until_s
        changes.append(self._turn(key, line, what))

    def _close(self, key: Key, timer: Timer, changes: list[AlertChange]) -> None:
        """Let an alert go whose situation is over."""
        line = self._lines.get(key)
        if line is not None and line.state != RETURNED and timer.over(self.rules[key[0]], self._at_s):
            self._go(key, line, changes)

    def _go(self, key: Key, line: Line, changes: list[AlertChange]) -> None:
        """What becomes of it when its situation is over: warnings and alarms wait to be seen, but those
        that are of no use any more."""
        passes = line.severity is Severity.CAUTION or self.rules[key[0]].passes
        seen = line.state == ACKNOWLEDGED or line.kept != "" or passes
        changes.append(self._turn(key, line, *(("ended", ENDED) if seen else ("went", RETURNED))))

    def _listen(self, key: Key, timer: Timer, changes: list[AlertChange]) -> None:
        """Tell when what an open alert rests on falls silent, and when it speaks again."""
        line = self._lines.get(key)
        if line is None or line.state == RETURNED:
            return
        silent = timer.unknown_s is not None and self._at_s - timer.unknown_s >= STALE_S
        if silent and line.stale_s is None:
            line.stale_s = timer.unknown_s
            changes.append(self._turn(key, line, "fell silent"))
        elif line.stale_s is not None and timer.unknown_s is None:
            line.stale_s = None
            changes.append(self._turn(key, line, "heard again"))

    def _forget(self, watched: set[Key], changes: list[AlertChange]) -> None:
        for key in [key for key in self._lines if key not in watched]:
            line = self._lines[key]
            if line.state != RETURNED:
                line.reason = Reason("alert: no longer watched")
                self._go(key, line, changes)
        for key in [key for key in self._timers if key not in watched]:
            del self._timers[key]

    # ---- shelf and escalation

    def _off_the_shelf(self, key: Key, at_s: float, changes: list[AlertChange]) -> None:
        self._shelf.drop(key)
        line = self._lines.get(key)
        if line is not None and line.kept == SHELVED:
            line.call(at_s)
            changes.append(self._turn(key, line, "unshelved", None, None, at_s))

    def _escalate(self, changes: list[AlertChange]) -> None:
        for key, line in self._lines.items():
            if line.state != ACTIVE or line.kept or line.escalated:
                continue
            if line.unseen_s is None:
                line.unseen_s = self._at_s
            if self._at_s - line.unseen_s >= patience_s(line, self.rules[key[0]]):
                line.escalated = True
                changes.append(self._turn(key, line, "escalated"))

    # ---- small helpers

    def _root(self, finding: Finding, severity: Severity) -> Key | None:
        """The root cause in force, no less grave, that already tells of this situation, if there is one."""
        for key in finding.under:
            line = self._lines.get(key)
            if line is not None and line.in_force and GRADE[line.severity] <= GRADE[severity]:
                return key
        return None

    def _found(self, alert: str) -> tuple[Key, Line]:
        for key, line in self._lines.items():
            if line.alert == alert:
                return key, line
        raise CommandError("this alert is no longer open")

    def _chatters(self, key: Key) -> bool:
        timer = self._timers.get(key)
        return timer is not None and timer.chatter(self.rules[key[0]], self._at_s) > 1

    def _turn(
        self,
        key: Key,
        line: Line,
        what: str,
        state: str | None = None,
        boot: int | None = None,
        at_s: float | None = None,
    ) -> AlertChange:
        """Bring a line into a state, drop it from the book when it has ended, and tell."""
        line.state = line.state if state is None else state
        if line.state in (ENDED, RETURNED) or what == "acknowledged":
            line.heard()
        if line.state == ENDED:
            del self._lines[key]
        boot = (self._boot or 0) if boot is None else boot
        at_s = self._at_s if at_s is None else at_s
        reason = line.because if line.because is not None else line.reason
        return AlertChange(
            line.alert, *key, line.severity, boot, at_s, line.shown, reason, what, line.until_s
        )


def _depth(finding: Finding) -> int:
    return len(finding.under)


def _graver(finding: Finding, rule: Rule, line: Line) -> Severity:
    severity = finding.severity or rule.severity
    return severity if GRADE[severity] < GRADE[line.severity] else line.severity


def _grouped(root: Key) -> Reason:
    return Reason("alert: grouped", {"rule": root[0], "subject": root[1]})


def _rank(line: Line) -> tuple[bool, int, bool, int, float]:
    return line.kept != "", GRADE[line.severity], line.state == ACKNOWLEDGED, -line.boot, -line.began_s
