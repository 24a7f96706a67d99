"""How the sources and the instruments are: what speaks for each, its last word, how often it fell silent."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.channels import QUANTITIES
from monitor.clock import DAY_S, Interval
from monitor.errors import StorageError
from monitor.records import Reading, SourceHealth
from monitor.settings import Feed
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import count, unknown
from web.presentation.figures import Reader, aged, quantity_of, rests_href, told
from web.watch import Record

WEEK_S = 7 * DAY_S
CALLED = ("began", "came back")
COUNTS = (
    ("heard", N_("{n:thousands} heard")),
    ("undecodable", N_("{n:thousands} undecodable")),
    ("unknown", N_("{n:thousands} unknown")),
    ("dropped", N_("{n:thousands} dropped")),
    ("implausible", N_("{n:thousands} implausible")),
)
"""The first is told always, the others where there are any."""
ORDER = {name: n for n, name in enumerate(QUANTITIES)}
MOST_FEEDS = 3
DISAGREE = ("instruments disagree", "current reversed")


@dataclass(frozen=True, slots=True)
class SourceRow:
    name: str
    kind: str
    state: str
    up: bool
    heard: str
    counts: str
    silences: str


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    name: str
    heard: bool
    by: tuple[str, ...]
    """What speaks for it."""
    what: str
    """What its last word was of,"""
    text: str
    """and what it was."""
    age: str
    silent: bool
    silences: str
    href: str


@dataclass(frozen=True, slots=True)
class OpinionRow:
    """Two instruments that speak of one thing."""

    what: str
    first: str
    second: str
    apart: str
    """Where they do not agree: how that is told."""


def fell_silent(reader: Reader, record: Record | None) -> Counter[tuple[str, str]] | None:
    """By rule and subject, over the last week; None where that cannot be read."""
    now_s = reader.snapshot.utc_s
    if record is None or now_s is None:
        return None
    try:
        changes = record.alert_changes(Interval(now_s - WEEK_S, now_s + 1))
    except StorageError:
        return None
    return Counter(
        (change.rule, change.subject)
        for change, utc_s in changes
        if change.rule in ("source silent", "instrument silent")
        and change.what in CALLED
        and change.state in ("active", "suppressed")
        and (utc_s is None or utc_s >= now_s - WEEK_S)
    )


def sources(reader: Reader, week: Mapping[tuple[str, str], int] | None) -> tuple[SourceRow, ...]:
    return tuple(
        SourceRow(
            h.name,
            h.kind,
            _state(reader, h),
            h.up,
            reader.word(N_("never"))
            if h.heard_at_s is None
            else aged(reader.snapshot.at_s - h.heard_at_s, reader.dress),
            ", ".join(
                reader.word(text, n=number)
                for name, text in COUNTS
                if (number := getattr(h, name)) or name == "heard"
            ),
            _times(reader, week, "source silent", h.name),
        )
        for h in reader.snapshot.sources
    )


def _state(reader: Reader, h: SourceHealth) -> str:
    return reader.word(N_("up")) if h.up else reader.word(h.trouble or N_("silent"))


def _times(reader: Reader, week: Mapping[tuple[str, str], int] | None, rule: str, subject: str) -> str:
    return unknown(reader.dress) if week is None else count(week.get((rule, subject), 0), reader.dress)


def instruments(reader: Reader, week: Mapping[tuple[str, str], int] | None) -> tuple[InstrumentRow, ...]:
    """Every subject of the settings that has a feed, in their order."""
    by_subject: dict[str, dict[str, Reading]] = {}
    for channel, reading in reader.snapshot.values.items():
        quantity = quantity_of(channel)
        subject = channel.partition(f" {quantity}")[0] if quantity else channel
        if "(opinion" not in channel:
            by_subject.setdefault(subject, {})[quantity] = reading
    rows = []
    for _, one in reader.settings.subjects():
        if one.feeds:
            rows.append(_row(reader, one.name, one.feeds, by_subject.get(one.name, {}), week))
    return tuple(rows)


def _row(
    reader: Reader,
    name: str,
    feeds: list[Feed],
    said: Mapping[str, Reading],
    week: Mapping[tuple[str, str], int] | None,
) -> InstrumentRow:
    by = _by(reader, feeds)
    times = _times(reader, week, "instrument silent", name)
    spoken = {q: r for q, r in said.items() if not r.silent}
    if not said:
        return InstrumentRow(name, False, by, "", reader.say("fit-out: never"), "", True, times, "")
    quantity = min(spoken or said, key=lambda q: (said[q].value is None, ORDER.get(q, 999)))
    reading, channel = said[quantity], f"{name} {quantity}"
    age_s = reader.snapshot.at_s - reading.at_s
    text = (
        reader.word(N_("not available"))
        if reading.value is None
        else told(channel, reading.value, reader.dress)
    )
    silent = not spoken
    age = reader.say("fit-out: silent now", ago=age_s) if silent else aged(age_s, reader.dress)
    return InstrumentRow(
        name, True, by, reader.word(quantity), text, age, silent, times, rests_href("reading", channel)
    )


def _by(reader: Reader, feeds: list[Feed]) -> tuple[str, ...]:
    """Each feed, or how many there are of a source that speaks in many."""
    found: dict[str, list[str]] = {}
    for feed in feeds:
        found.setdefault(feed.source, []).append(_feed(reader, feed))
    return tuple(
        told
        for source, each in found.items()
        for told in (
            dict.fromkeys(each)
            if len(set(each)) <= MOST_FEEDS
            else (reader.say("fit-out: speaks often", source=source, count=len(set(each))),)
        )
    )


def _feed(reader: Reader, feed: Feed) -> str:
    parts = [
        reader.word(N_("instance {n:count}"), n=feed.instance) if feed.instance is not None else "",
        feed.message or "",
        feed.signal or "",
        f"{feed.topic} {feed.pointer}".strip() if feed.topic else "",
        reader.word(N_("indicator {n:count}"), n=feed.indicator) if feed.indicator is not None else "",
    ]
    detail = ", ".join(p for p in parts if p)
    return reader.say(
        "fit-out: speaks more" if detail else "fit-out: speaks", source=feed.source, detail=detail
    )


def opinions(reader: Reader) -> tuple[OpinionRow, ...]:
    """Where two speak of one thing: what each says now, and whether an alert says that they differ."""
    values = reader.snapshot.values
    apart = {
        a.subject.partition(" (")[0]: say(a.reason, reader.dress)
        for a in reader.snapshot.alerts
        if a.rule in DISAGREE
    }
    rows = []
    for channel, reading in sorted(values.items()):
        plain, opinion, _ = channel.partition(" (opinion")
        if opinion:
            subject, _, quantity = plain.rpartition(" ")
            why = apart.pop(subject, "") if quantity == "current" else ""
            first, second = _word(reader, plain, values.get(plain)), _word(reader, channel, reading)
            rows.append(OpinionRow(named(plain), first, second, why))
    return (*rows, *(OpinionRow(named(subject), "", "", why) for subject, why in apart.items()))


def _word(reader: Reader, channel: str, reading: Reading | None) -> str:
    if reading is None or reading.value is None or reading.silent:
        return reader.word(N_("silent"))
    return told(channel, reading.value, reader.dress)


def always_on(reader: Reader) -> set[str]:
    """What is never at rest: its silence is told by name."""
    settings = reader.settings
    return {s.name for s in (*settings.banks, *settings.tanks, *settings.pumps)}
