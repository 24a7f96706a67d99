"""A recording played into the watch as one more source, at the pace it was made.

Its first item is heard now and the others as long after it as they were then: elapsed time is the
watch's own. (The command `replay` is for recordings as fast as they go.)
"""

from monitor.records import Frame, Message
from monitor.settings import RecordingSource
from monitor.sources.captures import JUMP_S, Skipped, merge
from monitor.sources.inbox import Inbox, Item
from monitor.sources.thread import SourceThread
from monitor.system_clock import Clock

_TOGETHER_S = 0.05


class RecordingThread(SourceThread):
    """Reads its files once. A clock that was set while it was made is passed over."""

    def __init__(self, settings: RecordingSource, inbox: Inbox, clock: Clock) -> None:
        super().__init__(settings.name, "recording", inbox, clock)
        self._paths = settings.paths
        self.skipped = Skipped()

    def _listen(self) -> None:
        self._connected()
        batch: list[Item] = []
        shift_s: float | None = None
        latest_s = 0.0
        try:
            for item in merge(self._paths, self.skipped):
                if shift_s is None or item.at_s < latest_s - JUMP_S:
                    shift_s = (self._clock.elapsed_s() if not batch else batch[-1].at_s) - item.at_s
                latest_s = item.at_s
                due_s = item.at_s + shift_s
                if batch and due_s > batch[0].at_s + _TOGETHER_S:
                    if not self._put_when_due(batch):
                        return
                    batch = []
                batch.append(self._own(item, due_s))
            self._put_when_due(batch)
        finally:
            self._count()
            self._stopping.set()  # It is read once: begun again, it would be heard twice.

    def _put_when_due(self, batch: list[Item]) -> bool:
        """Wait until the batch's last item is due and hand it on; False where it is to stop."""
        early_s = batch[-1].at_s - self._clock.elapsed_s() if batch else 0.0
        if early_s > 0 and self._stopping.wait(early_s):
            return False
        self.health.heard += len(batch)
        self.health.heard_at_s = self._clock.elapsed_s()
        self._inbox.put(self._name, batch, wait=True)
        self._count()
        return not self._stopping.is_set()

    def _own(self, item: Frame | Message, at_s: float) -> Item:
        return item._replace(at_s=at_s, source=self._name)

    def _count(self) -> None:
        self.health.unreadable = self.skipped.lines
        self.health.error_frames = self.skipped.error_frames
        self.health.remote_frames = self.skipped.remote_frames
