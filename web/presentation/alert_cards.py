"""What stands of the alerts on every page: alarms and warnings whole, the rest in lines, folds and counts.

What is out of hearing, put aside or explained, has its place on the page of alerts and not among the others.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.alerts.rules import RULES
from monitor.records import OpenAlert, Reason, Severity
from monitor.words.say import SENTENCES, named, say
from monitor.words.tongues import N_
from web.presentation.figures import Reader

GRADES = {
    Severity.ALARM: N_("Alarm"), Severity.WARNING: N_("Warning"), Severity.CAUTION: N_("Caution"),
}  # fmt: skip
GRADE_WORDS = {
    Severity.ALARM: N_("alarm"), Severity.WARNING: N_("warning"), Severity.CAUTION: N_("caution"),
}  # fmt: skip
"""Within a sentence."""
COUNTED = {
    Severity.ALARM: (N_("1 alarm"), N_("{n:count} alarms")),
    Severity.WARNING: (N_("1 warning"), N_("{n:count} warnings")),
    Severity.CAUTION: (N_("1 caution"), N_("{n:count} cautions")),
}
SEVERITIES = list(GRADES)
MOST_WHOLE, MOST_LINES, MOST_FOLDED, MOST_CHILDREN = 8, 4, 12, 5
"""On a page that is about something else; the page of alerts has them all."""


@dataclass(frozen=True, slots=True)
class Card:
    alert: str
    rule: str
    subject: str
    grade: str
    severity: str
    name: str
    since: str
    because: str
    notes: tuple[str, ...]
    todo: str
    otherwise: str
    respond: str
    acknowledged: bool
    gone: bool


@dataclass(frozen=True, slots=True)
class Folded:
    """A fold with a line each; `more` tells of those that have no line."""

    title: str
    names: str
    cards: tuple[Card, ...]
    more: str


@dataclass(frozen=True, slots=True)
class Cards:
    whole: tuple[Card, ...]
    lines: tuple[Card, ...]
    flood: str
    counted: tuple[str, ...]
    """By grade, those that have neither a card nor a line."""
    gone: Folded | None
    seen: Folded | None
    aside: str
    explained: str
    count: str
    """Of all that are not out of hearing."""


def alert_cards(reader: Reader) -> Cards:
    """The gravest first; of one grade what wants an answer soonest, then the newest."""
    ordered = in_order(reader.snapshot.alerts)
    active = [a for a in ordered if a.state == "active"]
    gone = [a for a in ordered if a.state == "returned"]
    seen = [a for a in ordered if a.state == "acknowledged"]
    flood = reader.snapshot.calls.flood
    first, second = _split(active, Severity.ALARM) if flood else _split(active, Severity.WARNING)
    whole = first[:MOST_WHOLE]
    lines = [] if flood else second[:MOST_LINES]
    rest = [a for a in active if a not in whole and a not in lines]
    aside, explained = (sum(a.state == state for a in ordered) for state in ("shelved", "suppressed"))
    return Cards(
        whole=tuple(card(reader, a) for a in whole),
        lines=tuple(card(reader, a) for a in lines),
        flood=reader.say("alerts: flood", count=flood) if flood else "",
        counted=tuple(counted(reader, rest)),
        gone=_folded(reader, "alerts: gone unseen", gone),
        seen=_folded(reader, "alerts: seen", seen),
        aside=reader.say("alerts: put aside", count=aside) if aside else "",
        explained=reader.say("alerts: explained", count=explained) if explained else "",
        count=open_count(reader),
    )


def open_count(reader: Reader) -> str:
    """ "3 alerts": all that are not out of hearing."""
    n = sum(a.state not in ("shelved", "suppressed") for a in reader.snapshot.alerts)
    return reader.say("alerts: none" if n == 0 else "alerts: one" if n == 1 else "alerts: many", count=n)


def in_order(alerts: Iterable[OpenAlert]) -> list[OpenAlert]:
    return sorted(alerts, key=lambda a: (SEVERITIES.index(a.severity), _respond_s(a), -a.since_s))


def card(reader: Reader, a: OpenAlert) -> Card:
    s = reader.snapshot
    since = reader.word("{age:span} ago", age=s.at_s - a.since_s)
    if s.utc_s is not None:
        since = reader.word("since {at:clock}", at=s.utc_s - (s.at_s - a.since_s))
    respond_s = _respond_s(a)
    return Card(
        a.alert, a.rule, a.subject, reader.word(GRADES[a.severity]), a.severity.value,
        rule_words(reader, a, "name") or a.rule, since, say(a.reason, reader.dress), tuple(_notes(reader, a)),
        rule_words(reader, a, "do"), rule_words(reader, a, "otherwise"),
        respond="" if respond_s == float("inf") else reader.say("alert: respond", respond_s=respond_s),
        acknowledged=a.state == "acknowledged",
        gone=a.state == "returned",
    )  # fmt: skip


def counted(reader: Reader, alerts: Sequence[OpenAlert]) -> Iterable[str]:
    """ "40 warnings, the gravest: Cells hot (house)" for each grade."""
    of_grade = Counter(a.severity for a in alerts)
    for severity in sorted(of_grade, key=SEVERITIES.index):
        first = next(a for a in alerts if a.severity == severity)
        count = many(reader, severity, of_grade[severity])
        yield reader.say("alerts: counted", count=count, name=rule_name(reader, first.rule, first.subject))


def many(reader: Reader, severity: Severity, n: int) -> str:
    """ "3 warnings"."""
    return reader.word(COUNTED[severity][n != 1], n=n)


def rule_words(reader: Reader, a: OpenAlert, part: str) -> str:
    """What the rule is called, what to do, what happens otherwise; empty where nothing is written."""
    id = f"{a.rule}: {part}"
    return reader.say(id, **a.reason.facts) if id in SENTENCES else ""


def rule_name(reader: Reader, rule: str, subject: str = "") -> str:
    """ "Sensor stuck (house)"."""
    id = f"{rule}: name"
    name = reader.say(id) if id in SENTENCES else named(rule)
    return f"{name} ({subject})" if subject else name


def explained_by(reader: Reader, because: Reason | None) -> str:
    """Why an alert is out of hearing, with the other alert's name where it is one."""
    if because is None:
        return ""
    if because.id == "alert: grouped":
        name = rule_name(reader, str(because.facts["rule"]), str(because.facts["subject"]))
        return reader.say("alert: explained by", name=name)
    return say(because, reader.dress)


