"""Finding a channel's blocks for a stretch of UTC: boot by boot, then the minutes not yet turned."""

import math
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import HOUR_S, MINUTE_S, Boot, Interval
from monitor.errors import StoreDamaged
from monitor.storage import series
from monitor.storage.boots import utc_of
from monitor.storage.codec import Floats, Ints, restore
from monitor.storage.hot import Block, read_block
from monitor.storage.hour import MINUTES, ChannelHour, Minutes, turn, unpack_minutes, unpack_samples
from monitor.storage.series import Hour, Points


class Stretch(NamedTuple):
    """A boot's own seconds that lie in the interval asked for, and one id of the channel."""

    connection: sqlite3.Connection
    boot: Boot
    start_s: float
    end_s: float
    channel: int
    step: float

    def blocks(self, table: str) -> Iterator[tuple[int, bytes]]:
        """(hour, block); from one hour before, since a sample may lie a second late."""
        first, last = math.floor((self.start_s - 2) / HOUR_S), math.ceil(self.end_s / HOUR_S)
        yield from self.connection.execute(
            f"SELECT hour, block FROM {table} WHERE boot = ? AND hour >= ? AND hour < ? AND channel = ?"
            " ORDER BY hour",
            (self.boot.number, first, last, self.channel),
        ).fetchall()

    def fresh(self) -> Iterator[tuple[int, ChannelHour]]:
        """(hour, its content so far) of what is still kept as minutes."""
        newest = "SELECT boot, minute / 60 FROM hot ORDER BY serial DESC LIMIT 1"
        boot, hour = self.connection.execute(newest).fetchone() or (None, 0)
        asked = self.start_s < (hour + 1) * HOUR_S + 2 and hour * HOUR_S < self.end_s
        if boot != self.boot.number or not asked:
            return
        rows = self.connection.execute(
            "SELECT minute, block FROM hot WHERE boot = ? AND minute / 60 = ? ORDER BY serial", (boot, hour)
        ).fetchall()
        blocks = ((minute % MINUTES, _whole(block, self.channel)) for minute, block in rows)
        own = [(minute, block) for minute, block in blocks if block]
        for content in turn(own, {self.channel: self.step}) if own else ():
            yield hour, content

    def samples(self, hour: int, slots: NDArray[np.int64], numbers: Ints) -> Points:
        values = restore(numbers, self.step)
        return self._points(hour * HOUR_S + slots.astype(float), values, values, values)

    def minutes(self, hour: int, of: Minutes) -> Points:
        """Each at its middle."""
        at_s = hour * HOUR_S + (of.minute.astype(float) + 0.5) * MINUTE_S
        return self._points(at_s, of.low, of.mean, of.high)

    def _points(self, at_s: Floats, low: Floats, mean: Floats, high: Floats) -> Points:
        inside = (at_s >= self.start_s) & (at_s < self.end_s)
        when = utc_of(self.boot, at_s[inside])
        return Points(when, low[inside], mean[inside], high[inside], np.ones(len(when)))


def stretches(
    connection: sqlite3.Connection, boots: Iterable[Boot], channel: str, during: Interval
) -> list[Stretch]:
    ids = connection.execute("SELECT id, step FROM channels WHERE name = ?", (channel,)).fetchall()
    found = []
    for boot in boots:
        start_s, end_s = boot.elapsed_s(during.start_s), boot.elapsed_s(during.end_s)
        if start_s is not None and end_s is not None:
            found += [Stretch(connection, boot, start_s, end_s, number, step) for number, step in ids]
    return found


def samples(stretch: Stretch) -> Iterator[Points]:
    for hour, blob in stretch.blocks("chunks"):
        try:
            yield stretch.samples(hour, *unpack_samples(blob))
        except StoreDamaged:
            continue
    for hour, fresh in stretch.fresh():
        yield stretch.samples(hour, fresh.slots, fresh.values)


def minutes(stretch: Stretch) -> Iterator[Points]:
    for hour, blob in stretch.blocks("minutes"):
        try:
            yield stretch.minutes(hour, unpack_minutes(blob, stretch.step))
        except StoreDamaged:
            continue
    for hour, fresh in stretch.fresh():
        yield stretch.minutes(hour, fresh.minutes)


def hours(stretch: Stretch) -> Iterator[Hour]:
    """Those that begin in the stretch and in which a reading stood."""
    for start_s, n, low, high, integral, covered_s, first, last in _hour_rows(stretch).tolist():
        yield Hour(start_s, int(n), low, high, integral / covered_s, integral, covered_s, first, last)


def hour_points(stretch: Stretch) -> Iterator[Points]:
    """Each hour in which something was said, at its middle."""
    rows = _hour_rows(stretch)
    start_s, _, low, high, integral, covered_s, _, _ = rows[rows[:, 1] > 0].T
    yield Points(start_s + HOUR_S / 2, low, integral / covered_s, high, covered_s)


def _hour_rows(stretch: Stretch) -> Floats:
    """By hour: its start in UTC, n, low, high, integral, covered seconds, first, last."""
    begin, end = math.ceil(stretch.start_s / HOUR_S), math.ceil(stretch.end_s / HOUR_S)
    rows = stretch.connection.execute(
        "SELECT hour, n, low, high, integral, covered_s, first, last FROM hours"
        " WHERE channel = ? AND boot = ? AND hour >= ? AND hour < ? ORDER BY hour",
        (stretch.channel, stretch.boot.number, begin, end),
    ).fetchall()
    rows += [(hour, *fresh.sums(stretch.step)) for hour, fresh in stretch.fresh() if begin <= hour < end]
    table = np.array(rows, float).reshape(-1, 8)
    table[:, 0] = utc_of(stretch.boot, table[:, 0] * HOUR_S)
    return table[table[:, 5] > 0]


def joined(found: Iterable[Stretch], read: Callable[[Stretch], Iterator[Points]]) -> Points:
    """What `read` finds in all stretches, in order of time."""
    return series.joined(points for stretch in found for points in read(stretch))


def _whole(blob: bytes, channel: int) -> Block | None:
    """The channel's part of a minute; None where it has none or the block is damaged."""
    try:
        return read_block(blob).only(channel)
    except StoreDamaged:
        return None
