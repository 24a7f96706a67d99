"""Everything that happened, newest first, and what every instrument last said."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import StorageError
from monitor.records import Event, EventKind, SourceHealth
from monitor.words.say import named, say
from monitor.words.units import FORMATS, GAP, clock_time, date, number, span
from web.presentation.figures import Figure, Reader, aged, reading_figure
from web.watch import Record

SPAN_S = 7 * DAY_S
MOST = 200
QUIET = {EventKind.FORECAST, EventKind.PUMP_RUN}
"""Forecasts are nothing that happened aboard; pump runs are told by the hour."""


ALERT = "alert"
FORMAT_OF = {
    "Wh": "wh", "W": "watts", "L": "litres", "A": "amps", "V": "volts", "s": "span", "pct": "pct",
    "days": "days", "bar": "bar",
}  # fmt: skip
"""How a fact is told by the unit at the end of its name."""


class Happened(NamedTuple):
    start_s: float | None
    end_s: float | None
    what: str
    more: str


@dataclass(frozen=True, slots=True)
class Entry:
    """`day` is given on the first entry of each day only, as a logbook has it."""

    day: str
    time: str
    lasted: str
    what: str
    more: str


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


def log(reader: Reader, record: Record | None, kind: str) -> Log:
    """`kind` keeps one kind of event, or "alert"; empty keeps everything."""
    s = reader.snapshot
    entries, note = [], ""
    if record is None:
        note = reader.say("no record")
    elif s.utc_s is not None:
        try:
            entries = _happened(reader, record, kind, Interval(s.utc_s - SPAN_S, s.utc_s + 1))
        except StorageError:
            note = reader.say("no record")
    return Log(
        entries=_by_day(reader, entries),
        note=note,
        kinds=(ALERT, *(k.value for k in EventKind)),
        kind=kind,
        sources=tuple(_source(reader, h) for h in s.sources),
        readings=tuple(reading_figure(reader, c, r, named(c)) for c, r in sorted(s.values.items())),
    )


def _happened(reader: Reader, record: Record, kind: str, during: Interval) -> list[Happened]:
    """The newest first; what has no certain time comes last."""
    found: list[Happened] = []
    if kind in ("", ALERT):
        for change, at_s in record.alert_changes(during):
            what = f"{change.severity}, {change.rule}, {change.subject}"
            found.append(Happened(at_s, None, what, f"{change.state}: {say(change.reason, reader.dress)}"))
    if kind != ALERT:
        wanted = EventKind(kind) if kind else None
        events = record.events(wanted, during)
        if wanted is None:
            found += _runs_by_hour(reader, events)
        for event, start_s, end_s in events:
            if wanted is not None or event.kind not in QUIET:
                told = _facts(reader, event.facts)
                found.append(Happened(start_s, end_s, f"{event.kind}, {event.subject}", told))
    return sorted(found, key=lambda h: h.start_s or 0.0, reverse=True)[:MOST]


def _runs_by_hour(
    reader: Reader, events: Sequence[tuple[Event, float | None, float | None]]
) -> list[Happened]:
    """Pump runs are many: one line an hour and pump; one by one they stand under their own kind."""
    hours: dict[tuple[int, str], list[tuple[float, float]]] = {}
    for event, start_s, end_s in events:
        if event.kind == EventKind.PUMP_RUN and start_s is not None:
            key = (int(start_s // HOUR_S), event.subject)
            hours.setdefault(key, []).append((start_s, end_s if end_s is not None else start_s))
    return [
        Happened(
            runs[0][0],
            runs[0][0] + sum(end - start for start, end in runs),
            f"{EventKind.PUMP_RUN}, {pump}",
            reader.say("pump runs", runs=len(runs)) if len(runs) > 1 else "",
        )
        for (_, pump), runs in hours.items()
    ]


def _by_day(reader: Reader, found: list[Happened]) -> tuple[Entry, ...]:
    entries = []
    last_day = ""
    for h in found:
        day, time, lasted = "", "time uncertain", ""
        if h.start_s is not None:
            day, time = date(h.start_s, reader.dress), clock_time(h.start_s, reader.dress)
            if h.end_s is not None and h.end_s > h.start_s:
                lasted = span(h.end_s - h.start_s, reader.dress)
        entries.append(Entry("" if day == last_day else day, time, lasted, h.what, h.more))
        last_day = day
    return tuple(entries)


def _facts(reader: Reader, facts: Mapping[str, object]) -> str:
    """The plain ones: "litres 7.3, offset 0.1 A". Tables inside an event are for programs."""
    return ", ".join(
        _fact(reader, name, value)
        for name, value in facts.items()
        if isinstance(value, str | int | float) and value not in ("", False)
    )


def _fact(reader: Reader, name: str, value: str | int | float) -> str:
    words, _, unit = name.rpartition("_")
    if isinstance(value, str):
        return f"{name.replace('_', ' ')} {value}"
    if value is True:
        return name.replace("_", " ")
    if words and unit in FORMAT_OF:
        return f"{words.replace('_', ' ')} {FORMATS[FORMAT_OF[unit]](value, reader.dress)}"
    return f"{name.replace('_', ' ')} {number(value, reader.dress)}"


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
