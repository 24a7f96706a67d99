"""A recording played into the watch as one more source, as fast as the watch takes it."""

from itertools import islice

from monitor.settings import RecordingSource
from monitor.sources.captures import Skipped, merge
from monitor.sources.inbox import Inbox
from monitor.sources.thread import SourceThread
from monitor.system_clock import Clock

_AT_ONCE = 500


class RecordingThread(SourceThread):
    """Reads its files once, waits when the inbox is full, and keeps the recording's own times."""

    def __init__(self, settings: RecordingSource, inbox: Inbox, clock: Clock) -> None:
        super().__init__(settings.name, "recording", inbox, clock)
        self._paths = settings.paths
        self.skipped = Skipped()

    def _listen(self) -> None:
        self._connected()
        items = merge(self._paths, self.skipped)
        try:
            while not self._stopping.is_set() and (batch := list(islice(items, _AT_ONCE))):
                self.health.heard += len(batch)
                self.health.heard_at_s = self._clock.elapsed_s()
                self._inbox.put(self._name, batch, wait=True)
                self._count()
        finally:
            self._count()
            self._stopping.set()  # It is read once: begun again, it would be heard twice.

    def _count(self) -> None:
        self.health.unreadable = self.skipped.lines
        self.health.error_frames = self.skipped.error_frames
        self.health.remote_frames = self.skipped.remote_frames
