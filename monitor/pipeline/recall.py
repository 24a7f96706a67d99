"""The hours of use of the last weeks, out of what was stored by the minute."""

from collections.abc import Iterator

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.records import EventKind, Mode
from monitor.storage.history import History
from monitor.storage.series import Hour

LOOK_BACK_S = 60 * DAY_S


def kept_hours(history: History, channel: str, until_utc_s: float) -> Iterator[tuple[Hour, float, Mode]]:
    """Every hour of a channel kept once a minute: the hour, how much of it was covered, the mode then."""
    span = Interval(until_utc_s - LOOK_BACK_S, until_utc_s)
    changes = [
        (utc_s, Mode(event.facts["place"], event.facts["people"]))
        for event, utc_s, _ in history.events(EventKind.MODE, span)
        if utc_s is not None
    ]
    mode = Mode("at anchor", "awake")
    for hour in history.hours(channel, span):
        while changes and changes[0][0] <= hour.start_s:
            mode = changes.pop(0)[1]
        if hour.mean is not None:
            yield hour, min(HOUR_S, hour.n * MINUTE_S), mode
