"""A card that stalls, fills, fails or spoils the file: the watch goes on, and says so."""

import contextlib
import os
import random
import shutil
import sqlite3
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import Event, EventKind, Minute, Reason
from monitor.storage import backlog, database, keeper, writer
from monitor.storage.history import History
from monitor.words.store import SENTENCES
from tests.storage.minutes import NOON_S, change, minute, opened

CURRENT = "house current"
ALL = Interval(0.0, 1e10)


def steady(index: int, boot: int = 1) -> Minute:
    return minute(boot, index, {CURRENT: lambda t: 1.5})


def minutes_stored(path: Path) -> list[int]:
    with contextlib.closing(History(path)) as history:
        utc_s, _ = history.samples(CURRENT, ALL)
    return sorted({round(at) // 60 for at in (utc_s - NOON_S).tolist()})


def ids(reasons: tuple[Reason, ...]) -> list[str]:
    """Each must have its sentence, made of the facts it brings."""
    for reason in reasons:
        wanted = {field for _, field, _, _ in Formatter().parse(SENTENCES[reason.id]) if field}
        assert wanted == set(reason.facts)
    return [reason.id for reason in reasons]


# ---- a card whose sync stalls


class Card:
    """Stands in for the wait for the card: every commit waits until `answers` is set."""

    def __init__(self) -> None:
        self.answers = threading.Event()
        self.asked = threading.Event()

    def commit(self, connection: sqlite3.Connection) -> None:
        self.asked.set()
        self.answers.wait(30)
        connection.execute("COMMIT")


@pytest.fixture
def stalled(monkeypatch: pytest.MonkeyPatch) -> Iterator[Card]:
    card = Card()
    monkeypatch.setattr(keeper, "commit", card.commit)
    yield card
    card.answers.set()


def test_nobody_waits_for_a_card_that_stalls_and_nothing_is_lost(
    tmp_path: Path, stalled: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "_SLOW_S", 0.0)
    store = opened(tmp_path / "boat.db")
    assert stalled.asked.wait(20)

    # With the card silent every one of these returns; the alert says that it is not recorded.
    for index in range(100):
        store.minute(steady(index))
    store.event(Event(EventKind.PUMP_RUN, "fresh water", 1, 10.0, 12.0))
    assert not store.alerts([change(1)], timeout_s=0.05)
    assert "store: slow" in ids(store.troubles())
    assert not (minutes_stored(tmp_path / "boat.db"))

    stalled.answers.set()
    assert store.flush(20)
    store.close()
    assert minutes_stored(tmp_path / "boat.db") == list(range(100))
    history = History(tmp_path / "boat.db")
    assert [of for of, _ in history.alert_changes()] == [change(1)]
    assert len(history.events(EventKind.PUMP_RUN, ALL)) == 1
    assert store.troubles() == ()


def test_memory_is_bounded_the_oldest_minutes_go_first_and_that_is_told(
    tmp_path: Path, stalled: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backlog, "MINUTES_KEPT", 10)
    monkeypatch.setattr(backlog, "ROWS_KEPT", 6)
    store = opened(tmp_path / "boat.db")
    assert stalled.asked.wait(20)
    for number in range(4):
        store.alerts([change(1, number)], timeout_s=0.0)
    for index in range(15):
        store.minute(steady(index))
        store.event(Event(EventKind.PUMP_RUN, "fresh water", 1, index * 60.0))

    stalled.answers.set()
    assert store.flush(20)
    store.close()

    assert minutes_stored(tmp_path / "boat.db") == list(range(5, 15))
    assert ids(store.troubles()) == ["store: lost minutes", "store: lost entries"]
    told = {reason.id: reason.facts for reason in store.troubles()}
    assert told["store: lost minutes"] == {"minutes": 5}
    assert told["store: lost entries"]["entries"] >= 13
    with contextlib.closing(History(tmp_path / "boat.db")) as history:
        assert len(history.alert_changes()) == 4


def test_a_recording_waits_for_room_instead_of_losing_minutes(
    tmp_path: Path, stalled: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backlog, "_PATIENT_MINUTES", 70)
    monkeypatch.setattr(backlog, "MINUTES_KEPT", 200)
    store = opened(tmp_path / "boat.db", patient=True)
    given = threading.Event()

    def replay() -> None:
        for index in range(400):
            store.minute(steady(index))
        given.set()

    reader = threading.Thread(target=replay)
    reader.start()
    assert stalled.asked.wait(20)
    assert not given.wait(0.2)
    stalled.answers.set()
    reader.join(20)
    store.close()

    assert minutes_stored(tmp_path / "boat.db") == list(range(400))


def test_closing_gives_up_on_a_card_that_never_answers(tmp_path: Path, stalled: Card) -> None:
    store = opened(tmp_path / "boat.db")
    store.minute(steady(0))

    store.close(timeout_s=0.05)

    assert stalled.asked.wait(20)


# ---- a full card


@pytest.fixture
def small_card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with room for 400 kB: a real file system where one may be mounted, else SQLite's own limit."""
    folder = tmp_path / "card"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(folder)]
    mounted = os.geteuid() == 0 and subprocess.run(command, capture_output=True, check=False).returncode == 0
    if not mounted:
        limit = ("PRAGMA max_page_count = 150",)
        monkeypatch.setattr(database, "_PRAGMAS", (*database._PRAGMAS, *limit))
    yield folder
    if mounted:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def test_a_full_card_is_told_and_what_fitted_is_whole(small_card: Path) -> None:
    path = small_card / "boat.db"
    store = opened(path)
    dice = random.Random(4)
    noise = {f"bank {number} power": lambda t: dice.uniform(-9e3, 9e3) for number in range(20)}

    acknowledged = []
    for index in range(400):
        store.minute(minute(1, index, noise))
        if not store.flush(0.5):
            break
        acknowledged.append(index)

    assert 10 < len(acknowledged) < 400
    assert not store.alerts([change(1)], timeout_s=0.2)
    (trouble,) = store.troubles()
    assert trouble.id == "store: failing"
    assert "full" in trouble.facts["why"] or "I/O" in trouble.facts["why"]
    store.close()
    history = History(path)
    utc_s, _ = history.samples("bank 7 power", ALL)
    assert {round(at) // 60 for at in (utc_s - NOON_S).tolist()} >= set(acknowledged)
    history.close()


def test_when_there_is_room_again_what_waited_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = threading.Event()

    def commit(connection: sqlite3.Connection) -> None:
        if full.is_set():
            error = sqlite3.OperationalError("database or disk is full")
            error.sqlite_errorcode = sqlite3.SQLITE_FULL
            raise error
        connection.execute("COMMIT")

    monkeypatch.setattr(keeper, "commit", commit)
    store = opened(tmp_path / "boat.db")
    for index in range(59):
        store.minute(steady(index))
    assert store.flush(20)
    full.set()
    for index in range(59, 70):
        store.minute(steady(index))
    assert not store.alerts([change(1)], timeout_s=0.1)
    assert ids(store.troubles()) == ["store: failing"]

    full.clear()
    assert store.flush(20)
    store.close()

    assert minutes_stored(tmp_path / "boat.db") == list(range(70))
    with contextlib.closing(History(tmp_path / "boat.db")) as history:
        assert [of for of, _ in history.alert_changes()] == [change(1)]
    assert store.troubles() == ()


def test_a_card_that_comes_later_gets_everything(tmp_path: Path) -> None:
    folder = tmp_path / "card"
    store = opened(folder / "boat.db")
    assert store.boot == -1
    store.minute(steady(0, boot=-1))
    assert not store.alerts([change(-1)], timeout_s=0.05)
    assert ids(store.troubles()) == ["store: failing"]
    assert store.recall() == {}

    folder.mkdir()
    assert store.flush(20)
    store.close()

    assert minutes_stored(folder / "boat.db") == [0]
    with contextlib.closing(History(folder / "boat.db")) as history:
        assert [(boot.number, len(boot.anchors)) for boot in history.boots()] == [(1, 1)]
        assert [of for of, _ in history.alert_changes()] == [change(1)]


# ---- a damaged file


@pytest.fixture(scope="module")
def closed_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three hours of samples, events, an alert and something remembered, closed in order."""
    path = tmp_path_factory.mktemp("closed") / "boat.db"
    store = opened(path)
    for index in range(200):
        says = {CURRENT: lambda t: (t * 31 % 97) / 10, "house voltage": lambda t: 13.0}
        store.minute(minute(1, index, says))
        store.event(Event(EventKind.PUMP_RUN, "fresh water", 1, index * 60.0))
    store.remember("mode", {"place": "sailing"})
    store.alerts([change(1)], timeout_s=20)
    store.close()
    return path


@pytest.fixture
def full_store(closed_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(closed_store, tmp_path / "boat.db"))


def goes_on(path: Path, kernel_id: str = "later") -> writer.Writer:
    """A new watch on this file writes two hours, and they are there."""
    store = opened(path, kernel_id)
    assert store.boot is not None
    for index in range(1000, 1070):
        store.minute(steady(index, store.boot))
    assert store.flush(20)
    store.close()
    assert set(range(1000, 1070)) <= set(minutes_stored(path))
    return store


def test_garbage_is_set_aside_with_its_name_told(full_store: Path) -> None:
    garbage = random.Random(1).randbytes(5000)
    full_store.write_bytes(garbage)

    store = goes_on(full_store)

    assert [reason.facts for reason in store.troubles()] == [{"name": "boat.db.damaged-1"}]
    assert full_store.with_name("boat.db.damaged-1").read_bytes() == garbage


def test_a_card_that_spoils_every_file_is_not_filled_with_them(
    full_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def commit(connection: sqlite3.Connection) -> None:
        error = sqlite3.DatabaseError("database disk image is malformed")
        error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise error

    monkeypatch.setattr(keeper, "commit", commit)
    store = opened(full_store, "later")
    for _ in range(9):
        assert not store.flush(0.1)
    store.close()

    assert len(list(full_store.parent.glob("boat.db.damaged-?"))) == 5
    assert store.troubles()[-1].facts == {"why": "every new file is damaged too"}


def test_a_second_damaged_file_does_not_replace_the_first(full_store: Path) -> None:
    for _ in range(2):
        full_store.write_bytes(b"not a database, " * 400)
        goes_on(full_store)

    assert {path.name for path in full_store.parent.glob("boat.db.damaged-?")} == {
        "boat.db.damaged-1",
        "boat.db.damaged-2",
    }


def test_a_file_that_has_lost_its_end_is_set_aside_and_its_log_taken_over(full_store: Path) -> None:
    os.truncate(full_store, full_store.stat().st_size - 2048)

    store = goes_on(full_store)

    assert ids(store.troubles()) == ["store: set aside"]
    assert store.boot == 2
    history = History(full_store)
    assert len(history.events(EventKind.PUMP_RUN, ALL)) > 100
    assert [of for of, _ in history.alert_changes()] == [change(1)]
    assert history.recall()["mode"] == {"place": "sailing"}
    history.close()


def test_a_damaged_minute_is_left_out_and_counted_and_the_file_kept(full_store: Path) -> None:
    connection = sqlite3.connect(full_store)
    (block,) = connection.execute("SELECT block FROM hot WHERE minute = 190").fetchone()
    spoilt = block[:30] + bytes([block[30] ^ 0xFF]) + block[31:]
    connection.execute("UPDATE hot SET block = ? WHERE minute = 190", (spoilt,))
    connection.commit()
    connection.close()
    assert minutes_stored(full_store) == [*range(190), *range(191, 200)]

    store = goes_on(full_store)

    assert ids(store.troubles()) == ["store: damaged minutes"]
    assert store.troubles()[0].facts == {"minutes": 1}
    assert minutes_stored(full_store)[:199] == [*range(190), *range(191, 200)]


def test_a_damaged_chunk_costs_its_hour_of_that_channel_only(full_store: Path) -> None:
    connection = sqlite3.connect(full_store)
    connection.execute(
        "UPDATE chunks SET block = CAST(x'00' || block AS BLOB) WHERE hour = 1 AND channel = 1"
    )
    connection.commit()
    connection.close()

    assert minutes_stored(full_store) == [*range(60), *range(120, 200)]
    with contextlib.closing(History(full_store)) as history:
        assert len(history.samples("house voltage", ALL)[0]) == 200 * 60


@pytest.mark.parametrize("seed", range(30))
def test_whatever_is_spoilt_the_watch_goes_on(full_store: Path, seed: int) -> None:
    """A stretch of random bytes anywhere in the file, as a failing card leaves it."""
    dice = random.Random(seed)
    whole = bytearray(full_store.read_bytes())
    at = dice.randrange(len(whole))
    whole[at : at + 512] = dice.randbytes(min(512, len(whole) - at))
    full_store.write_bytes(whole)

    store = opened(full_store, "later")
    for index in range(1000, 1070):
        store.minute(steady(index, store.boot or 0))
    assert store.flush(20)
    store.close()

    with contextlib.closing(History(full_store)) as history:
        assert history.recall()["minute"] == 1069
        with contextlib.suppress(StorageError):
            history.samples(CURRENT, ALL)


def test_a_reader_moves_to_the_new_file_when_the_old_one_is_set_aside(full_store: Path) -> None:
    history = History(full_store)
    assert len(history.samples(CURRENT, ALL)[0]) == 200 * 60
    os.truncate(full_store, 3000)

    goes_on(full_store)

    assert 60 * 70 <= len(history.samples(CURRENT, ALL)[0]) < 200 * 60
    history.close()
