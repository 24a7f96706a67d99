"""Everything that happened, newest first, and what every instrument last said."""

from dataclasses import dataclass

from monitor.clock import DAY_S, Interval
from monitor.records import Event, EventKind, SourceHealth
from monitor.words.say import named
from monitor.words.units import GAP, clock_time, date, number, span
from web.presentation.figures import Figure, Reader, aged, reading_figure
from web.watch import Record

SPAN_S = 7 * DAY_S
MOST = 200
QUIET = {EventKind.FORECAST}
"""Kept in the record, but nothing that happened aboard."""


@dataclass(frozen=True, slots=True)
class Entry:
    """`day` is given on the first entry of each day only, as a logbook has it."""

    day: str
    time: str
    lasted: str
    kind: str
    subject: str
    facts: str


@dataclass(frozen=True, slots=True)
class SourceRow:
    name: str
    kind: str
    state: str
    up: bool
    heard: str
    counts: str


@dataclass(frozen=True, slots=True)
class Log:
    entries: tuple[Entry, ...]
    note: str
    kinds: tuple[str, ...]
    kind: str
    sources: tuple[SourceRow, ...]
    readings: tuple[Figure, ...]


def log(reader: Reader, record: Record | None, kind: EventKind | None) -> Log:
    entries: list[Entry] = []
    s = reader.snapshot
    note = ""
    if record is None:
        note = reader.say("no record")
    elif s.utc_s is not None:
        found = record.events(kind, Interval(s.utc_s - SPAN_S, s.utc_s + 1))
        shown = [f for f in found if f[0].kind not in QUIET or kind is not None]
        shown.sort(key=lambda f: f[1] or 0.0, reverse=True)
        last_day = ""
        for event, start_s, end_s in shown[:MOST]:
            entry = _entry(reader, event, start_s, end_s, last_day)
            last_day = entry.day or last_day
            entries.append(entry)
    return Log(
        entries=tuple(entries),
        note=note,
        kinds=tuple(k.value for k in EventKind),
        kind=kind.value if kind else "",
        sources=tuple(_source(reader, h) for h in s.sources),
        readings=tuple(reading_figure(reader, c, r, named(c)) for c, r in sorted(s.values.items())),
    )


def _entry(reader: Reader, event: Event, start_s: float | None, end_s: float | None, last_day: str) -> Entry:
    day, time = "", "time uncertain"
    if start_s is not None:
        day, time = date(start_s, reader.dress), clock_time(start_s, reader.dress)
    lasted = ""
    if start_s is not None and end_s is not None and end_s > start_s:
        lasted = span(end_s - start_s, reader.dress)
    facts = ", ".join(
        f"{name.replace('_', ' ')} {_fact(reader, value)}" for name, value in event.facts.items()
    )
    return Entry("" if day == last_day else day, time, lasted, event.kind.value, event.subject, facts)


def _fact(reader: Reader, value: object) -> str:
    return number(value, reader.dress) if isinstance(value, float) else str(value)


def _source(reader: Reader, h: SourceHealth) -> SourceRow:
    heard = "never" if h.heard_at_s is None else aged(reader.snapshot.at_s - h.heard_at_s, reader.dress)
    odd = [
        f"{count:,} {word}".replace(",", GAP)
        for count, word in (
            (h.undecodable, "undecodable"),
            (h.unknown, "unknown"),
            (h.dropped, "dropped"),
            (h.implausible, "implausible"),
        )
        if count
    ]
    state = "up" if h.up else h.trouble or "silent"
    total = f"{h.heard:,} heard".replace(",", GAP)
    return SourceRow(h.name, h.kind, state, h.up, heard, ", ".join([total, *odd]))
