"""The one writer. What it is given it keeps, on the card when it can and in memory until then.

No call waits for the card but `alerts`, `flush` and `close`, and those only as long as they are
told to. A patient writer (recordings) also waits for room, and commits once an hour of data.
"""

import threading
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from monitor.clock import Anchor
from monitor.errors import StorageError, StoreDamaged
from monitor.records import AlertChange, Event, Minute, Notice, Reason
from monitor.storage import doubts
from monitor.storage.backlog import Backlog, Batch, HotMinute, Waiting
from monitor.storage.database import set_aside
from monitor.storage.digest import Digester
from monitor.storage.history import History
from monitor.storage.hot import body_of
from monitor.storage.keeper import Keeper
from monitor.storage.rows import (
    alert_row,
    anchor_row,
    delivered_row,
    event_row,
    memory_row,
    outbox_row,
    pack_state,
)

_SLOW_S = 2.0
"""A commit that takes longer is told."""
_SLOW_CHECK_S = 600.0
"""So is a look through the whole file: a gigabyte on a slow card takes a minute or two."""
_MOST_SET_ASIDE = 5
"""A card that spoils every file must not be filled with their remains."""


class Writer:
    """Used by one producing thread at a time; `troubles`, `remember`, `post` and `delivered` by any."""

    def __init__(self, path: Path, *, keep_full_days: int | None = None, patient: bool = False) -> None:
        self._path = path
        self._keep_full_days = keep_full_days
        self._backlog = Backlog(patient)
        self._digester = Digester()
        self._keeper: Keeper | None = None
        self._thread = threading.Thread(target=self._run, name="store", daemon=True)
        self._kernels: dict[str, int] = {}
        self._begun: dict[int, str] = {}
        self._failure: str | None = None
        self._aside: list[str] = []
        self._damaged_blocks = 0
        self._writing_since: float | None = None
        self._checking = False
        self.boot: int | None = None
        """The number of the boot under way, from `begin_boot`."""

    def open(self) -> None:
        """Open or make the file and start to write. Trouble with the card is kept for `troubles`."""
        self._attach()
        if self._keeper:
            self._kernels = self._keeper.kernels()
        self._thread.start()

    def begin_boot(self, kernel_id: str) -> int:
        """The number of the boot with this id: the same again after a restart within it.

        Where the file could not be read the number is below 0 and the file has its own later.
        """
        if kernel_id not in self._kernels:
            taken = self._kernels.values()
            self._kernels[kernel_id] = (
                max(taken, default=0) + 1 if self._keeper else min(taken, default=0) - 1
            )
        self.boot = self._kernels[kernel_id]
        self._begun = {**self._begun, self.boot: kernel_id}
        self._backlog.add_row(Waiting(None))
        return self.boot

    def minute(self, minute: Minute) -> None:
        digest = self._digester.digest(minute)
        self._backlog.add_minute(
            HotMinute(
                minute.boot,
                minute.index,
                digest.names,
                tuple(digest.steps.tolist()),
                body_of(digest),
                pack_state(minute.state),
            )
        )

    def event(self, event: Event) -> None:
        """An event that comes again (same kind, subject and start) replaces the one before."""
        self._backlog.add_row(Waiting(event_row(event)))

    def anchor(self, boot: int, anchor: Anchor) -> None:
        self._backlog.add_row(Waiting(anchor_row(boot, anchor)))

    def remember(self, key: str, json_value: Any) -> None:
        self._backlog.add_row(Waiting(memory_row(key, json_value)))

    def post(self, way: str, notices: Sequence[Notice]) -> None:
        """What a way out has to deliver, in order: kept until it is `delivered`."""
        for notice in notices:
            self._backlog.add_row(Waiting(outbox_row(way, notice)))

    def delivered(self, way: str, ids: Sequence[str]) -> None:
        for id in ids:
            self._backlog.add_row(Waiting(delivered_row(way, id)))

    def alerts(self, changes: Sequence[AlertChange], timeout_s: float = 1.0) -> bool:
        """Whether all are on the card within the time. If not they are written later, unless the watch
        ends first."""
        for change in changes:
            self._backlog.add_row(Waiting(alert_row(change)))
        return self._wait_for(timeout_s)

    def flush(self, timeout_s: float) -> bool:
        """Whether all that was given before is on the card within the time."""
        return self._wait_for(timeout_s)

    def close(self, timeout_s: float = 35.0) -> None:
        """Write what waits and close the file; give up on a card that takes longer."""
        self._backlog.close()
        if self._thread.ident is not None:
            self._thread.join(timeout_s)

    def recall(self) -> Mapping[str, Any]:
        """Everything remembered that is on the card: the newest minute's state and the keys."""
        history = History(self._path)
        try:
            return history.recall()
        except StorageError:
            return {}
        finally:
            history.close()

    def troubles(self) -> tuple[Reason, ...]:
        """What is wrong with the store now, and what has been lost since the start."""
        since, backlog = self._writing_since, self._backlog
        slow_s = time.monotonic() - since if since is not None else 0.0
        told: list[Reason] = [Reason("store: set aside", {"name": name}) for name in self._aside]
        if self._failure is not None:
            told.append(Reason("store: failing", {"why": self._failure}))
        if slow_s > (_SLOW_CHECK_S if self._checking else _SLOW_S):
            told.append(Reason("store: slow", {"slow_s": slow_s}))
        if backlog.lost_minutes:
            told.append(Reason("store: lost minutes", {"minutes": backlog.lost_minutes}))
        if backlog.lost_rows:
            told.append(Reason("store: lost entries", {"entries": backlog.lost_rows}))
        if self._damaged_blocks:
            told.append(Reason("store: damaged minutes", {"minutes": self._damaged_blocks}))
        return tuple(told)

    def _wait_for(self, timeout_s: float) -> bool:
        done = threading.Event()
        self._backlog.add_row(Waiting(None, done))
        return done.wait(timeout_s)

    # The writing thread, and `open` before it.

    def _run(self) -> None:
        while batch := self._backlog.take():
            self._writing_since = time.monotonic()
            try:
                self._write(batch)
            finally:
                self._writing_since = None
        if self._keeper:
            self._keeper.close()

    def _write(self, batch: Batch) -> None:
        at_once = False
        try:
            if not self._keeper:
                self._attach()
            if self._keeper:
                self._check(self._keeper)
                self._keeper.write(batch, self._begun)
                self._damaged_blocks += self._keeper.damaged_blocks
                self._keeper.damaged_blocks = 0
                self._failure = None
                self._backlog.written(batch)
                return
        except StoreDamaged:
            at_once = self._put_aside()
        except StorageError as error:
            self._failure = str(error)
        except Exception as error:
            # The end of the thread: a fault of our own must not end the writing unnoticed.
            self._failure = f"{type(error).__name__}: {error}"
        self._backlog.give_back(batch, at_once)

    def _check(self, keeper: Keeper) -> None:
        """Producers go on meanwhile: what they give waits in the backlog."""
        self._checking = True
        try:
            keeper.check(doubts.told(self._path))
        finally:
            self._checking, self._writing_since = False, time.monotonic()

    def _attach(self) -> None:
        try:
            self._keeper = Keeper(self._path, self._keep_full_days)
        except StoreDamaged:
            self._put_aside()
        except StorageError as error:
            self._failure = str(error)

    def _put_aside(self) -> bool:
        """The file is not whole: rename it, begin another and take over what can be read."""
        if len(self._aside) >= _MOST_SET_ASIDE:
            self._failure = "every new file is damaged too"
            return False
        try:
            if self._keeper:
                keeper, self._keeper = self._keeper, None
                keeper.close()
            aside = set_aside(self._path)
            self._aside.append(aside.name)
            self._keeper = Keeper(self._path, self._keep_full_days)
            self._keeper.salvage(aside)
        except StorageError as error:
            self._failure = str(error)
            return False
        return True
