"""A page of the Log out of years: read backwards in spans that double, until the page is full.

What is looked for by words is looked for in time that is given; where that ends, the page says how far it
came, and its link goes on from there.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf
from pathlib import Path
from time import monotonic

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.records import Mode, Snapshot
from monitor.settings import Settings
from monitor.storage.history import History
from monitor.words.units import Dress
from web.presentation.figures import Reader
from web.presentation.log_asked import FOREVER_S, Asked, Place
from web.presentation.log_lines import Brackets, Line, brackets_of, has_words, lines
from web.presentation.log_words import folded
from web.watch import Begun, Record, Works

A_PAGE = 200
AT_ONCE_S = 0.2
"""A search that takes longer goes to the worker,"""
PATIENCE_S = 20.0
"""and tells how far it has come after so long."""
FIRST_S, MOST_S = 7 * DAY_S, 64 * DAY_S
LOOKED_AT = 500
"""So many lines are searched between two looks at the clock."""


@dataclass(frozen=True, slots=True)
class Found:
    """`lines` the newest first. `earlier` and `later`: where the pages beside it begin; None where there is
    nothing."""

    lines: tuple[Line, ...]
    earlier: Place | None = None
    later: Place | None = None
    reached_s: float | None = None
    """Of a search that was broken off: back to when it has looked, in UTC."""
    brackets: Brackets | None = None


class _TooLong(Exception):
    """The time that was given is over."""


def look(reader: Reader, watch: object, record: Record, asked: Asked, most: int = A_PAGE) -> Found:
    """A page; a search that takes longer than a moment is run in the worker, where there is one. Raises
    StorageError, WorkerError."""
    if not asked.words or not isinstance(watch, Works):
        return page(reader, record, asked, most, PATIENCE_S)
    try:
        return page(reader, record, asked, most, AT_ONCE_S, whole=True)
    except _TooLong:
        return watch.apart(looked, reader.settings, reader.dress, asked, most)


def looked(path: Path, settings: Settings, dress: Dress, asked: Asked, most: int) -> Found:
    """The same from a file that is opened for reading only: for the worker."""
    history = History(path)
    try:
        return page(Reader(_nothing(), settings, dress), history, asked, most, PATIENCE_S)
    finally:
        history.close()


def page(
    reader: Reader, record: Record, asked: Asked, most: int, seconds: float, *, whole: bool = False
) -> Found:
    """At most `most` lines. Where time runs out it tells how far it came, or with `whole` raises _TooLong."""
    brackets = brackets_of(record)
    until_s = monotonic() + seconds
    newer = asked.after is not None
    found: list[Line] = []
    reached_s: float | None = None
    for window in windows(asked, _begun_s(record, asked)):
        wanted = most + 1 - len(found)
        found += _of(reader, record, asked, window, brackets, wanted, until_s if whole else inf)
        if len(found) > most:
            break
        if asked.words and monotonic() > until_s:
            if whole:
                raise _TooLong
            reached_s = window.end_s if newer else window.start_s
            break
    if newer:
        if len(found) <= most and reached_s is None:
            return page(reader, record, replace(asked, after=None), most, seconds, whole=whole)
        more, shown = len(found) > most, found[:most][::-1]
        earlier = shown[-1].place if shown else asked.after
        return Found(tuple(shown), earlier, shown[0].place if more else None, reached_s, brackets)
    more, shown = len(found) > most, found[:most]
    earlier = shown[-1].place if more else None
    if reached_s is not None and reached_s > asked.during.start_s:
        earlier = Place(reached_s, 0)
    later = None if asked.before is None else shown[0].place if shown else asked.before
    return Found(tuple(shown), earlier, later, reached_s if earlier else None, brackets)


def _of(
    reader: Reader,
    record: Record,
    asked: Asked,
    window: Interval,
    brackets: Brackets,
    most: int,
    until_s: float,
) -> list[Line]:
    """Those of one window in the order they are looked through: the newest first, with `after` the oldest."""
    words = folded(asked.words).split()
    found: list[Line] = []
    inside = [line for line in lines(record, asked, window, brackets) if _beyond(asked, line)]
    for n, line in enumerate(inside if asked.after is not None else reversed(inside)):
        if words and n % LOOKED_AT == LOOKED_AT - 1 and monotonic() > until_s:
            raise _TooLong
        if not words or has_words(reader, line, words):
            found.append(line)
            if len(found) == most:
                break
    return found


def _beyond(asked: Asked, line: Line) -> bool:
    return (asked.before is None or line.place < asked.before) and (
        asked.after is None or line.place > asked.after
    )


def windows(asked: Asked, begun_s: float) -> Iterator[Interval]:
    """Parts of what is asked from the place on, on whole hours, each twice as long as the last; what lies
    before the record began is one."""
    during, long_s = asked.during, FIRST_S
    if not asked.placed and during.end_s >= FOREVER_S:
        yield during
        return
    if asked.after is not None:
        at_s = max(during.start_s, asked.after.at_s // HOUR_S * HOUR_S)
        while at_s < during.end_s:
            end_s = min(during.end_s, (at_s + long_s) // HOUR_S * HOUR_S)
            yield Interval(at_s, end_s)
            at_s, long_s = end_s, min(MOST_S, 2 * long_s)
        return
    end_s = during.end_s
    if asked.before is not None:
        end_s = min(end_s, (asked.before.at_s // HOUR_S + 1) * HOUR_S)
    first_s = during.start_s
    while end_s > first_s:
        at_s = max(first_s, (end_s - long_s) // HOUR_S * HOUR_S)
        if at_s < begun_s:
            at_s = first_s
        yield Interval(at_s, end_s)
        end_s, long_s = at_s, min(MOST_S, 2 * long_s)


def _begun_s(record: Record, asked: Asked) -> float:
    """When the first boot began, in UTC; some windows back where nobody knows."""
    boots = record.boots() if isinstance(record, Begun) else []
    begun = [s for boot in boots if (s := boot.utc_s(0.0)) is not None]
    return min(begun, default=asked.during.end_s - 8 * MOST_S)


def _nothing() -> Snapshot:
    """What words are told by needs no moment."""
    return Snapshot(0, 0.0, None, False, {}, {}, (), (), (), Mode("", ""), (), (), ())
