"""What the book keeps of a situation: its line while it is an alert, and its timers always."""

from dataclasses import dataclass, field
from typing import Any

from monitor.alerts.rules import MINUTE_S, Rule
from monitor.records import Finding, OpenAlert, Reason, RuleState, Severity

ACTIVE = "active"
ACKNOWLEDGED = "acknowledged"
RETURNED = "returned"
ENDED = "ended"
SHELVED = "shelved"
SUPPRESSED = "suppressed"

GRADE = {Severity.ALARM: 0, Severity.WARNING: 1, Severity.CAUTION: 2}
"""The graver, the smaller."""

STALE_S = 60.0
"""What an alert rests on has been unknown for so long: it is told."""
SECOND_WAY_S = 120.0
"""An alarm that nobody has seen takes the second way out. MSC.302(87)'s fire row has two minutes."""
CHATTER_BEGINS, CHATTER_S, CHATTER_MOST = 3, 10 * MINUTE_S, 8
"""So many beginnings within ten minutes (or four times the rule's own delays) double the off delay, up to
eight times. After IEC 62682's chattering alarms; the figures are common practice."""

Key = tuple[str, str]
"""(rule, subject)."""


@dataclass(slots=True)
class Line:
    """One open alert. Mutable on purpose: it belongs to the book."""

    alert: str
    severity: Severity
    state: str
    """ACTIVE, ACKNOWLEDGED or RETURNED: what holds when nothing keeps it out of hearing."""
    boot: int
    began_s: float
    reason: Reason
    recorded: bool = True
    kept: str = ""
    """SHELVED or SUPPRESSED: out of hearing for now."""
    until_s: float | None = None
    because: Reason | None = None
    root: Key | None = None
    """The alert that explains it."""
    unseen_s: float | None = None
    """Since when it has called for somebody, while this watch looks on."""
    escalated: bool = False
    stale_s: float | None = None

    @property
    def shown(self) -> str:
        return self.kept or self.state

    @property
    def in_force(self) -> bool:
        return self.state in (ACTIVE, ACKNOWLEDGED)

    def call(self, at_s: float) -> None:
        """From now on it wants somebody."""
        self.state, self.unseen_s, self.escalated = ACTIVE, at_s, False
        self.heard()

    def heard(self) -> None:
        """Nothing keeps it out of hearing."""
        self.kept, self.until_s, self.because, self.root = "", None, None, None

    def told(self, key: Key, chatters: bool, children: tuple[Key, ...]) -> OpenAlert:
        return OpenAlert(
            self.alert, *key, self.severity, self.shown, self.began_s, self.reason, self.recorded,
            self.until_s, self.because, children, self.stale_s, chatters, self.escalated,
        )  # fmt: skip

    def as_json(self, key: Key) -> dict[str, Any]:
        return {
            "alert": self.alert,
            "rule": key[0],
            "subject": key[1],
            "severity": self.severity.value,
            "state": self.state,
            "boot": self.boot,
            "began_s": self.began_s,
            "reason": _packed(self.reason),
            "kept": self.kept,
            "until_s": self.until_s,
            "because": None if self.because is None else _packed(self.because),
            "root": self.root,
            "escalated": self.escalated,
        }

    @classmethod
    def of_json(cls, row: dict[str, Any]) -> "Line":
        line = cls(
            row["alert"], Severity(row["severity"]), row["state"], row["boot"], row["began_s"],
            Reason(row["reason"]["id"], row["reason"]["facts"]),
        )  # fmt: skip
        because, root = row.get("because"), row.get("root")
        line.kept, line.until_s = row.get("kept", ""), row.get("until_s")
        line.because = None if because is None else Reason(because["id"], because["facts"])
        line.root = None if root is None else (root[0], root[1])
        line.escalated = row.get("escalated", False)
        return line


def _packed(reason: Reason) -> dict[str, Any]:
    return {"id": reason.id, "facts": dict(reason.facts)}


@dataclass(slots=True)
class Timer:
    """Since when the situation holds, is urgent, is clear, is unknown: None when it is not."""

    holds_s: float | None = None
    urgent_s: float | None = None
    clears_s: float | None = None
    unknown_s: float | None = None
    begins: list[float] = field(default_factory=list)
    """When it began of late."""

    def take(self, finding: Finding, excused: bool, at_s: float) -> None:
        holds = finding.holds and not excused
        self.holds_s = _since(self.holds_s, holds, at_s)
        self.urgent_s = _since(self.urgent_s, holds and finding.urgent, at_s)
        self.clears_s = _since(self.clears_s, finding.clears, at_s)
        self.unknown_s = _since(self.unknown_s, finding.holds is None, at_s)

    def forget(self) -> None:
        """Nobody looked: what was not seen is not counted."""
        self.holds_s = self.urgent_s = self.clears_s = self.unknown_s = None

    def due(self, rule: Rule, at_s: float) -> bool:
        return _lasted(self.holds_s, rule.on_delay_s, at_s) or (
            rule.urgent_delay_s is not None and _lasted(self.urgent_s, rule.urgent_delay_s, at_s)
        )

    def over(self, rule: Rule, at_s: float) -> bool:
        return _lasted(self.clears_s, rule.off_delay_s * self.chatter(rule, at_s), at_s)

    def began(self, at_s: float) -> None:
        self.begins.append(at_s)

    def chatter(self, rule: Rule, at_s: float) -> int:
        """By how much the off delay is longer because it comes and goes; 1 where it does not."""
        if len(self.begins) < CHATTER_BEGINS:
            return 1
        window_s = max(CHATTER_S, 4 * (rule.on_delay_s + rule.off_delay_s))
        self.begins = [begin_s for begin_s in self.begins if 0 <= at_s - begin_s <= window_s]
        more = len(self.begins) - CHATTER_BEGINS + 1
        return 1 if more <= 0 else min(CHATTER_MOST, 2**more)

    def state(self, key: Key) -> RuleState:
        """Of a situation that is no open alert."""
        state = "stale" if self.unknown_s is not None else "normal" if self.holds_s is None else "pending"
        return RuleState(*key, state)


def patience_s(line: Line, rule: Rule) -> float:
    """How long an alert that nobody has seen waits before it takes the second way out."""
    by_grade = {Severity.ALARM: SECOND_WAY_S, Severity.WARNING: rule.respond_s / 2}
    return by_grade.get(line.severity, float("inf"))


def _since(since_s: float | None, now: bool | None, at_s: float) -> float | None:
    if not now:
        return None
    return at_s if since_s is None else since_s


def _lasted(since_s: float | None, delay_s: float, at_s: float) -> bool:
    return since_s is not None and at_s - since_s >= delay_s
