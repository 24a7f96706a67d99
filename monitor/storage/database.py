"""Opening the file: checked, brought up to date, or set aside where it is damaged."""

import contextlib
import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path

from monitor.errors import StorageError, StoreDamaged

# Small pages: a commit writes every page it touched, a minute hardly fills one, and an hour of one
# channel (0.7 to 1.9 kB) leaves a quarter of larger pages empty. Measured beside 512, 2048 and 4096.
_PAGE_BYTES = 1024
_PRAGMAS = (
    f"PRAGMA page_size = {_PAGE_BYTES}",
    "PRAGMA journal_mode = WAL",  # readers never wait for the writer, nor it for them
    "PRAGMA synchronous = FULL",  # a commit has reached the card when it returns
    "PRAGMA wal_autocheckpoint = 4000",
    "PRAGMA journal_size_limit = 8000000",
    "PRAGMA cache_size = -2000",
)
_SMALL = ("boots", "anchors", "memory", "events", "alert_changes", "channels", "hot", "outbox")
"""Checked at each start, and carried over from a damaged file as far as they can be read."""


@contextlib.contextmanager
def card_trouble() -> Iterator[None]:
    """SQLite's errors as ours: StoreDamaged where the file is not whole, else StorageError."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        spoilt_text = str(error).startswith("Could not decode")
        if spoilt_text or code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise StoreDamaged(str(error)) from error
        raise StorageError(str(error)) from error
    except UnicodeDecodeError as error:  # In SQLite's own message about a spoilt schema.
        raise StoreDamaged(str(error)) from error
    except OSError as error:
        raise StorageError(str(error)) from error


def open_store(path: Path) -> sqlite3.Connection:
    """The writing connection. Raises StoreDamaged or StorageError."""
    with card_trouble():
        connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        try:
            for pragma in _PRAGMAS:
                connection.execute(pragma)
            _check(connection, path)
            _migrate(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def open_to_read(path: Path) -> sqlite3.Connection:
    """A connection that cannot change anything. Raises StorageError."""
    with card_trouble():
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, check_same_thread=False
        )
        connection.execute("PRAGMA query_only = 1")
    return connection


def commit(connection: sqlite3.Connection) -> None:
    """The one place that waits for the card."""
    connection.execute("COMMIT")


def _migrate(connection: sqlite3.Connection) -> None:
    # Here, because importing it takes a third of a second that a reader need not wait for.
    with _without("pandas"):
        from sqlite_utils import Database

    from monitor.storage.schema import MIGRATIONS

    database = Database(connection)
    known = {migration.name for migration in MIGRATIONS.pending(Database(memory=True))}
    if unknown := {migration.name for migration in MIGRATIONS.applied(database)} - known:
        raise StorageError(f"the store was written by a newer version ({', '.join(sorted(unknown))})")
    MIGRATIONS.apply(database)


@contextlib.contextmanager
def _without(module: str) -> Iterator[None]:
    """sqlite_utils takes pandas in where it finds it: 45 MB of memory that a watch has no use for."""
    if module in sys.modules:
        yield
        return
    sys.modules[module] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[module]


def _check(connection: sqlite3.Connection, path: Path) -> None:
    """Quick at any size: the small tables' structure and the file's length.

    The samples' blocks carry checksums of their own that are tested whenever they are read, and
    `check_whole` looks at the rest now and then.
    """
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    (page_bytes,) = connection.execute("PRAGMA page_size").fetchone()
    if path.stat().st_size < pages * page_bytes:
        raise StoreDamaged(f"{path.name} is shorter than it says")
    there = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    for table in there.intersection(_SMALL):
        _quick_check(connection, f"'{table}'")


def check_whole(connection: sqlite3.Connection) -> None:
    """Every page of the file as it lies on the card, which takes as long as reading it all does.

    Raises StoreDamaged or StorageError.
    """
    with card_trouble():
        connection.execute("PRAGMA shrink_memory")
        _quick_check(connection, "1")


def _quick_check(connection: sqlite3.Connection, what: str) -> None:
    (verdict,) = connection.execute(f"PRAGMA quick_check({what})").fetchone()
    if verdict != "ok":
        raise StoreDamaged(verdict.splitlines()[-1])


def set_aside(path: Path) -> Path:
    """Rename the damaged file (and what belongs to it) to NAME.damaged-N; return its new name."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    with card_trouble():
        path.rename(aside)
        for tail in ("-wal", "-shm"):
            with contextlib.suppress(FileNotFoundError):
                path.with_name(path.name + tail).rename(aside.with_name(aside.name + tail))
    return aside


def salvage(aside: Path, connection: sqlite3.Connection) -> None:
    """Copy what can be read of the small tables into the new file."""
    with contextlib.suppress(sqlite3.Error):
        old = sqlite3.connect(f"{aside.absolute().as_uri()}?mode=ro", uri=True)
        with contextlib.closing(old):
            old.execute("PRAGMA writable_schema = ON")  # Read a file that has lost its end, too.
            connection.execute("BEGIN")
            whole = {table: _copied(old, connection, table) for table in _SMALL}
            if not whole["channels"]:
                connection.execute("DELETE FROM hot")  # It would be read as other channels.
            connection.execute("COMMIT")


def _copied(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> bool:
    try:
        rows = old.execute(f"SELECT * FROM {table}")
        names = [column[0] for column in rows.description]  # An older file has fewer columns.
        marks = ", ".join("?" * len(names))
        for row in rows:
            new.execute(f"INSERT OR IGNORE INTO {table} ({', '.join(names)}) VALUES ({marks})", row)
    except sqlite3.Error:
        return False
    return True
