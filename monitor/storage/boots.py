"""Boots and their places in UTC, as the file has them."""

import sqlite3
import threading

import numpy as np

from monitor.clock import Anchor, Boot
from monitor.storage.codec import Floats


class Places:
    """The boots of one file. Anchors are only ever added, so each is read once."""

    def __init__(self) -> None:
        self._boots: dict[int, Boot] = {}
        self._seen = 0
        self._lock = threading.Lock()

    def read(self, connection: sqlite3.Connection) -> dict[int, Boot]:
        """All boots by number, oldest first."""
        with self._lock:
            for (number,) in connection.execute("SELECT number FROM boots"):
                self._boots.setdefault(number, Boot(number))
            rows = connection.execute(
                "SELECT rowid, boot, elapsed_s, utc_s, source, sigma_s FROM anchors WHERE rowid > ?"
                " ORDER BY rowid",
                (self._seen,),
            )
            for self._seen, number, *anchor in rows:
                boot = self._boots.get(number, Boot(number))
                self._boots[number] = boot.with_anchor(Anchor(*anchor))
            return dict(sorted(self._boots.items()))


def utc_of(boot: Boot, elapsed_s: Floats) -> Floats:
    """`Boot.utc_s` of a placed boot for many times at once."""
    at = np.array([anchor.elapsed_s for anchor in boot.anchors])
    ahead = np.array([anchor.utc_s for anchor in boot.anchors]) - at
    utc_s: Floats = elapsed_s + np.interp(elapsed_s, at, ahead)
    return utc_s
