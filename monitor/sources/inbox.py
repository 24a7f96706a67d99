"""The bounded queue between the sources' threads and the one pipeline thread."""

import threading
from collections import deque

from monitor.records import Frame, Message

Item = Frame | Message


class Inbox:
    """Batches from every source, each source with its own bound, counted in items.

    A live source never waits: when its share is full the oldest items go and are counted in
    `dropped`. With `wait` the putter waits instead, so nothing of a recording is ever lost.
    """

    def __init__(self, limit_per_source: int, *, wait: bool = False) -> None:
        self.dropped: dict[str, int] = {}
        self._limit = limit_per_source
        self._wait = wait
        self._shares: dict[str, _Share] = {}
        self._serial = 0
        self._closed = False
        lock = threading.Lock()
        self._filled = threading.Condition(lock)
        self._emptied = threading.Condition(lock)

    def put(self, source: str, batch: list[Item], *, wait: bool = False) -> None:
        """Add what one read brought. After `close` it is discarded, and nobody waits any more."""
        if not batch:
            return
        with self._filled:
            share = self._shares.get(source)
            if share is None:
                share = self._shares[source] = _Share()
                self.dropped.setdefault(source, 0)
            if wait or self._wait:
                while share.size and share.size + len(batch) > self._limit and not self._closed:
                    self._emptied.wait()
            if self._closed:
                return
            self._serial += 1
            share.batches.append((self._serial, batch))
            share.size += len(batch)
            if not (wait or self._wait):
                self.dropped[source] += share.shrink(self._limit)
            self._filled.notify()

    def take(self, timeout_s: float) -> list[list[Item]]:
        """Everything that waits, in the order it came; empty after `timeout_s` of nothing."""
        with self._filled:
            self._filled.wait_for(
                lambda: self._closed or any(s.size for s in self._shares.values()), timeout_s
            )
            waiting = [entry for share in self._shares.values() for entry in share.empty()]
            self._emptied.notify_all()
        waiting.sort(key=lambda entry: entry[0])
        return [batch for _, batch in waiting]

    def close(self) -> None:
        """Wake everybody who waits; what is still inside can be taken."""
        with self._filled:
            self._closed = True
            self._filled.notify_all()
            self._emptied.notify_all()

    def _worth_waking(self) -> bool:
        return self._closed or any(share.size for share in self._shares.values())

    @property
    def closed(self) -> bool:
        return self._closed


class _Share:
    """One source's batches with their serial numbers, the oldest first."""

    __slots__ = ("batches", "size")

    def __init__(self) -> None:
        self.batches: deque[tuple[int, list[Item]]] = deque()
        self.size = 0

    def shrink(self, limit: int) -> int:
        """Drop the oldest items until `limit` are left; how many went."""
        excess = max(0, self.size - limit)
        left = excess
        while left:
            serial, batch = self.batches.popleft()
            if len(batch) > left:
                self.batches.appendleft((serial, batch[left:]))
                break
            left -= len(batch)
        self.size -= excess
        return excess

    def empty(self) -> list[tuple[int, list[Item]]]:
        entries = list(self.batches)
        self.batches.clear()
        self.size = 0
        return entries
