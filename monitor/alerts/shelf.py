"""What the crew has put aside: each until a moment, and none through a new boot, because nobody knows how
long the computer was off."""

from collections.abc import Mapping
from typing import Any

from monitor.alerts.lines import GRADE, Key
from monitor.alerts.rules import HOUR_S, MINUTE_S
from monitor.errors import CommandError
from monitor.records import Severity
from monitor.words.tongues import N_

LEAST_S = 5 * MINUTE_S
MOST_S = {Severity.ALARM: HOUR_S, Severity.WARNING: 12 * HOUR_S, Severity.CAUTION: 7 * 24 * HOUR_S}
"""For how long. Common practice: no longer than a watch or a night."""
ASIDE = {
    Severity.ALARM: N_(
        "alarms can be put aside for 5 minutes to {most_h:number} h, got {got_min:number} min"
    ),
    Severity.WARNING: N_(
        "warnings can be put aside for 5 minutes to {most_h:number} h, got {got_min:number} min"
    ),
    Severity.CAUTION: N_(
        "cautions can be put aside for 5 minutes to {most_h:number} h, got {got_min:number} min"
    ),
}
"""What is told outside of it."""


class Shelf:
    """By rule and subject. Belongs to the book."""

    def __init__(self) -> None:
        self._until: dict[Key, tuple[float, Severity]] = {}
        self._boot: int | None = None

    def put(self, key: Key, severity: Severity, for_s: float, boot: int, at_s: float) -> float:
        """Until when it lies there. Raises CommandError outside 5 minutes to 1 h (an alarm), 12 h (a warning)
        or a week (a caution)."""
        most_s = MOST_S[severity]
        if not LEAST_S <= for_s <= most_s:
            facts = {"most_h": most_s / HOUR_S, "got_min": for_s / MINUTE_S}
            raise CommandError(ASIDE[severity], **facts)
        self._until[key] = (at_s + for_s, severity)
        self._boot = boot
        return at_s + for_s

    def drop(self, key: Key) -> bool:
        """Take it off; whether it was there."""
        return self._until.pop(key, None) is not None

    def until_s(self, key: Key, severity: Severity) -> float | None:
        """Until when something of this grade is out of hearing; what has got worse is not."""
        lies = self._until.get(key)
        return lies[0] if lies is not None and GRADE[severity] >= GRADE[lies[1]] else None

    def due(self, boot: int, at_s: float) -> list[Key]:
        """What is to be taken off now."""
        return [key for key, (until_s, _) in self._until.items() if boot != self._boot or at_s >= until_s]

    def all(self) -> tuple[tuple[str, str, float], ...]:
        return tuple((*key, until_s) for key, (until_s, _) in self._until.items())

    def state(self) -> dict[str, Any]:
        lies = [[*key, until_s, grade.value] for key, (until_s, grade) in self._until.items()]
        return {"until": lies, "boot": self._boot}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._until = {(r, s): (until_s, Severity(grade)) for r, s, until_s, grade in state["until"]}
        self._boot = state["boot"]
