"""What the tests of sources share: waiting with an end, hearing, and a serial adapter to unplug."""

import os
import select
import threading
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.records import Frame, Message
from monitor.sources.inbox import Inbox
from monitor.sources.thread import SourceThread

LONG_S = 15.0
"""More than any healthy machine needs; a test that waits this long has failed."""


def eventually(check: Callable[[], bool], timeout_s: float = LONG_S) -> bool:
    """Whether `check` comes true in time."""
    never = threading.Event()
    end_s = time.monotonic() + timeout_s
    while not check():
        if time.monotonic() > end_s:
            return False
        never.wait(0.01)
    return True


def hear(inbox: Inbox, count: int, timeout_s: float = LONG_S) -> list[Frame | Message]:
    """The next items, at least `count` of them unless the time runs out."""
    items: list[Frame | Message] = []
    end_s = time.monotonic() + timeout_s
    while len(items) < count and time.monotonic() < end_s:
        for batch in inbox.take(0.05):
            items += batch
    return items


@contextmanager
def running(thread: SourceThread) -> Iterator[SourceThread]:
    thread.start()
    try:
        yield thread
    finally:
        thread.stop()


class Adapter:
    """The far end of a serial CAN adapter: a pseudo-terminal behind a path that can go and return.

    It answers each command with a carriage return, or with a bell where it `refuses` it.
    """

    def __init__(self, path: Path, refuses: str = "") -> None:
        self.path = path
        self.commands: list[str] = []
        self._refuses = refuses
        self.master = -1

    def __enter__(self) -> "Adapter":
        self.plug()
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()

    def plug(self) -> None:
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.path.symlink_to(os.ttyname(slave))
        self._unplugged, self._pull = os.pipe()
        self._thread = threading.Thread(target=self._answer, daemon=True)
        self._slave = slave
        self._thread.start()

    def unplug(self) -> None:
        if self.master < 0:
            return
        self.path.unlink()
        os.write(self._pull, b"x")
        self._thread.join()
        for handle in (self.master, self._slave, self._unplugged, self._pull):
            os.close(handle)
        self.master = -1

    @property
    def open(self) -> bool:
        """Whether the last command opened the bus."""
        return self.commands[-1:] in (["L"], ["O"])

    def say(self, text: str) -> None:
        data = text.encode("latin-1")
        while data:
            data = data[os.write(self.master, data) :]

    def _answer(self) -> None:
        heard = b""
        while True:
            ready = select.select([self.master, self._unplugged], [], [])[0]
            if self._unplugged in ready:
                return
            *commands, heard = (heard + os.read(self.master, 4096)).split(b"\r")
            for command in (c.decode() for c in commands if c):
                self.commands.append(command)
                os.write(self.master, b"\a" if command[0] in self._refuses else b"\r")
