"""A file of any age is brought up to date; one that cannot be stays as it was."""

import contextlib
import sqlite3
from pathlib import Path

import pytest
from sqlite_utils import Database

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.storage.database import open_store
from monitor.storage.history import History
from monitor.storage.schema import MIGRATIONS
from tests.storage.minutes import NOON_S, minute, opened


@pytest.fixture
def first_version(tmp_path: Path) -> Path:
    """A file as the first migration alone leaves it, with a boot, an anchor and an event in it."""
    path = tmp_path / "boat.db"
    database = Database(path)
    MIGRATIONS.apply(database, stop_before="2 samples")
    database.table("boots").insert({"number": 1, "kernel_id": "old"})
    anchor = {"boot": 1, "elapsed_s": 0.0, "utc_s": NOON_S, "source": "bus", "sigma_s": 0.5}
    database.table("anchors").insert(anchor)
    event = {"kind": "note", "subject": "boat", "boot": 1, "start_s": 5.0, "end_s": None, "facts": "{}"}
    database.table("events").insert(event)
    database.close()
    return path


def test_a_file_of_the_first_version_is_brought_up_to_date_and_keeps_its_rows(first_version: Path) -> None:
    writer = opened(first_version, "new")
    assert writer.boot == 2
    writer.minute(minute(2, 0, {"house current": lambda t: 1.0}))
    writer.close()

    history = History(first_version)

    assert writer.troubles() == ()
    assert [dated.start_utc_s for dated in history.events(None, Interval(0.0, 1e10))] == [NOON_S + 5.0]
    assert [boot.number for boot in history.boots()] == [1, 2]
    with contextlib.closing(sqlite3.connect(first_version)) as connection:
        indexes = [name for (name,) in connection.execute("SELECT name FROM pragma_index_list('events')")]
    assert "long_events" in indexes


def test_a_migration_that_fails_leaves_the_file_as_it_was(
    first_version: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(db: Database) -> None:
        db.table("half").create({"id": int})
        db.execute("INSERT INTO nowhere VALUES (1)")

    second = MIGRATIONS._migrations[1]
    monkeypatch.setattr(
        MIGRATIONS, "_migrations", [MIGRATIONS._migrations[0], type(second)(second.name, broken)]
    )

    with pytest.raises(StorageError, match="nowhere"):
        open_store(first_version)

    tables = {row[0] for row in sqlite3.connect(first_version).execute("SELECT name FROM sqlite_master")}
    assert "half" not in tables
    assert "events" in tables


def test_a_file_of_a_later_version_is_left_alone_and_said(tmp_path: Path) -> None:
    opened(tmp_path / "boat.db").close()
    database = Database(tmp_path / "boat.db")
    row = {"migration_set": "ebbwatch", "name": "99 moon phases", "applied_at": "2030"}
    database.table("_sqlite_migrations").insert(row)
    database.close()

    writer = opened(tmp_path / "boat.db")
    assert not writer.flush(0.2)
    writer.close()

    (trouble,) = writer.troubles()
    assert "newer version (99 moon phases)" in trouble.facts["why"]


def test_anybody_can_read_the_tidy_tables(first_version: Path) -> None:
    opened(first_version).close()

    database = Database(first_version)

    assert {"boots", "anchors", "channels", "events", "alert_changes", "memory", "hours"} <= set(
        database.table_names()
    )
    assert [row["kind"] for row in database.table("events").rows] == ["note"]
    database.close()