def _notes(reader: Reader, a: OpenAlert) -> Iterable[str]:
    if not a.recorded:
        yield reader.say("not on the card")
    if a.stale_s is not None:
        yield reader.say("alert: stale", silent_s=max(0.0, reader.snapshot.at_s - a.stale_s))
    if a.chatters:
        yield reader.say("alert: chatters")
    if a.escalated:
        yield reader.say("alert: escalated")
    if a.children:
        told = [rule_name(reader, r, "" if s == a.subject else s) for r, s in a.children[:MOST_CHILDREN]]
        more = len(a.children) - len(told)
        id = "alert: with it and more" if more else "alert: with it"
        yield reader.say(id, children=", ".join(told), more=more)


def _respond_s(a: OpenAlert) -> float:
    rule = RULES.get(a.rule)
    return float("inf") if rule is None else rule.respond_s


def _split(alerts: Iterable[OpenAlert], least: Severity) -> tuple[list[OpenAlert], list[OpenAlert]]:
    """Those of that grade and graver, and the others."""
    grave: tuple[list[OpenAlert], list[OpenAlert]] = ([], [])
    for a in alerts:
        grave[SEVERITIES.index(a.severity) > SEVERITIES.index(least)].append(a)
    return grave


def _folded(reader: Reader, id: str, alerts: Sequence[OpenAlert]) -> Folded | None:
    if not alerts:
        return None
    more = len(alerts) - MOST_FOLDED
    return Folded(
        reader.say(id if len(alerts) > 1 else f"{id}, one", count=len(alerts)),
        ", ".join(rule_name(reader, a.rule) for a in alerts[:3]) + (", …" if len(alerts) > 3 else ""),
        tuple(card(reader, a) for a in alerts[:MOST_FOLDED]),
        reader.say("alerts: more", count=more) if more > 0 else "",
    )
