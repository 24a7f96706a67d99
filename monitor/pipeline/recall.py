"""The hours of use of the last weeks, out of what was stored by the minute."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.records import EventKind, Mode
from monitor.storage.history import History

LOOK_BACK_S = 60 * DAY_S


class KeptHour(NamedTuple):
    """A channel's mean in (a part of) one hour of UTC, how much of it was covered, the mode then."""

    start_s: float
    mean: float
    covered_s: float
    mode: Mode


def kept_hours(history: History, channel: str, until_utc_s: float) -> Iterator[KeptHour]:
    """Every hour of a channel kept once a minute, in order.

    Stored hours are those of a boot's elapsed time: one that lies across two hours of UTC gives each
    its share.
    """
    span = Interval(until_utc_s - LOOK_BACK_S, until_utc_s)
    changes = [
        (utc_s, Mode(event.facts["place"], event.facts["people"]))
        for event, utc_s, _ in history.events(EventKind.MODE, span)
        if utc_s is not None
    ]
    mode = Mode("at anchor", "awake")
    for hour in history.hours(channel, span):
        if hour.mean != hour.mean:
            continue
        covered_s = min(HOUR_S, hour.n * MINUTE_S)
        for part in Interval(hour.start_s, hour.start_s + HOUR_S).hours():
            while changes and changes[0][0] <= part.start_s:
                mode = changes.pop(0)[1]
            yield KeptHour(part.start_s, hour.mean, covered_s * part.seconds / HOUR_S, mode)
