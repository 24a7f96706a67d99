"""What every source has in common: a thread that connects, listens, and begins again by itself."""

import threading
from abc import ABC, abstractmethod

from monitor.sources.health import Health
from monitor.sources.inbox import Inbox, Item
from monitor.system_clock import Clock

FIRST_RETRY_S = 1.0
LONGEST_RETRY_S = 30.0
IDLE_S = 0.25
"""How long a quiet source waits before it looks whether it shall stop."""
GATHER_S = 0.012
"""After each read, so that one wake brings many frames; it is also the delay this adds at most."""


class SourceThread(ABC):
    """One source. Nothing that goes wrong in it ends the thread: it is told in `health.trouble`."""

    def __init__(
        self, name: str, kind: str, inbox: Inbox, clock: Clock, *, first_retry_s: float = FIRST_RETRY_S
    ) -> None:
        self.health = Health(name, kind, inbox.dropped)
        self._name = name
        self._inbox = inbox
        self._clock = clock
        self._first_retry_s = first_retry_s
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"source {name}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self, timeout_s: float = 2.0) -> None:
        """Ask the thread to end and wait for it. Safe to call twice, and before `start`."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    @abstractmethod
    def _listen(self) -> None:
        """Connect and pass on until `_stopping` is set; raise when the line is lost."""

    def _connected(self) -> None:
        self.health.up = True
        self.health.trouble = ""

    def _deliver(self, batch: list[Item], at_s: float) -> None:
        """Hand one read's items over."""
        if batch:
            self.health.heard += len(batch)
            self.health.heard_at_s = at_s
            self._inbox.put(self._name, batch)

    def _run(self) -> None:
        pause_s = self._first_retry_s
        while not self._stopping.is_set():
            try:
                self._listen()
            except Exception as error:  # A thread that died would be a silence nobody explains.
                self.health.trouble = told(error)
            if self.health.up:
                pause_s = self._first_retry_s
            self.health.up = False
            self._stopping.wait(pause_s)
            pause_s = min(2 * pause_s, LONGEST_RETRY_S)


def told(error: BaseException) -> str:
    """An error as one line for a person."""
    return " ".join(str(error).split()) or type(error).__name__
