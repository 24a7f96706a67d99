"""A channel over years, as the worker reads it: from a file of its own opening, for reading only."""

from pathlib import Path

from monitor.clock import Interval
from monitor.storage.history import History
from monitor.storage.series import Series


def years(path: Path, channel: str, during: Interval, points: int) -> Series:
    """At most `points` points. Raises StorageError where the file cannot be read."""
    history = History(path)
    try:
        return history.series(channel, during, points)
    finally:
        history.close()
