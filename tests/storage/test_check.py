"""The whole file is looked through once a week, and whenever a reader finds it damaged."""

import contextlib
import shutil
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.clock import DAY_S, Interval
from monitor.errors import StorageError, StoreDamaged
from monitor.records import Event, EventKind
from monitor.storage import database, doubts, keeper
from monitor.storage.history import History
from tests.storage.minutes import NOON_S, change, minute, opened

CHANNELS = ("house current", "house voltage", "panels power")
ALL = Interval(0.0, 1e10)
BIG = ("chunks", "minutes", "hours")


@pytest.fixture(scope="module")
def closed_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Seven hours of three channels and some log, looked through when it began and closed in order."""
    path = tmp_path_factory.mktemp("closed") / "boat.db"
    store = opened(path)
    for index in range(420):
        says = {name: lambda t: t * t % 97 / 10 for name in CHANNELS}
        store.minute(minute(1, index, says, every_s=2))
        store.event(Event(EventKind.PUMP_RUN, "fresh water", 1, index * 60.0))
    assert store.alerts([change(1)], timeout_s=20)
    store.close()
    return path


@pytest.fixture
def store_path(closed_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(closed_store, tmp_path / "boat.db"))


def flip(path: Path, table: str) -> None:
    """Spoil the kind of the last leaf of the table's b-tree, the first byte of its header: 13 for a
    table, 10 for an index (the SQLite file format, 1.6, "B-tree Pages"; inner pages are 5 and 2 and
    have the number of their right-most child at byte 8)."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        query = "SELECT rootpage FROM sqlite_master WHERE name = ?"
        (page,) = connection.execute(query, (table,)).fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with path.open("r+b") as file:
        while True:
            file.seek((page - 1) * size)
            head = file.read(12)
            if head[0] not in (2, 5):
                break
            page = int.from_bytes(head[8:12], "big")
        assert head[0] in (10, 13)
        file.seek((page - 1) * size)
        file.write(bytes([head[0] ^ 0xFF]))


READS: dict[str, Callable[[History], object]] = {
    "chunks": lambda history: history.samples(CHANNELS[0], ALL),
    "minutes": lambda history: history.series(CHANNELS[0], Interval(NOON_S, NOON_S + DAY_S)),
    "hours": lambda history: [history.hours(name, ALL) for name in CHANNELS],
}


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """One entry for each look through the whole file."""
    found: list[bool] = []

    def look(connection: sqlite3.Connection) -> None:
        found.append(True)
        database.check_whole(connection)

    monkeypatch.setattr(keeper, "check_whole", look)
    return found


def set_aside(path: Path) -> list[str]:
    return sorted(found.name for found in path.parent.glob("boat.db.damaged-?"))


@pytest.mark.parametrize("patient", [False, True])
def test_a_week_of_minutes_lies_between_two_looks(
    tmp_path: Path, looks: list[bool], monkeypatch: pytest.MonkeyPatch, patient: bool
) -> None:
    assert keeper.CHECKED_EVERY == 7 * 24 * 60
    monkeypatch.setattr(keeper, "CHECKED_EVERY", 100)
    path, index, counts = tmp_path / "boat.db", 0, []
    for run in (90, 9, 1, 10, 89, 1, 5):
        store = opened(path, patient=patient)
        for _ in range(run):
            store.minute(minute(1, index, {}))
            index += 1
        store.close()
        counts.append(len(looks))

    # Looked through at the very first, after the 100th minute (90 + 9 + 1) and after the 200th.
    assert counts == [1, 1, 1, 2, 2, 2, 3]


def test_what_the_store_remembers_for_itself_is_not_recalled(store_path: Path) -> None:
    with contextlib.closing(sqlite3.connect(store_path)) as connection:
        assert connection.execute("SELECT key FROM memory").fetchall() == [("store: checked",)]
    with contextlib.closing(History(store_path)) as history:
        assert history.recall() == {"minute": 419}


