"""What one open file holds and how a batch gets into it, whole or not at all."""

import contextlib
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from monitor.clock import DAY_S, HOUR_S
from monitor.errors import StoreDamaged
from monitor.storage.backlog import Batch, HotMinute
from monitor.storage.boots import Places
from monitor.storage.database import card_trouble, check_whole, commit, open_store, salvage
from monitor.storage.digest import parts_of
from monitor.storage.hot import Block, block_of, read_block
from monitor.storage.hour import MINUTES, ChannelHour, pack_minutes, pack_samples, turn
from monitor.storage.rows import INSERTS, memory_row

KEEP_MINUTES_DAYS = 730
CHECKED_EVERY = 10_080
"""Minutes from one look through the whole file to the next: a week of them, by no clock."""
_CHECKED = "store: checked"
_PRUNED_AT_A_TIME = 24
"""Hours of a boot deleted with each new hour: a changed setting must not hold up the writer."""

Hour = tuple[int, int]


@dataclass(slots=True)
class _Hot:
    """Where the table of minutes stands: its hour, how many rows that has, the last serial."""

    hour: Hour | None
    rows: int
    serial: int

    @classmethod
    def read(cls, connection: sqlite3.Connection) -> "_Hot":
        newest = connection.execute(
            f"SELECT boot, minute / {MINUTES}, serial FROM hot ORDER BY serial DESC LIMIT 1"
        ).fetchone()
        if newest is None:
            return cls(None, 0, 0)
        count = f"SELECT count(*) FROM hot WHERE boot = ? AND minute / {MINUTES} = ?"
        (rows,) = connection.execute(count, newest[:2]).fetchone()
        return cls((newest[0], newest[1]), rows, newest[2])

    def next_place(self, hour: Hour) -> tuple[int, int]:
        """The row's id and serial: over the first row of the last hour where a new one begins."""
        self.rows = self.rows + 1 if hour == self.hour else 1
        self.hour, self.serial = hour, self.serial + 1
        return self.rows, self.serial


