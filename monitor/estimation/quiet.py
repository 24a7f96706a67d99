"""When an engine may be run: outside the quiet hours of the ship's clock."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta, tzinfo

from monitor.clock import Interval


def loud_hours(span: Interval, quiet_from: int, quiet_until: int, zone: tzinfo) -> list[Interval]:
    """The parts of `span` in which no quiet hour is kept, in order.

    Quiet from 20 until 9 lasts over midnight, from 1 until 5 does not; from an hour until the same hour
    there is none. The hours are those of the clock in `zone`, whatever it does on the odd nights.
    """
    free_from_s, found = span.start_s, []
    for start_s, end_s in _quiet(span, quiet_from, quiet_until, zone):
        if start_s > free_from_s:
            found.append(Interval(free_from_s, min(start_s, span.end_s)))
        free_from_s = max(free_from_s, end_s)
        if free_from_s >= span.end_s:
            return found
    return [*found, Interval(free_from_s, span.end_s)]


def _quiet(span: Interval, quiet_from: int, quiet_until: int, zone: tzinfo) -> Iterator[tuple[float, float]]:
    if quiet_from == quiet_until:
        return
    day = datetime.fromtimestamp(span.start_s, UTC).astimezone(zone).date() - timedelta(days=1)
    while True:
        ends = day + timedelta(days=int(quiet_until < quiet_from))
        start = datetime.combine(day, time(quiet_from), zone).timestamp()
        if start >= span.end_s:
            return
        yield start, datetime.combine(ends, time(quiet_until), zone).timestamp()
        day += timedelta(days=1)
