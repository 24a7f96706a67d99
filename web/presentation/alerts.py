"""The page of alerts: what calls, what is put aside or explained, jobs aboard, the sound, the ways out."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.alerts.jobs import JOBS
from monitor.alerts.shelf import MOST_S
from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.records import OpenAlert, Severity, Way
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import span
from web.presentation.alert_cards import Card, card, explained_by, in_order, many, rule_name
from web.presentation.figures import Reader, aged

A_PAGE = 25
"""So many alerts stand on one page; the gravest on the first."""
SHELF_S = (15 * MINUTE_S, HOUR_S, DAY_S, 7 * DAY_S)
WAY_KINDS = (N_("message"), N_("loudspeaker"))
"""Kinds of ways out that are words; the others are names."""
CALLING = ("active", "returned", "acknowledged")


@dataclass(frozen=True, slots=True)
class Standing:
    card: Card
    title: str
    shelf: tuple[tuple[int, str], ...]
    """Minutes and their words: for how long it may be put aside by one touch."""
    until: bool
    """Whether an hour of the ship's clock may be given instead."""


@dataclass(frozen=True, slots=True)
class Aside:
    title: str
    until: str
    rule: str
    subject: str
    more: str


@dataclass(frozen=True, slots=True)
class JobRow:
    job: str
    name: str
    until: str
    """Empty where it is not under way."""
    lasts: str
    explains: str


@dataclass(frozen=True, slots=True)
class WayRow:
    name: str
    kind: str
    heard: str
    state: str
    failing: bool


@dataclass(frozen=True, slots=True)
class Alerts:
    first: str
    flood: str
    open: tuple[Standing, ...]
    pages: tuple[tuple[str, str], ...]
    """Address and words of the other pages."""
    aside: tuple[Aside, ...]
    explained: tuple[tuple[str, str], ...]
    jobs: tuple[JobRow, ...]
    sound: str
    ways: tuple[WayRow, ...]


def alerts(reader: Reader, start: int = 0) -> Alerts:
    """`start`: the first that is shown, where there are more than a page holds."""
    s = reader.snapshot
    ordered = in_order(s.alerts)
    calling = [a for state in CALLING for a in ordered if a.state == state]
    shown = calling[start : start + A_PAGE]
    return Alerts(
        first=_first(reader, calling),
        flood=reader.say("alerts: flood, all here", count=s.calls.flood) if s.calls.flood else "",
        open=tuple(_standing(reader, a) for a in shown),
        pages=tuple(_pages(reader, len(calling), start)),
        aside=tuple(_aside(reader)),
        explained=tuple(
            (rule_name(reader, a.rule, a.subject), explained_by(reader, a.because))
            for a in ordered
            if a.state == "suppressed"
        )[:100],
        jobs=tuple(_jobs(reader)),
        sound=_sound(reader),
        ways=tuple(_way(reader, w) for w in s.calls.ways),
    )


def _first(reader: Reader, calling: list[OpenAlert]) -> str:
    wanting = Counter(a.severity for a in calling if a.state == "active")
    if wanting:
        said = [many(reader, g, n) for g in Severity if (n := wanting[g])]
        told = said[-1]
        if len(said) > 1:
            told = reader.word("{first} and {last}", first=", ".join(said[:-1]), last=said[-1])
        return reader.say("alerts: wanted" if sum(wanting.values()) > 1 else "alerts: wanted, one", told=told)
    if any(a.state == "returned" for a in calling):
        return reader.say("alerts: only gone")
    return reader.say("alerts: all seen" if calling else "alerts: nothing calls")


def _standing(reader: Reader, a: OpenAlert) -> Standing:
    most_s = MOST_S[a.severity] if a.state in ("active", "acknowledged") else 0.0
    shelf = tuple((round(s / MINUTE_S), span(s, reader.dress)) for s in SHELF_S if s <= most_s)
    until = most_s > HOUR_S and reader.snapshot.utc_s is not None
    return Standing(card(reader, a), rule_name(reader, a.rule, a.subject), shelf, until)


def _pages(reader: Reader, count: int, start: int) -> Iterable[tuple[str, str]]:
    if start > 0:
        yield f"/alerts?from={max(0, start - A_PAGE)}", reader.say("alerts: graver")
    if start + A_PAGE < count:
        first, last = start + A_PAGE + 1, min(start + 2 * A_PAGE, count)
        yield (
            f"/alerts?from={start + A_PAGE}",
            reader.say("alerts: further", first=first, last=last, count=count),
        )


def _aside(reader: Reader) -> Iterable[Aside]:
    s = reader.snapshot
    held = {(a.rule, a.subject) for a in s.alerts if a.state == "shelved"}
    for rule, subject, until_s in s.calls.shelf[:100]:
        id = "aside: lasts" if (rule, subject) in held else "aside: over"
        title, until = rule_name(reader, rule, subject), till(reader, until_s)
        yield Aside(title, until, rule, subject, reader.say(id))


def till(reader: Reader, until_s: float) -> str:
    """ "until Wed 16:06"; without a clock, for how long still."""
    s = reader.snapshot
    left_s = max(0.0, until_s - s.at_s)
    if s.utc_s is None:
        return reader.word("for {left:span}", left=left_s)
    return reader.word("until {at:clock}", at=s.utc_s + left_s)


def _jobs(reader: Reader) -> Iterable[JobRow]:
    under_way = {job.name: job.until_s for job in reader.snapshot.calls.jobs}
    for kind in JOBS.values():
        until = till(reader, under_way[kind.name]) if kind.name in under_way else ""
        explains = reader.word(
            "Holds back: {rules}.", rules=", ".join(rule_name(reader, rule) for rule in kind.explains)
        )
        lasts = reader.word("for {left:span}", left=kind.lasts_s)
        yield JobRow(kind.name, named(reader.word(kind.name)), until, lasts, explains)


def _sound(reader: Reader) -> str:
    s = reader.snapshot
    now = s.calls.sound
    about = next((a for a in s.alerts if a.alert == now.alert), None)
    if about is None:
        return reader.say("sound: nothing")
    name = rule_name(reader, about.rule, about.subject)
    if now.pattern:
        return reader.say(f"sound: {now.pattern} now", name=name)
    return reader.say("sound: held back", name=name, until=till(reader, s.calls.hushed_until_s))


def _way(reader: Reader, way: Way) -> WayRow:
    s = reader.snapshot
    heard = reader.say("way: never heard")
    if way.confirmed_utc_s is not None:
        ago = reader.say("way: once")
        if s.utc_s is not None:
            ago = aged(s.utc_s - way.confirmed_utc_s, reader.dress)
        heard = reader.say("way: heard", ago=ago)
    said = []
    if way.failing_s > 0:
        said.append(reader.say("way: failing", failing_s=way.failing_s, why=way.trouble or N_("no answer")))
    elif way.trouble:
        said.append(reader.word("{what}.", what=named(reader.word(way.trouble))))
    if way.waiting:
        said.append(reader.say("way: waiting", count=way.waiting))
    return WayRow(
        way.name,
        reader.word(way.kind) if way.kind in WAY_KINDS else way.kind,
        heard,
        " ".join(said) or reader.say("way: well" if way.confirmed_utc_s else "way: untried"),
        way.failing_s > 0,
    )
