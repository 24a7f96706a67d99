"""What the file holds, for anybody who only reads: screens, reports, exports, estimators at start."""

import contextlib
import json
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from monitor.clock import Boot, Interval
from monitor.errors import StorageError, StoreDamaged
from monitor.records import AlertChange, Event, EventKind, Notice
from monitor.storage import doubts, shelf
from monitor.storage.boots import Places
from monitor.storage.brackets import Bracket, brackets
from monitor.storage.codec import Floats
from monitor.storage.database import card_trouble, open_to_read
from monitor.storage.happened import changes_near, near
from monitor.storage.rows import alert_of, event_of, named, notice_of, unpack_state
from monitor.storage.series import Hour, Series, reduced
from monitor.storage.shelf import joined

_MINUTES_UP_TO_S = 14 * 86_400.0
"""A longer plot is made of hours."""


class Dated(NamedTuple):
    """An event and where it lies in UTC: None while its boot is not placed, or it has not ended."""

    event: Event
    start_utc_s: float | None
    end_utc_s: float | None


class History:
    """Read-only and usable from any thread; a call holds its connection only while it runs.

    Raises StorageError from everything where the file cannot be read; where it is not whole, the
    writer in the same process is told (`doubts`).
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._places = Places()
        self._idle: list[tuple[doubts.File, sqlite3.Connection]] = []

    def close(self) -> None:
        with self._lock:
            idle, self._idle = self._idle, []
        for _, connection in idle:
            connection.close()

    def boots(self) -> list[Boot]:
        with self._reading() as connection:
            return list(self._places.read(connection).values())

    def brackets(self) -> list[Bracket]:
        """Between which times each boot lies that was never placed in UTC, oldest first."""
        with self._reading() as connection:
            return brackets(connection, list(self._places.read(connection).values()))

    def channels(self) -> list[str]:
        with self._reading() as connection:
            return sorted({name for (name,) in connection.execute("SELECT name FROM channels")})

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        """UTC seconds (to the nearest second of the boot) and values; NaN is "not available"."""
        with self._stretches(channel, during) as found:
            points = joined(found, shelf.samples)
        return points.utc_s, points.mean

    def series(self, channel: str, during: Interval, points: int = 2000) -> Series:
        """At most `points` points, each with the lowest, mean and highest of what it stands for.

        Made of samples ("full") where they fit, else of minutes or hours. Where the samples are
        no longer kept the next coarser level answers.
        """
        with self._stretches(channel, during) as found:
            for level, longest_s, read in (
                ("full", points, shelf.samples),
                ("minute", _MINUTES_UP_TO_S, shelf.minutes),
            ):
                if during.seconds <= longest_s and (some := joined(found, read)):
                    return reduced(some, during, points, level)
            return reduced(joined(found, shelf.hour_points), during, points, "hour")

    def hours(self, channel: str, during: Interval) -> list[Hour]:
        """The hours that begin in `during`, in order; they are hours of their boot's elapsed time."""
        with self._stretches(channel, during) as found:
            return sorted(hour for stretch in found for hour in shelf.hours(stretch))

    def events(self, kind: EventKind | None, during: Interval) -> list[Dated]:
        """Those that touch `during`, and all of boots that are not yet placed, oldest first."""
        with self._reading() as connection:
            places = self._places.read(connection)
            rows = list(near(connection, places, kind, during))
        found = []
        for event in map(event_of, rows):
            boot = places.get(event.boot, Boot(event.boot))
            start_s = boot.utc_s(event.start_s)
            end_s = None if event.end_s is None else boot.utc_s(event.end_s)
            last_s = start_s if end_s is None else end_s
            if start_s is None or last_s is None or (start_s < during.end_s and last_s >= during.start_s):
                found.append(Dated(event, start_s, end_s))
        return found

    def alert_changes(self, during: Interval | None = None) -> list[tuple[AlertChange, float | None]]:
        """With their UTC seconds, None while their boot is not placed, in the order they happened."""
        with self._reading() as connection:
            places = self._places.read(connection)
            all_of_them = named(connection, "SELECT * FROM alert_changes ORDER BY id")
            rows = list(all_of_them if during is None else changes_near(connection, places, during))
        found = []
        for row in rows:
            at_s = places.get(row["boot"], Boot(row["boot"])).utc_s(row["at_s"])
            if during is None or at_s is None or during.start_s <= at_s < during.end_s:
                found.append((alert_of(row), at_s))
        return found

    def recall(self) -> dict[str, Any]:
        """The keys remembered and, over them, the state of the newest minute that can be read."""
        with self._reading() as connection:
            memory = dict(connection.execute("SELECT key, json FROM memory WHERE key NOT LIKE 'store: %'"))
            states = connection.execute("SELECT state FROM hot ORDER BY serial DESC").fetchall()
        recalled: dict[str, Any] = {key: json.loads(text) for key, text in memory.items()}
        for (state,) in states:
            with contextlib.suppress(StoreDamaged):
                return recalled | unpack_state(state)
        return recalled

    def outbox(self) -> list[tuple[str, Notice]]:
        """What has not been delivered, by way out, in the order it was handed over."""
        with self._reading() as connection:
            rows = connection.execute("SELECT way, notice FROM outbox ORDER BY serial").fetchall()
        found = []
        for way, text in rows:
            with contextlib.suppress(KeyError, TypeError, ValueError):  # Another version's is left behind.
                found.append((way, notice_of(text)))
        return found

    @contextlib.contextmanager
    def _stretches(self, channel: str, during: Interval) -> Iterator[list[shelf.Stretch]]:
        with self._reading() as connection:
            places = self._places.read(connection).values()
            yield shelf.stretches(connection, places, channel, during)

    @contextlib.contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """One consistent view of the file for one question."""
        with card_trouble():
            try:
                file = doubts.file_at(self._path)
            except FileNotFoundError as error:
                raise StorageError(f"there is no store at {self._path}") from error
        try:
            with card_trouble(), self._lent(file) as connection:
                connection.execute("BEGIN")
                yield connection
                connection.execute("COMMIT")
        except StoreDamaged:
            doubts.tell(file)
            raise

    @contextlib.contextmanager
    def _lent(self, file: doubts.File) -> Iterator[sqlite3.Connection]:
        connection = self._checked_out(file) or open_to_read(self._path)
        try:
            yield connection
        except BaseException:
            connection.close()
            raise
        with self._lock:
            self._idle.append((file, connection))

    def _checked_out(self, file: doubts.File) -> sqlite3.Connection | None:
        """An idle connection to this very file: a damaged one may have been set aside meanwhile."""
        with self._lock:
            while self._idle:
                of, connection = self._idle.pop()
                if of == file:
                    return connection
                connection.close()
        return None
