"""Jobs aboard that explain what would be a fault otherwise, and always come to an end by themselves.

A job holds back warnings and cautions, never an alarm: a burst hose is told while the deck is washed, too.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.alerts.rules import HOUR_S, MINUTE_S, RULES, Rule
from monitor.errors import CommandError
from monitor.records import Finding, Job, Reason, Severity

LEAST_S, MOST_S = 5 * MINUTE_S, 12 * HOUR_S


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of job."""

    name: str
    lasts_s: float
    """For how long, unless something else is said."""
    explains: tuple[str, ...]
    """The rules it holds back."""


JOBS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("filling", HOUR_S, ("water does not add up", "tank sender wrong", "leak above the pump")),
        Kind(
            "washing down", HOUR_S,
            ("pump running on", "tap left open", "leak suspected", "few water days"),
        ),
        Kind(
            "equalising", 6 * HOUR_S,
            ("cells apart", "charge above limit", "generator overloaded", "bank helps shore", "buffer weak"),
        ),
        Kind(
            "engine work", 4 * HOUR_S,
            ("source silent", "instrument silent", "converter lost", "generator idles", "sensor stuck"),
        ),
    )
}  # fmt: skip
"""Those four are common practice aboard."""


class Jobs:
    """The jobs under way. Belongs to the pipeline."""

    def __init__(self) -> None:
        self._until_s: dict[str, float] = {}
        self._boot: int | None = None

    def begin(self, name: str, for_s: float | None, boot: int, at_s: float) -> float:
        """Until when it lasts now. Raises CommandError for a job there is not, or under 5 minutes or over
        12 hours."""
        kind = JOBS.get(name)
        if kind is None:
            raise CommandError("{job!r} is no job; expected one of: {known}", job=name, known=", ".join(JOBS))
        lasts_s = kind.lasts_s if for_s is None else for_s
        if not LEAST_S <= lasts_s <= MOST_S:
            raise CommandError(
                "a job lasts 5 minutes to 12 hours, got {got:number} min", got=lasts_s / MINUTE_S
            )
        self.at(boot, at_s)
        self._until_s[name] = at_s + lasts_s
        return at_s + lasts_s

    def over(self, name: str) -> None:
        """Raises CommandError where that job is not under way."""
        if self._until_s.pop(name, None) is None:
            raise CommandError("the job {job!r} is not under way", job=name)

    def at(self, boot: int, at_s: float) -> tuple[Job, ...]:
        """Those under way. None outlives the boot: nobody knows how long the computer was off."""
        if boot != self._boot:
            self._until_s.clear()
        self._boot = boot
        self._until_s = {name: until_s for name, until_s in self._until_s.items() if at_s < until_s}
        return tuple(Job(name, until_s) for name, until_s in self._until_s.items())

    def state(self) -> dict[str, Any]:
        return {"until_s": dict(self._until_s), "boot": self._boot}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._until_s = {name: float(s) for name, s in state["until_s"].items() if name in JOBS}
        self._boot = state["boot"]


def excused(
    jobs: Iterable[Job], findings: Iterable[Finding], rules: Mapping[str, Rule] = RULES
) -> dict[tuple[str, str], Reason]:
    """What the jobs explain of these findings, by rule and subject."""
    explains = {rule: job.name for job in jobs for rule in JOBS[job.name].explains}
    return {
        (f.rule, f.subject): Reason("alert: job", {"job": explains[f.rule]})
        for f in findings
        if f.rule in explains and (f.severity or rules[f.rule].severity) is not Severity.ALARM
    }
