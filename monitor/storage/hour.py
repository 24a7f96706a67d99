"""A full hour of minute blocks, turned round: for each channel its samples, minutes and sums."""

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.storage.codec import (
    NOTHING,
    Floats,
    Ints,
    differences,
    pack,
    quantise,
    restore,
    seal,
    sums,
    unpack,
    unseal,
)
from monitor.storage.hot import Block

MINUTES = 60
_FINER = 4
"""The mean of a minute is kept in quarters of the channel's step."""


class Minutes(NamedTuple):
    """Minute aggregates of a channel: which minute of the hour, and its low, mean and high."""

    minute: NDArray[np.int64]
    low: Floats
    mean: Floats
    high: Floats


class ChannelHour(NamedTuple):
    """Everything of one channel in one hour."""

    id: int
    slots: NDArray[np.int64]
    """Seconds from the hour's start; the last may lie a second past its end."""
    values: Ints
    """In steps; NOTHING for "not available"."""
    minutes: Minutes
    n: int
    integral: float
    covered_s: float

    def sums(self, step: float) -> tuple[float | None, ...]:
        """n, low, high, integral, covered seconds, first and last, as a row of the table of hours."""
        low, high = (self.minutes.low.min(), self.minutes.high.max()) if self.n else (None, None)
        known = restore(self.values[self.values != NOTHING], step)
        first, last = (known[0], known[-1]) if len(known) else (None, None)
        row = (self.n, low, high, self.integral, self.covered_s, first, last)
        return tuple(None if number is None else float(number) for number in row)


def turn(blocks: Iterable[tuple[int, Block]], steps: Mapping[int, float]) -> Iterator[ChannelHour]:
    """The channels of an hour from its minutes: (minute of the hour 0..59, block), in order."""
    indices, parts = zip(*blocks, strict=True)
    ids = np.concatenate([part.ids for part in parts])
    minute = np.repeat(np.array(indices), [len(part.ids) for part in parts])
    counts = np.concatenate([part.counts for part in parts])
    slots = np.concatenate([part.slots for part in parts]) + np.repeat(minute, counts) * 60
    values = np.concatenate([part.values for part in parts])
    n = np.concatenate([part.n for part in parts])
    low = np.concatenate([part.low for part in parts])
    high = np.concatenate([part.high for part in parts])
    integral = np.concatenate([part.integral for part in parts])
    covered = np.concatenate([part.covered_s for part in parts])
    samples = _groups(np.repeat(ids, counts))
    for channel, rows in _groups(ids).items():
        own = samples.get(channel, rows[:0])
        said = rows[n[rows] > 0]
        lows, highs = restore(low[said], steps[channel]), restore(high[said], steps[channel])
        stood = covered[said] > 0
        means = np.where(stood, integral[said] / np.where(stood, covered[said], 1.0), lows)
        yield ChannelHour(
            channel,
            slots[own],
            values[own],
            Minutes(minute[said], lows, means, highs),
            int(n[rows].sum()),
            float(integral[rows].sum()),
            float(covered[rows].sum()),
        )


def _groups(ids: NDArray[np.uint16]) -> dict[int, NDArray[np.int64]]:
    """Where each id stands, in order."""
    order = np.argsort(ids, kind="stable")
    borders = np.flatnonzero(np.diff(ids[order])) + 1
    return {int(ids[group[0]]): group for group in np.split(order, borders) if len(group)}


def pack_samples(slots: NDArray[np.int64], values: Ints) -> bytes:
    when = pack(slots.astype(np.int32))
    return seal(len(when).to_bytes(2, "little") + when + pack(values))


def unpack_samples(blob: bytes) -> tuple[NDArray[np.int64], Ints]:
    """Seconds from the hour's start, and values in steps. Raises StoreDamaged."""
    body = unseal(blob)
    border = 2 + int.from_bytes(body[:2], "little")
    return unpack(body[2:border]).astype(np.int64), unpack(body[border:])


def pack_minutes(minutes: Minutes, step: float) -> bytes:
    """Low and high to the step, the mean to a quarter of it."""
    steps = np.full(len(minutes.minute), step)
    mean = quantise(minutes.mean, steps / _FINER)
    near = mean // _FINER
    low, high = quantise(minutes.low, steps), quantise(minutes.high, steps)
    minute = differences(minutes.minute.astype(np.int32))
    return seal(pack(np.concatenate((minute, differences(mean), near - low, high - near))))


def unpack_minutes(blob: bytes, step: float) -> Minutes:
    """Raises StoreDamaged."""
    minute, mean, below, above = unpack(unseal(blob)).reshape(4, -1)
    mean = sums(mean)
    near = mean // _FINER
    low, high = restore(near - below, step), restore(near + above, step)
    return Minutes(sums(minute).astype(np.int64), low, restore(mean, step / _FINER), high)
