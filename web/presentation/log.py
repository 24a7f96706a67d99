"""Everything that happened, newest first, and what every instrument last said."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil, inf
from typing import NamedTuple, Protocol, runtime_checkable

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.errors import StorageError
from monitor.records import AlertChange, Event, EventKind, SourceHealth
from monitor.storage.brackets import Bracket
from monitor.words.say import named, say
from monitor.words.units import FORMATS, GAP, clock_time, date, number, span
from web.presentation.alert_cards import GRADES, rule_name
from web.presentation.figures import Figure, Reader, aged, reading_figure
from web.watch import Record

SPAN_S = 7 * DAY_S
MOST = 200
QUIET = {EventKind.FORECAST, EventKind.OUTCOME, EventKind.PUMP_RUN}
"""Forecasts and what came of them are nothing that happened aboard; pump runs are told by the hour."""


ALERT = "alert"
FORMAT_OF = {
    "Wh": "wh", "W": "watts", "L": "litres", "A": "amps", "V": "volts", "s": "span", "pct": "pct",
    "days": "days", "bar": "bar",
}  # fmt: skip
"""How a fact is told by the unit at the end of its name."""
TOLD_BESIDE = ("start_s", "end_s")
"""Moments that the line's own time and length already tell."""


@runtime_checkable
class Bracketed(Protocol):
    """A record that knows between which times each boot lies that was never placed in UTC."""

    def brackets(self) -> Sequence[Bracket]: ...


class Happened(NamedTuple):
    """`at_s` is elapsed time of its boot, `utc_s` None where that is not placed; an instant lasts 0 s."""

    boot: int
    at_s: float
    utc_s: float | None
    lasted_s: float
    what: str
    more: str


@dataclass(frozen=True, slots=True)
class Entry:
    """`day` is given on the first entry of each day only, as a logbook has it; of a boot whose time is
    uncertain it says between which times that lies."""

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
    seven_days: bool
    """False while the time is not known: then it tells the last that there was."""
    sources: tuple[SourceRow, ...]
    readings: tuple[Figure, ...]


def log(reader: Reader, record: Record | None, kind: str) -> Log:
    """`kind` keeps one kind of event, or "alert"; empty keeps everything."""
    s = reader.snapshot
    entries: tuple[Entry, ...] = ()
    note = ""
    if record is None:
        note = reader.say("no record")
    else:
        try:
            brackets = {b.boot: b for b in record.brackets()} if isinstance(record, Bracketed) else {}
            happened = _happened(reader, record, kind, _span(s.utc_s, brackets), brackets)
            entries = _by_day(reader, happened, brackets)
        except StorageError:
            note = reader.say("no record")
    return Log(
        entries=entries,
        note=note,
        kinds=(ALERT, *(k.value for k in EventKind)),
        kind=kind,
        seven_days=s.utc_s is not None,
        sources=tuple(_source(reader, h) for h in s.sources),
        readings=tuple(reading_figure(reader, c, r, named(c)) for c, r in sorted(s.values.items())),
    )


def _span(now_s: float | None, brackets: Mapping[int, Bracket]) -> Interval:
    """The last seven days; while the time is not known, from seven days before the last known on."""
    if now_s is not None:
        return Interval(now_s - SPAN_S, now_s + 1)
    newest = brackets[max(brackets)].earliest_utc_s if brackets else None
    return Interval(-inf if newest is None else newest - SPAN_S, inf)


def _happened(
    reader: Reader, record: Record, kind: str, during: Interval, brackets: Mapping[int, Bracket]
) -> list[Happened]:
    """The newest first. What lies in a boot that was never placed is there if it may lie in `during`."""
    found: list[Happened] = []
    if kind in ("", ALERT):
        for change, utc_s in record.alert_changes(during):
            what = f"{GRADES[change.severity]}: {rule_name(reader, change.rule, change.subject)}"
            more = f"{named(did(reader, change))}: {say(change.reason, reader.dress)}"
            found.append(Happened(change.boot, change.at_s, utc_s, 0.0, what, more))
    if kind != ALERT:
        wanted = EventKind(kind) if kind else None
        events = record.events(wanted, during)
        if wanted is None:
            found += _runs_by_hour(reader, events)
        for event, utc_s, _ in events:
            if wanted is not None or event.kind not in QUIET:
                facts = {} if event.kind is EventKind.SCORE else event.facts
                what, told = f"{event.kind}, {_about(reader, event)}", _facts(reader, facts)
                found.append(Happened(event.boot, event.start_s, utc_s, _length_s(event), what, told))
    touching = [h for h in found if h.utc_s is not None or _may_touch(brackets.get(h.boot), during)]
    return _in_order(touching)[::-1][:MOST]


