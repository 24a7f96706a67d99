"""Alerts: judged, kept on the card before they are heard, handed out, and answered by the crew."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from monitor.alerts.book import AlertBook
from monitor.alerts.facts import ANCHORED, Facts
from monitor.alerts.findings import findings
from monitor.alerts.flood import Flood
from monitor.alerts.jobs import Jobs, excused
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.rules import MINUTE_S
from monitor.alerts.sounding import Sounding
from monitor.clock import Boot
from monitor.errors import CommandError
from monitor.pipeline.memory import Memory
from monitor.pipeline.recorder import Recorder
from monitor.pipeline.teller import Teller
from monitor.records import (
    CALLS,
    AlertChange,
    Calls,
    Command,
    Event,
    EventKind,
    Job,
    Notice,
    OpenAlert,
    Reason,
    RuleChange,
    Severity,
)
from monitor.settings import Settings

PATIENCE_S = 1.0
"""What is not on the card by then is told all the same, as not recorded."""

Dates = Callable[[float], float | None]
"""Elapsed seconds of this boot to UTC, None while the clock is not trusted."""


class Judgement:
    """The book of alerts, what is heard of it, and the store it stands in."""

    def __init__(self, settings: Settings, writer: Recorder, memory: Memory, teller: Teller) -> None:
        self._writer, self.teller = writer, teller
        self.rulebook = Rulebook(settings).checked()
        memory.restore("rules", self._restore_rules)
        self._book = AlertBook(self.rulebook.rules)
        memory.restore("alerts", self._book.restore)
        self._jobs = Jobs()
        memory.restore("jobs", self._jobs.restore)
        self._sounding, self._flood = Sounding(), Flood()
        self._flooded = 0
        self._facts: Facts | None = None
        self._boot = 0
        self._mode = ANCHORED

    # ---- judging

    def judge(self, boot: int, facts: Facts, filling: bool, dates: Dates) -> None:
        """`filling`: tanks are being filled, whatever the crew has said."""
        self._facts, self._boot, self._mode = facts, boot, facts.mode
        found = findings(facts)
        jobs = self._jobs.at(boot, facts.at_s)
        if filling and "filling" not in {job.name for job in jobs}:
            jobs = (*jobs, Job("filling", facts.at_s + MINUTE_S))
        rules = self.rulebook.rules
        changes = self._book.step(boot, facts.at_s, found, excused(jobs, found, rules))
        before, self._flooded = self._flooded, self._flood.take(facts.at_s, changes)
        self._tell(changes, facts.at_s, dates, begins=not before and self._flooded > 0)

    def _tell(self, changes: Sequence[AlertChange], at_s: float, dates: Dates, begins: bool = False) -> None:
        """On the card first, then heard, then handed out. The book and what is to be told are given to the
        card first of all: a kill in between loses no alert, and none that nobody is told of."""
        notices = [_notice(c, dates) for c in self._flood.told_apart(changes)]
        if begins:
            told = Reason("flood", {"count": self._flooded})
            id = f"flood/{self._boot}/{at_s:.3f}"
            notices.append(Notice(id, "flood", at_s, dates(at_s), told, Severity.WARNING))
        self.teller.post(notices)
        if changes:
            self._writer.remember("alerts", self._book.state())
            recorded = self._writer.alerts(changes, PATIENCE_S)
            self._book.record({change.alert for change in changes}, recorded)
            notices = notices if recorded else [replace(n, recorded=n.alert == "") for n in notices]
        called = {c.alert for c in changes if c.what in CALLS and c.what != "escalated"}
        self._sounding.take(at_s, self._book.open(), called, self._mode, self.rulebook.rules)
        self.teller.hand(notices)

    # ---- the crew

    wishes = frozenset(
        {
            "acknowledge",
            "take back",
            "shelve",
            "unshelve",
            "hush",
            "job",
            "job over",
            "rule",
            "rule reset",
            "score",
            "try ways",
        }
    )

    def wish(self, command: Command, boot: int, at_s: float, dates: Dates) -> Iterator[Event]:
        """Do what the crew asked for. Raises CommandError, saying why, where it cannot be done."""
        self._boot, kind, facts = boot, command.kind, command.facts
        if kind == "acknowledge":
            self._tell([self._book.acknowledge(command.subject, self._boot, at_s)], at_s, dates)
        elif kind == "take back":
            self._tell([self._book.take_back(command.subject, self._boot, at_s)], at_s, dates)
        elif kind == "shelve":
            for_s = _number(facts, "minutes") * MINUTE_S
            self._tell([self._book.shelve(command.subject, for_s, self._boot, at_s)], at_s, dates)
        elif kind == "unshelve":
            rule, subject = str(facts.get("rule", "")), command.subject
            self._tell(self._book.unshelve(rule, subject, at_s), at_s, dates)
        elif kind == "hush":
            self._sounding.hush(at_s)
        elif kind == "job":
            lasts_s = None if facts.get("minutes") is None else _number(facts, "minutes") * MINUTE_S
            until_s = self._jobs.begin(command.subject, lasts_s, self._boot, at_s)
            self._writer.remember("jobs", self._jobs.state())
            yield Event(EventKind.JOB, command.subject, self._boot, at_s, until_s)
        elif kind == "job over":
            self._jobs.over(command.subject)
            self._writer.remember("jobs", self._jobs.state())
            yield Event(EventKind.JOB, command.subject, self._boot, at_s, None, {"over": True})
        elif kind in ("rule", "rule reset"):
            yield self._change_rule(command, at_s)
        elif kind == "score":
            yield Event(
                EventKind.SCORE, command.subject, self._boot, at_s, None, {"true": bool(facts["true"])}
            )
        else:
            self.hand("test", Reason("way tried"), at_s, dates)

    def hand(self, kind: str, reason: Reason, at_s: float, dates: Dates) -> None:
        """A sentence of the watch's own, to every way out."""
        notices = [Notice(f"{kind}/{self._boot}/{at_s:.3f}", kind, at_s, dates(at_s), reason)]
        self.teller.post(notices)
        self.teller.hand(notices)

    def _change_rule(self, command: Command, at_s: float) -> Event:
        rule, heads = str(command.facts.get("rule", "")), self._facts.heads if self._facts else 1
        if command.kind == "rule":
            given = {k: v for k, v in command.facts.items() if k in RuleChange.__dataclass_fields__}
            self.rulebook = self.rulebook.changed(RuleChange(**{**given, "subject": command.subject}), heads)
        else:
            self.rulebook = self.rulebook.reset(rule, command.subject)
        self._book.rules = self.rulebook.rules
        self._writer.remember("rules", self.rulebook.state())
        return Event(EventKind.RULE, rule, self._boot, at_s, None, dict(command.facts))

    def _restore_rules(self, state: Any) -> None:
        self.rulebook = self.rulebook.restored(state)

    # ---- what there is to see

    def calls(self, at_s: float) -> Calls:
        """What is sounded, put aside or explained now."""
        facts = self._facts
        states = self._book.states()
        if facts is not None:
            states = [
                s._replace(limit=self.rulebook.limit(s.rule, s.subject, facts.mode, facts.heads))
                for s in states
            ]
        return Calls(
            self._sounding.now(at_s),
            self._sounding.hushed_until_s,
            self._jobs.at(self._boot, at_s),
            self._book.shelf(),
            self._flooded,
            tuple(states),
            self.teller.ways(),
            self.rulebook.crew,
        )

    def open(self, here: Boot, others: Mapping[int, Boot], started_s: float) -> tuple[OpenAlert, ...]:
        """Those that still want somebody, with the time they began at as this boot would count it.

        One that began in a boot that has no place in time is shown from the start of the watch.
        """
        found, begins = [], self._book.begins()
        for alert in self._book.open():
            boot, since_s = begins[alert.alert]
            if boot != here.number:
                utc_s = others[boot].utc_s(since_s) if boot in others else None
                counted_s = here.elapsed_s(utc_s) if utc_s is not None else None
                since_s = started_s if counted_s is None else counted_s
            found.append(replace(alert, since_s=since_s))
        return tuple(found)


def _notice(change: AlertChange, dates: Dates) -> Notice:
    return Notice(
        id=f"{change.alert}/{change.what}/{change.boot}/{change.at_s:.3f}",
        kind="alert",
        at_s=change.at_s,
        utc_s=dates(change.at_s),
        reason=change.reason,
        severity=change.severity,
        alert=change.alert,
        rule=change.rule,
        subject=change.subject,
        state=change.state,
        what=change.what,
        second=change.what == "escalated",
    )


def _number(facts: Mapping[str, Any], name: str) -> float:
    try:
        return float(facts[name])
    except (KeyError, TypeError, ValueError):
        raise CommandError("{name}: expected a number, got {got!r}", name=name, got=facts.get(name)) from None
