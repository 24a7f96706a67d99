"""How many were aboard when, by what the crew said."""

from bisect import bisect_right
from collections.abc import Callable

from monitor.clock import Interval
from monitor.pipeline.recall import LOOK_BACK_S
from monitor.records import EventKind
from monitor.storage.history import History


def heads_aboard(history: History, until_utc_s: float, heads_now: int) -> Callable[[float], int]:
    """The number aboard by UTC, over the time that is looked back on; `heads_now` where nothing was said."""
    span = Interval(until_utc_s - LOOK_BACK_S, until_utc_s)
    said = [
        (utc_s, int(event.facts["heads_before"]), int(event.facts["heads"]))
        for event, utc_s, _ in history.events(EventKind.MODE, span)
        if utc_s is not None and "heads" in event.facts
    ]
    moments = [utc_s for utc_s, _, _ in said]
    counts = [said[0][1] if said else heads_now, *(heads for _, _, heads in said)]
    return lambda utc_s: counts[bisect_right(moments, utc_s)]