def _about(reader: Reader, event: Event) -> str:
    """What it is about: of what the crew said of an alert or a rule, the rule's name."""
    if event.kind not in (EventKind.SCORE, EventKind.RULE):
        return event.subject
    rule, _, rest = event.subject.partition("/")
    about = rule_name(reader, rule, rest.partition("/")[0])
    if event.kind is EventKind.RULE:
        return about
    return reader.say("score: true" if event.facts.get("true") else "score: false alarm", about=about)


def did(reader: Reader, change: AlertChange) -> str:
    """What happened to it; of what was written before that was told, what it was afterwards."""
    old = change.what == "began" and change.state in ("acknowledged", "returned", "ended")
    return reader.say(f"alert did: {change.state if old else change.what}")


def _may_touch(bracket: Bracket | None, during: Interval) -> bool:
    if bracket is None:
        return True
    earliest_s, latest_s = bracket.earliest_utc_s, bracket.latest_utc_s
    return (earliest_s is None or earliest_s < during.end_s) and (
        latest_s is None or latest_s >= during.start_s
    )


def _in_order(found: list[Happened]) -> list[Happened]:
    """The oldest first; what has no certain time follows all that its earlier boots tell."""
    last_s, placed = -inf, []
    for h in sorted(found, key=lambda h: (h.boot, h.at_s)):
        last_s = last_s if h.utc_s is None else max(last_s, h.utc_s)
        placed.append((last_s if h.utc_s is None else h.utc_s, h))
    return [h for _, h in sorted(placed, key=lambda pair: pair[0])]


def _length_s(event: Event) -> float:
    return 0.0 if event.end_s is None else max(0.0, event.end_s - event.start_s)


def _runs_by_hour(
    reader: Reader, events: Sequence[tuple[Event, float | None, float | None]]
) -> list[Happened]:
    """Pump runs are many: one line an hour and pump; one by one they stand under their own kind."""
    hours: dict[tuple[int, int, str], list[Happened]] = {}
    for event, utc_s, _ in events:
        if event.kind == EventKind.PUMP_RUN:
            hour = int((event.start_s if utc_s is None else utc_s) // HOUR_S)
            what = f"{EventKind.PUMP_RUN}, {event.subject}"
            run = Happened(event.boot, event.start_s, utc_s, _length_s(event), what, "")
            hours.setdefault((event.boot, hour, event.subject), []).append(run)
    return [
        runs[0]._replace(
            lasted_s=sum(run.lasted_s for run in runs),
            more=reader.say("pump runs", runs=len(runs)) if len(runs) > 1 else "",
        )
        for runs in hours.values()
    ]


def _by_day(reader: Reader, found: list[Happened], brackets: Mapping[int, Bracket]) -> tuple[Entry, ...]:
    entries = []
    for heading, group in groupby(found, key=lambda h: _heading(reader, h, brackets)):
        for nth, h in enumerate(group):
            time = "uncertain" if h.utc_s is None else clock_time(h.utc_s, reader.dress)
            lasted = span(h.lasted_s, reader.dress) if h.lasted_s > 0 else ""
            entries.append(Entry("" if nth else heading[0], time, lasted, h.what, h.more))
    return tuple(entries)


def _heading(reader: Reader, h: Happened, brackets: Mapping[int, Bracket]) -> tuple[str, int]:
    """What stands above it, and the boot where that is what it speaks of."""
    if h.utc_s is not None:
        return date(h.utc_s, reader.dress), 0
    return named(_between(reader, brackets.get(h.boot))), h.boot


def _between(reader: Reader, bracket: Bracket | None) -> str:
    """To the minute, rounded outwards."""
    earliest_s, latest_s = (bracket.earliest_utc_s, bracket.latest_utc_s) if bracket else (None, None)
    until_s = None if latest_s is None else ceil(latest_s / MINUTE_S) * MINUTE_S
    if earliest_s is not None and until_s is not None:
        return reader.say("uncertain: between", earliest_s=earliest_s, latest_s=until_s)
    if earliest_s is not None:
        return reader.say("uncertain: after", earliest_s=earliest_s)
    if until_s is not None:
        return reader.say("uncertain: before", latest_s=until_s)
    return reader.say("uncertain")


def _facts(reader: Reader, facts: Mapping[str, object]) -> str:
    """The plain ones: "7.3 L, offset 0.1 A". Tables inside an event are for programs."""
    return ", ".join(
        _fact(reader, name, value)
        for name, value in facts.items()
        if isinstance(value, str | int | float) and value not in ("", False) and name not in TOLD_BESIDE
    )


def _fact(reader: Reader, name: str, value: str | int | float) -> str:
    words, _, unit = name.rpartition("_")
    if isinstance(value, str):
        return f"{name.replace('_', ' ')} {value}"
    if value is True:
        return name.replace("_", " ")
    if name == "litres":
        return FORMATS[name](value, reader.dress)
    if words and unit == "Ah":
        return f"{words.replace('_', ' ')} {number(value, reader.dress)}{GAP}Ah"
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
