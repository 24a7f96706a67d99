"""The one-second grid: a sample goes to the nearest second, one a second and channel.

Two samples half a second apart or more may fall on the same second when their times jitter; the
later then moves to the next one, so neither is lost. Closer ones, and the surplus of a channel
that keeps saying more than one a second, leave the last of each second.
"""

import numpy as np
from numpy.typing import NDArray

_APART_S = 0.5
_FAST = 90
"""More readings a minute than this is a fast channel: it has no jitter worth saving."""


def place(
    times: NDArray[np.float64],
    starts: NDArray[np.int64],
    counts: NDArray[np.int64],
    last_second: list[int],
    last_at_s: list[float],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Which samples to keep, the second of each, and how many each channel keeps (never 0).

    `times` are seconds from the minute's start, flat by channel; `last_second` and `last_at_s`
    tell each channel's last sample before, on the same scale.
    """
    seconds = np.floor(times + 0.5).astype(np.int64)
    before = np.empty_like(seconds)
    before[1:] = seconds[:-1]
    before[starts] = last_second
    crowded = np.logical_or.reduceat(seconds <= before, starts)
    if not crowded.any():
        return np.arange(len(times)), seconds, counts
    kept: list[NDArray[np.int64]] = []
    placed: list[NDArray[np.int64]] = []
    for at, start in enumerate(starts.tolist()):
        own = slice(start, start + int(counts[at]))
        if not crowded[at]:
            keep, slots = np.arange(own.stop - own.start), seconds[own]
        elif counts[at] > _FAST:
            keep, slots = _last_of_each(seconds[own], last_second[at])
        else:
            keep, slots = _make_room(times[own], seconds[own], last_second[at], last_at_s[at])
        kept.append(keep + start)
        placed.append(slots)
    return np.concatenate(kept), np.concatenate(placed), np.array([len(slots) for slots in placed])


def _last_of_each(
    seconds: NDArray[np.int64], last_second: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    keep = np.flatnonzero(np.append(np.diff(seconds) > 0, True))
    slots = seconds[keep]
    free = slots > last_second
    if not free.any():
        return keep[-1:], np.array([last_second + 1])
    return keep[free], slots[free]


def _make_room(
    times: NDArray[np.float64], seconds: NDArray[np.int64], last_second: int, last_at_s: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    keep: list[int] = []
    slots: list[int] = []
    for index, (at_s, second) in enumerate(zip(times.tolist(), seconds.tolist(), strict=True)):
        apart = at_s - last_at_s >= _APART_S and last_second <= second
        last_at_s = at_s
        if second > last_second or apart or not keep:
            last_second = max(second, last_second + 1)
            keep.append(index)
            slots.append(last_second)
        else:
            keep[-1] = index
    return np.array(keep), np.array(slots)
