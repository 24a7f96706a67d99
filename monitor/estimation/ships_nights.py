"""Nights by the ship's clock: with a change of the clock one is 11 or 13 hours long where others are 12."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta, tzinfo

from monitor.clock import Interval


def by_the_clock(begins: int, ends: int, zone: tzinfo, during: Interval) -> Iterator[tuple[float, float]]:
    """Every night from the hour `begins` to the hour `ends` of the next morning that touches `during`, in
    UTC, in order. An hour that the change leaves out is taken as the time that follows it."""
    first = datetime.fromtimestamp(during.start_s, UTC).astimezone(zone).date() - timedelta(days=1)
    last = datetime.fromtimestamp(during.end_s, UTC).astimezone(zone).date()
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        next_day = day + timedelta(days=1) if ends <= begins else day
        start_s = datetime.combine(day, time(begins), zone).timestamp()
        end_s = datetime.combine(next_day, time(ends), zone).timestamp()
        if start_s < during.end_s and end_s > during.start_s:
            yield start_s, end_s