class Keeper:
    """One open file. Raises StoreDamaged or StorageError from everything."""

    def __init__(self, path: Path, keep_full_days: int | None) -> None:
        self._keep_days = {"chunks": keep_full_days, "minutes": KEEP_MINUTES_DAYS}
        self._connection = open_store(path)
        self.damaged_blocks = 0
        self._started = self._cleared = False
        self._checked_at: int | None = None
        self._forget()

    def kernels(self) -> dict[str, int]:
        """The boots already known, by the kernel's own id of them."""
        with card_trouble():
            return dict(self._connection.execute("SELECT kernel_id, number FROM boots"))

    def check(self, doubted: bool) -> None:
        """To be called before each batch: looks through the whole file at the first call of a new week
        of minutes, and when a reader doubts it. A doubt that was unfounded is not heard again."""
        serial: int | None = None
        if not self._started:
            with card_trouble():
                serial = self._due_at()
            self._started = True
        if serial is not None or (doubted and not self._cleared):
            check_whole(self._connection)
            self._cleared = doubted
            self._checked_at = serial

    def write(self, batch: Batch, begun: Mapping[int, str]) -> None:
        """One transaction. `begun` are the kernel ids of this run's boots by number: below 0 where
        they were numbered without knowing the file."""
        run = self._connection.execute
        with card_trouble():
            try:
                run("BEGIN IMMEDIATE")
                self._begin(begun)
                for waiting in batch.rows:
                    if waiting.row:
                        values = waiting.row.values
                        run(INSERTS[waiting.row.table], {**values, "boot": self._real(values.get("boot"))})
                if self._checked_at is not None:
                    run(INSERTS["memory"], memory_row(_CHECKED, self._checked_at).values)
                self._keep([minute._replace(boot=self._numbers[minute.boot]) for minute in batch.minutes])
                commit(self._connection)
                self._checked_at = None
            except BaseException:
                self._forget()
                with contextlib.suppress(sqlite3.Error):
                    run("ROLLBACK")
                raise

    def close(self) -> None:
        with card_trouble():
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._connection.close()

    def salvage(self, aside: Path) -> None:
        """Take over what can be read of the small tables of a damaged file."""
        with card_trouble():
            salvage(aside, self._connection)
        self._forget()

    # What is remembered of the file between batches, read again after a failed one.

    def _forget(self) -> None:
        self._numbers: dict[int, int] = {}
        self._ids: dict[tuple[str, float], int] | None = None
        self._hot: _Hot | None = None
        self._places = Places()

    def _begin(self, begun: Mapping[int, str]) -> None:
        if begun.keys() <= self._numbers.keys():
            return
        there = dict(self._connection.execute("SELECT kernel_id, number FROM boots"))
        for number, kernel_id in begun.items():
            if kernel_id not in there:
                taken = number < 0 or number in there.values()
                there[kernel_id] = max(there.values(), default=0) + 1 if taken else number
                self._connection.execute("INSERT INTO boots VALUES (?, ?)", (there[kernel_id], kernel_id))
            self._numbers[number] = there[kernel_id]

    def _due_at(self) -> int | None:
        """The serial of the newest minute, if the last look at the whole file is a week of them ago."""
        query = "SELECT CAST(json AS INTEGER) FROM memory WHERE key = ?"
        (checked_at,) = self._connection.execute(query, (_CHECKED,)).fetchone() or (None,)
        serial = _Hot.read(self._connection).serial
        fresh = checked_at is not None and 0 <= serial - checked_at < CHECKED_EVERY
        return None if fresh else serial

    def _real(self, boot: int | None) -> int | None:
        return boot if boot is None else self._numbers.get(boot, boot)

    def _channel_ids(self, minute: HotMinute) -> list[int]:
        if self._ids is None:
            rows = self._connection.execute("SELECT name, step, id FROM channels")
            self._ids = {(name, step): number for name, step, number in rows}
        ids = []
        for key in zip(minute.names, minute.steps, strict=True):
            if key not in self._ids:
                self._ids[key] = len(self._ids) + 1
                subject, quantity = parts_of(key[0])
                row = (self._ids[key], key[0], subject, quantity.name, key[1])
                self._connection.execute("INSERT INTO channels VALUES (?, ?, ?, ?, ?)", row)
            ids.append(self._ids[key])
        return ids

    # Minutes in, hours out.

    def _keep(self, minutes: list[HotMinute]) -> None:
        """The newest hour stays as minutes; the hours before it are turned into chunks."""
        if not minutes:
            return
        hot = self._hot = self._hot or _Hot.read(self._connection)
        newest = minutes[-1].hour
        full: dict[Hour, list[tuple[int, bytes]]] = {}
        if hot.hour is not None and hot.hour != newest:
            full[hot.hour] = []
        fresh: list[tuple[HotMinute, bytes]] = []
        for hour, group in groupby(minutes, key=lambda minute: minute.hour):
            blocks = ((minute, block_of(self._channel_ids(minute), minute.body)) for minute in group)
            if hour == newest:
                fresh += blocks
            else:
                full.setdefault(hour, []).extend((m.minute % MINUTES, block) for m, block in blocks)
        for (boot, own_hour), more in full.items():
            self._turn(boot, own_hour, more)
        hot.serial += len(minutes) - len(fresh)  # So that it counts every minute there ever was.
        for minute, block in fresh:
            self._connection.execute(
                "INSERT OR REPLACE INTO hot VALUES (?, ?, ?, ?, ?, ?)",
                (*hot.next_place(newest), minute.boot, minute.minute, block, minute.state),
            )

    def _turn(self, boot: int, hour: int, more: Iterable[tuple[int, bytes]]) -> None:
        span = (boot, hour * MINUTES, (hour + 1) * MINUTES)
        run = self._connection.execute
        rows = run("SELECT minute, block FROM hot WHERE boot = ? AND minute >= ? AND minute < ?", span)
        stored = [(minute % MINUTES, block) for minute, block in rows]
        steps = dict(run("SELECT id, step FROM channels").fetchall())
        blocks: list[tuple[int, Block]] = []
        for minute, blob in (*stored, *more):
            try:
                blocks.append((minute, read_block(blob)))
            except StoreDamaged:
                self.damaged_blocks += 1
        for channel in turn(blocks, steps) if blocks else ():
            self._insert(boot, hour, channel, steps[channel.id])
        self._prune(boot, hour)

    def _insert(self, boot: int, hour: int, of: ChannelHour, step: float) -> None:
        run = self._connection.execute
        key = (boot, hour, of.id)
        if len(of.slots):
            block = pack_samples(of.slots, of.values)
            run("INSERT INTO chunks VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", (*key, block))
        if of.n:
            block = pack_minutes(of.minutes, step)
            run("INSERT INTO minutes VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", (*key, block))
        run(
            "INSERT INTO hours VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
            (of.id, boot, hour, *of.sums(step)),
        )

    def _prune(self, boot: int, hour: int) -> None:
        """Drop what is older than it is to be kept. Nothing while the boot is not placed in time."""
        known = self._places.read(self._connection)
        now_s = known[boot].utc_s(hour * HOUR_S)
        if now_s is None:
            return
        for table, days in self._keep_days.items():
            if days is None:
                continue
            for old in known.values():
                edge_s = old.elapsed_s(now_s - days * DAY_S)
                query = f"SELECT min(hour) FROM {table} WHERE boot = ?"
                (oldest,) = self._connection.execute(query, (old.number,)).fetchone()
                if edge_s is None or oldest is None or oldest >= edge_s // HOUR_S:
                    continue
                until = min(edge_s // HOUR_S, oldest + _PRUNED_AT_A_TIME)
                self._connection.execute(
                    f"DELETE FROM {table} WHERE boot = ? AND hour < ?", (old.number, until)
                )
