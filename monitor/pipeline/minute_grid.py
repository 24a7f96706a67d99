"""What was kept by the minute, on an even grid of minutes."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.storage.history import History

Floats = NDArray[np.float64]

AT_ONCE_S = 14 * DAY_S
"""The longest span of which a history gives every minute (`History.series`)."""
_HOUR_OF_MINUTES = MINUTE_S * (np.arange(60) - 29.5)


class MinuteGrid(NamedTuple):
    """Parallel arrays, each minute by its begin in UTC; NaN where nothing was heard."""

    at_s: Floats
    low: Floats
    mean: Floats
    hourly: bool
    """Some of it is kept as hours only: each minute has its hour's figures."""

    @property
    def heard(self) -> bool:
        return not bool(np.isnan(self.mean).all())


def minutes_of(history: History, channel: str, during: Interval) -> MinuteGrid:
    """Every minute of a channel, however long the span. Raises StorageError."""
    count = int(np.ceil(during.seconds / MINUTE_S))
    at_s: Floats = during.start_s + MINUTE_S * np.arange(count, dtype=np.float64)
    low, mean, hourly = np.full(count, np.nan), np.full(count, np.nan), False
    begin_s = during.start_s
    while begin_s < during.end_s:
        part = Interval(begin_s, min(during.end_s, begin_s + AT_ONCE_S))
        found = history.series(channel, part, points=int(AT_ONCE_S // MINUTE_S) + 1)
        begin_s = part.end_s
        when, lows, means = found.utc_s, found.low, found.mean
        if found.level == "hour":
            hourly |= bool(len(when))
            when = (when[:, None] + _HOUR_OF_MINUTES).ravel()
            lows, means = np.repeat(lows, 60), np.repeat(means, 60)
        place = ((when - during.start_s) // MINUTE_S).astype(int)
        inside = (place >= 0) & (place < count)
        low[place[inside]], mean[place[inside]] = lows[inside], means[inside]
    return MinuteGrid(at_s, low, mean, hourly)


def held(events: list[tuple[float, float]], at_s: Floats, for_s: float = HOUR_S) -> Floats:
    """What was told now and then, each (UTC, value) held until the next, but for so long at most."""
    if not events:
        return np.full(len(at_s), np.nan)
    when, values = (np.array(column) for column in zip(*events, strict=True))
    newest = np.searchsorted(when, at_s, side="right") - 1
    old = (newest < 0) | (at_s - when[np.maximum(newest, 0)] >= for_s)
    return np.where(old, np.nan, values[np.maximum(newest, 0)])
