"""The book of open alerts: what begins, what ends, what still waits to be seen.

An alert is pending until its rule's on delay has passed, then active until somebody acknowledges
it. When its situation is over an acknowledged alert ends; an unacknowledged warning or alarm stays as
"returned" until it is seen; a caution simply ends. Acknowledging changes what is heard, never what is
true: an acknowledged alert stays open while its situation lasts.

Only elapsed time is used. A new boot, a silent instrument or a stretch in which nobody looked starts
every delay anew: what was not seen is not counted.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from monitor.alerts.rules import RULES, Rule
from monitor.errors import CommandError
from monitor.records import AlertChange, Finding, OpenAlert, Reason, Severity

ACTIVE = "active"
ACKNOWLEDGED = "acknowledged"
RETURNED = "returned"
ENDED = "ended"

BLIND_S = 180.0
"""Steps further apart than this leave a stretch in which nobody looked."""

_GRADE = {Severity.ALARM: 0, Severity.WARNING: 1, Severity.CAUTION: 2}

Key = tuple[str, str]


@dataclass(slots=True)
class _Line:
    """One open alert. Mutable on purpose."""

    alert: str
    severity: Severity
    state: str
    boot: int
    began_s: float
    reason: Reason
    recorded: bool = True


@dataclass(slots=True)
class _Timer:
    """Since when the situation holds, is bad enough to be urgent, is clear: None when it is not."""

    holds_s: float | None = None
    urgent_s: float | None = None
    clears_s: float | None = None


class AlertBook:
    """Every alert that wants somebody. Not thread-safe: it belongs to the pipeline."""

    def __init__(self) -> None:
        self._lines: dict[Key, _Line] = {}
        self._timers: dict[Key, _Timer] = {}
        self._boot: int | None = None
        self._at_s = 0.0

    def step(self, boot: int, at_s: float, findings: Sequence[Finding]) -> list[AlertChange]:
        """Take in what the rules say at `at_s` and return what changed, the worst first.

        `findings` is the whole list: a situation that is missing in it is no longer watched, and
        its alert returns or ends.
        """
        if boot != self._boot or not 0 <= at_s - self._at_s <= BLIND_S:
            self._timers.clear()
        self._boot, self._at_s = boot, at_s
        changes: list[AlertChange] = []
        # Root causes first: what they explain never begins beside them, and begins when they are over.
        for finding in sorted(findings, key=_depth):
            self._time(finding, at_s)
            self._close(finding, changes)
            self._open(finding, changes)
        self._forget({(f.rule, f.subject) for f in findings}, changes)
        return sorted(changes, key=lambda change: _GRADE[change.severity])

    def acknowledge(self, alert: str, boot: int, at_s: float) -> AlertChange:
        """Somebody has seen it. Raises CommandError where there is nothing to acknowledge."""
        for key, line in self._lines.items():
            if line.alert != alert:
                continue
            if line.state == ACKNOWLEDGED:
                raise CommandError("this alert has been acknowledged already")
            state = ENDED if line.state == RETURNED else ACKNOWLEDGED
            return self._turn(key, line, state, boot, at_s)
        raise CommandError("this alert is no longer open")

    def record(self, alert: str, recorded: bool) -> None:
        """Whether the alert's latest change is known to be on the card."""
        for line in self._lines.values():
            if line.alert == alert:
                line.recorded = recorded

    def open(self) -> tuple[OpenAlert, ...]:
        """The open alerts: the worst first, of one grade the unacknowledged and then the newest first."""
        lines = sorted(self._lines.items(), key=lambda item: _rank(item[1]))
        return tuple(
            OpenAlert(
                line.alert, rule, subject, line.severity, line.state, line.began_s, line.reason, line.recorded
            )
            for (rule, subject), line in lines
        )

    def began(self, alert: str) -> tuple[int, float]:
        """The boot and the elapsed seconds in which an open alert began."""
        for line in self._lines.values():
            if line.alert == alert:
                return line.boot, line.began_s
        raise CommandError("this alert is no longer open")

    def state(self) -> dict[str, Any]:
        """The open alerts as JSON values. What is pending is left out: it starts anew."""
        return {
            "open": [
                {
                    "alert": line.alert,
                    "rule": rule,
                    "subject": subject,
                    "severity": line.severity.value,
                    "state": line.state,
                    "boot": line.boot,
                    "began_s": line.began_s,
                    "reason": {"id": line.reason.id, "facts": dict(line.reason.facts)},
                }
                for (rule, subject), line in self._lines.items()
            ]
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up what `state` gave, after a restart. Rules that no longer exist are left behind."""
        self._timers.clear()
        self._boot = None
        self._lines = {
            (row["rule"], row["subject"]): _Line(
                row["alert"],
                Severity(row["severity"]),
                row["state"],
                row["boot"],
                row["began_s"],
                Reason(row["reason"]["id"], row["reason"]["facts"]),
            )
            for row in state.get("open", ())
            if row["rule"] in RULES
        }

    def _time(self, finding: Finding, at_s: float) -> None:
        timer = self._timers.setdefault((finding.rule, finding.subject), _Timer())
        timer.holds_s = _since(timer.holds_s, finding.holds, at_s)
        timer.urgent_s = _since(timer.urgent_s, finding.holds and finding.urgent, at_s)
        timer.clears_s = _since(timer.clears_s, finding.clears, at_s)

    def _open(self, finding: Finding, changes: list[AlertChange]) -> None:
        """Begin an alert that is due, or bring back or raise one that is open."""
        key = (finding.rule, finding.subject)
        line = self._lines.get(key)
        if not finding.holds:
            if line is not None and finding.holds is False and RULES[finding.rule].follows:
                line.reason = line.reason if line.state == RETURNED else finding.reason
            return
        severity = finding.severity or RULES[finding.rule].severity
        if line is not None:
            if line.state == RETURNED and not self._due(finding):
                return
            line.reason = finding.reason
            worse = _GRADE[severity] < _GRADE[line.severity]
            if worse:
                line.severity = severity
            if worse or line.state == RETURNED:
                changes.append(self._turn(key, line, ACTIVE))
        elif self._due(finding) and not self._explained(finding):
            alert = f"{finding.rule}/{finding.subject}/{self._boot}/{self._at_s:.3f}"
            line = _Line(alert, severity, "", self._boot or 0, self._at_s, finding.reason)
            self._lines[key] = line
            changes.append(self._turn(key, line, ACTIVE))

    def _close(self, finding: Finding, changes: list[AlertChange]) -> None:
        """Let an alert go whose situation is over, or which a root cause has come to explain."""
        key = (finding.rule, finding.subject)
        line = self._lines.get(key)
        if line is None:
            return
        parent = self._explained(finding)
        if parent is not None and _GRADE[parent.severity] <= _GRADE[line.severity]:
            line.reason = Reason("alert: grouped", {"under": parent.alert})
            changes.append(self._turn(key, line, ENDED))
        elif line.state != RETURNED and self._over(RULES[finding.rule], key):
            changes.append(self._turn(key, line, _after(key, line)))

    def _forget(self, watched: set[Key], changes: list[AlertChange]) -> None:
        for key in [key for key in self._lines if key not in watched]:
            line = self._lines[key]
            if line.state != RETURNED:
                line.reason = Reason("alert: no longer watched")
                changes.append(self._turn(key, line, _after(key, line)))
        for key in [key for key in self._timers if key not in watched]:
            del self._timers[key]

    def _due(self, finding: Finding) -> bool:
        rule = RULES[finding.rule]
        timer = self._timers[finding.rule, finding.subject]
        return _lasted(timer.holds_s, rule.on_delay_s, self._at_s) or (
            rule.urgent_delay_s is not None and _lasted(timer.urgent_s, rule.urgent_delay_s, self._at_s)
        )

    def _over(self, rule: Rule, key: Key) -> bool:
        return _lasted(self._timers[key].clears_s, rule.off_delay_s, self._at_s)

    def _explained(self, finding: Finding) -> _Line | None:
        """The root cause in force that already tells of this situation, if there is one."""
        for key in finding.under:
            line = self._lines.get(key)
            if line is not None and line.state in (ACTIVE, ACKNOWLEDGED):
                return line
        return None

    def _turn(
        self, key: Key, line: _Line, state: str, boot: int | None = None, at_s: float | None = None
    ) -> AlertChange:
        """Bring a line into a state, drop it from the book when it has ended, and tell."""
        line.state = state
        if state == ENDED:
            del self._lines[key]
        boot = (self._boot or 0) if boot is None else boot
        at_s = self._at_s if at_s is None else at_s
        return AlertChange(line.alert, *key, line.severity, boot, at_s, state, line.reason)


def _depth(finding: Finding) -> int:
    return len(finding.under)


def _since(since_s: float | None, now: bool | None, at_s: float) -> float | None:
    if not now:
        return None
    return at_s if since_s is None else since_s


def _lasted(since_s: float | None, delay_s: float, at_s: float) -> bool:
    return since_s is not None and at_s - since_s >= delay_s


def _after(key: Key, line: _Line) -> str:
    """What an alert becomes when its situation is over: warnings and alarms wait to be seen, but those that
    are of no use any more."""
    passes = line.severity is Severity.CAUTION or RULES[key[0]].passes
    seen = line.state == ACKNOWLEDGED or passes
    return ENDED if seen else RETURNED


def _rank(line: _Line) -> tuple[int, bool, int, float]:
    return _GRADE[line.severity], line.state == ACKNOWLEDGED, -line.boot, -line.began_s