@pytest.mark.parametrize("table", BIG)
def test_the_weekly_look_finds_what_the_start_does_not_and_sets_the_file_aside(
    store_path: Path, table: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    flip(store_path, table)
    monkeypatch.setattr(keeper, "CHECKED_EVERY", 400)
    store = opened(store_path, "later")
    store.minute(minute(2, 0, {CHANNELS[0]: lambda t: 1.5}))
    assert store.flush(20)

    assert [reason.facts for reason in store.troubles()] == [{"name": "boat.db.damaged-1"}]
    store.close()
    with contextlib.closing(History(store_path)) as history:
        assert history.samples(CHANNELS[0], Interval(NOON_S, NOON_S + 60))[1].tolist() == [1.5] * 60
        assert len(history.events(EventKind.PUMP_RUN, ALL)) == 420
        assert [of for of, _ in history.alert_changes()] == [change(1)]


def test_nobody_waits_for_the_look_and_nothing_is_lost(
    store_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, ended = threading.Event(), threading.Event()

    def slow(connection: sqlite3.Connection) -> None:
        asked.set()
        ended.wait(30)

    monkeypatch.setattr(keeper, "check_whole", slow)
    monkeypatch.setattr(keeper, "CHECKED_EVERY", 400)
    monkeypatch.setattr("monitor.storage.writer._SLOW_S", 0.0)
    store = opened(store_path, "later")
    assert asked.wait(20)
    for index in range(100):
        store.minute(minute(2, index, {CHANNELS[0]: lambda t: 1.5}))
    assert not store.alerts([change(2, 2)], timeout_s=0.05)
    # Not a trouble of the card's, and the history can be read meanwhile.
    assert store.troubles() == ()
    with contextlib.closing(History(store_path)) as history:
        assert len(history.hours(CHANNELS[0], ALL)) == 7

        ended.set()
        assert store.flush(20)
        assert [of for of, _ in history.alert_changes()] == [change(1), change(2, 2)]
    store.close()
    with contextlib.closing(sqlite3.connect(store_path)) as connection:
        assert connection.execute("SELECT max(minute) FROM hot WHERE boot = 2").fetchone() == (99,)


@pytest.mark.parametrize("table", BIG)
def test_a_reader_that_meets_damage_has_the_file_set_aside(store_path: Path, table: str) -> None:
    flip(store_path, table)
    store = opened(store_path, "later")
    assert store.flush(20)
    assert store.troubles() == ()

    with contextlib.closing(History(store_path)) as history:
        with pytest.raises(StoreDamaged):
            READS[table](history)
        store.minute(minute(2, 0, {CHANNELS[0]: lambda t: 1.5}))
        assert store.flush(20)

        assert [(reason.id, reason.facts) for reason in store.troubles()] == [
            ("store: set aside", {"name": "boat.db.damaged-1"})
        ]
        READS[table](history)
        assert len(history.events(EventKind.PUMP_RUN, ALL)) == 420
    store.close()
    assert set_aside(store_path) == ["boat.db.damaged-1"]


def test_an_unfounded_doubt_costs_one_look_and_no_file(store_path: Path, looks: list[bool]) -> None:
    store = opened(store_path)
    for _ in range(3):
        doubts.tell(doubts.file_at(store_path))
        assert store.flush(20)
    store.close()

    assert len(looks) == 1
    assert store.troubles() == ()
    assert set_aside(store_path) == []


def test_a_doubt_about_another_file_is_not_taken_for_this_one(
    store_path: Path, tmp_path: Path, looks: list[bool]
) -> None:
    other = tmp_path / "other.db"
    other.write_bytes(b"not a database, " * 400)
    with contextlib.closing(History(other)) as history, pytest.raises(StorageError):
        history.boots()
    store = opened(store_path)
    assert store.flush(20)
    store.close()

    assert looks == []
    assert doubts.told(other)
