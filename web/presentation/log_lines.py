"""What the record holds of a span as lines of the Log, each with its place in the order of time."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol, runtime_checkable

from monitor.clock import HOUR_S, Interval
from monitor.records import AlertChange, Event, EventKind
from monitor.storage.brackets import Bracket
from web.presentation.figures import Reader
from web.presentation.log_asked import Asked, Place
from web.presentation.log_words import ALERT, day_of, folded, kind_word, of_alert, of_event, subject_of
from web.watch import Record

QUIET = {EventKind.FORECAST, EventKind.OUTCOME, EventKind.PUMP_RUN}
"""Forecasts and what came of them are nothing that happened aboard; pump runs are told by the hour."""
Brackets = Mapping[int, Bracket]


@runtime_checkable
class Bracketed(Protocol):
    """A record that knows between which times each boot lies that was never placed in UTC."""

    def brackets(self) -> Sequence[Bracket]: ...


class Line(NamedTuple):
    """`at_s` is elapsed time of its boot, `utc_s` None where that is not placed; an instant lasts 0 s."""

    place: Place
    boot: int
    at_s: float
    utc_s: float | None
    lasted_s: float
    kind: str
    subject: str
    source: AlertChange | Event
    runs: int = 1
    """Of a pump's runs told by the hour: how many."""


def brackets_of(record: Record) -> Brackets:
    return {b.boot: b for b in record.brackets()} if isinstance(record, Bracketed) else {}


def lines(record: Record, asked: Asked, window: Interval, brackets: Brackets) -> list[Line]:
    """The lines whose place lies in `window`, a part of what is asked, oldest first. Raises StorageError."""
    found = [*_alerts(record, asked, window), *_events(record, asked, window)]
    if asked.subject:
        found = [line for line in found if line.subject == asked.subject]
    placed = ((_key(line, asked, brackets), line) for line in found)
    oldest = window.start_s <= asked.during.start_s
    inside = [
        (key, line)
        for key, line in placed
        if key is not None
        and key < window.end_s
        and (key >= window.start_s or (oldest and key + line.lasted_s >= window.start_s))
    ]
    inside.sort(key=lambda pair: (pair[0], pair[1].boot, pair[1].at_s))
    return _numbered(inside)


def _numbered(inside: Iterable[tuple[float, Line]]) -> list[Line]:
    """Those of the same moment are counted, so that a page can begin between them."""
    found: list[Line] = []
    for key, line in inside:
        nth = found[-1].place.nth + 1 if found and found[-1].place.at_s == key else 0
        found.append(line._replace(place=Place(key, nth)))
    return found


def _key(line: Line, asked: Asked, brackets: Brackets) -> float | None:
    """What it is sorted by: its time, or of an uncertain one the end of what is surely before. None for what
    surely lies outside of what is asked."""
    if line.utc_s is not None:
        return line.utc_s
    bracket, during = brackets.get(line.boot), asked.during
    if bracket is None:
        return during.start_s
    earliest_s, latest_s = bracket.earliest_utc_s, bracket.latest_utc_s
    if (earliest_s is not None and earliest_s >= during.end_s) or (
        latest_s is not None and latest_s < during.start_s
    ):
        return None
    return during.start_s if earliest_s is None else max(during.start_s, earliest_s)


def _alerts(record: Record, asked: Asked, window: Interval) -> Iterable[Line]:
    if asked.kinds and ALERT not in asked.kinds:
        return
    for change, utc_s in record.alert_changes(window):
        yield Line(Place(0.0, 0), change.boot, change.at_s, utc_s, 0.0, ALERT, change.subject, change)


def _events(record: Record, asked: Asked, window: Interval) -> Iterable[Line]:
    wanted = [EventKind(kind) for kind in asked.kinds if kind != ALERT]
    if asked.kinds and not wanted:
        return
    hours: dict[tuple[int, int, str], Line] = {}
    for event, utc_s, _ in record.events(wanted[0] if len(wanted) == 1 else None, window):
        if wanted and event.kind not in wanted:
            continue
        subject = _whose(event)
        line = Line(
            Place(0.0, 0), event.boot, event.start_s, utc_s, _length_s(event), event.kind, subject, event
        )
        if wanted or event.kind not in QUIET:
            yield line
        elif event.kind == EventKind.PUMP_RUN and _begins_in(window, utc_s):
            hour = int((event.start_s if utc_s is None else utc_s) // HOUR_S)
            first = hours.setdefault((event.boot, hour, event.subject), line)
            if first is not line:
                lasted_s = first.lasted_s + line.lasted_s
                hours[event.boot, hour, event.subject] = first._replace(
                    lasted_s=lasted_s, runs=first.runs + 1
                )
    yield from hours.values()


def _begins_in(window: Interval, utc_s: float | None) -> bool:
    return utc_s is None or window.start_s <= utc_s < window.end_s


def _whose(event: Event) -> str:
    """Of a word on an alert: what the alert was about."""
    if event.kind is EventKind.SCORE:
        return event.subject.partition("/")[2].partition("/")[0]
    return event.subject


def _length_s(event: Event) -> float:
    return 0.0 if event.end_s is None else max(0.0, event.end_s - event.start_s)


def told(reader: Reader, line: Line) -> tuple[str, str]:
    """What happened, and more of it."""
    if isinstance(line.source, AlertChange):
        return of_alert(reader, line.source)
    if line.kind == EventKind.PUMP_RUN and line.runs > 1:
        about = f"{kind_word(reader, line.kind)}, {subject_of(reader, line.source)}"
        return about, reader.say("pump runs", runs=line.runs)
    return of_event(reader, line.source)


def has_words(reader: Reader, line: Line, words: Sequence[str]) -> bool:
    """Whether every word, folded, stands in what is shown of the line or in its date."""
    text = folded(" ".join((day_of(reader, line.utc_s), *told(reader, line))))
    return all(word in text for word in words)
