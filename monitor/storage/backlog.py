"""What waits for the card, bounded. Producers only ever append; one thread takes and writes."""

import threading
from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from monitor.storage.hour import MINUTES
from monitor.storage.rows import Row

MINUTES_KEPT = 1440
"""How many minutes wait at most, a day, before the oldest are dropped: some 3 MB."""
ROWS_KEPT = 20_000
_PATIENT_MINUTES = 3 * MINUTES
_RETRY_S = 5.0


class HotMinute(NamedTuple):
    """A minute ready to be stored: `body` as `hot.body_of` makes it, for these channels."""

    boot: int
    minute: int
    names: tuple[str, ...]
    steps: tuple[float, ...]
    body: bytes
    state: bytes

    @property
    def hour(self) -> tuple[int, int]:
        return self.boot, self.minute // MINUTES


class Waiting(NamedTuple):
    """A row (None: only the wish to know that all before it is stored) and who waits for it."""

    row: Row | None
    done: threading.Event | None = None


class Batch(NamedTuple):
    rows: Sequence[Waiting]
    minutes: Sequence[HotMinute]


class Backlog:
    """`patient`: minutes are handed out only when an hour is full or somebody waits, and `add_minute`
    waits for room, as long as the card takes what it is given."""

    def __init__(self, patient: bool) -> None:
        self.patient = patient
        self.lost_minutes = 0
        self.lost_rows = 0
        self._rows: deque[Waiting] = deque()
        self._minutes: deque[HotMinute] = deque()
        self._changed = threading.Condition()
        self._closing = False
        self._failing = False

    def add_row(self, waiting: Waiting) -> None:
        with self._changed:
            self._rows.append(waiting)
            self._trim()
            self._changed.notify_all()

    def add_minute(self, minute: HotMinute) -> None:
        with self._changed:
            while self.patient and not self._failing and len(self._minutes) >= _PATIENT_MINUTES:
                self._changed.wait()
            self._minutes.append(minute)
            self._trim()
            self._changed.notify_all()

    def close(self) -> None:
        with self._changed:
            self._closing = True
            self._changed.notify_all()

    def take(self) -> Batch | None:
        """All that waits, once there is something to do; None when closed and empty or failing."""
        with self._changed:
            if self._failing and not self._closing:
                self._changed.wait(_RETRY_S)
            while not self._due() and not self._closing:
                self._changed.wait()
            if self._closing and (self._failing or not (self._rows or self._minutes)):
                return None
            batch = Batch(tuple(self._rows), tuple(self._minutes))
            self._rows.clear()
            self._minutes.clear()
            self._changed.notify_all()
            return batch

    def written(self, batch: Batch) -> None:
        with self._changed:
            self._failing = False
        for waiting in batch.rows:
            if waiting.done:
                waiting.done.set()

    def give_back(self, batch: Batch, at_once: bool) -> None:
        """The card did not take it: it goes back to the front, to be tried `at_once` or after a while."""
        with self._changed:
            self._failing = not at_once
            self._rows.extendleft(reversed(batch.rows))
            self._minutes.extendleft(reversed(batch.minutes))
            self._trim()
            self._changed.notify_all()

    def _due(self) -> bool:
        if not self.patient:
            return bool(self._rows or self._minutes)
        full = bool(self._minutes) and self._minutes[0].hour != self._minutes[-1].hour
        return full or any(waiting.done for waiting in self._rows)

    def _trim(self) -> None:
        while len(self._minutes) > MINUTES_KEPT:
            self._minutes.popleft()
            self.lost_minutes += 1
        if len(self._rows) > ROWS_KEPT:
            oldest = (at for at, waiting in enumerate(self._rows) if _may_be_lost(waiting))
            if (at := next(oldest, None)) is not None:
                del self._rows[at]
                self.lost_rows += 1


def _may_be_lost(waiting: Waiting) -> bool:
    return waiting.row is not None and waiting.row.table != "alert_changes"
