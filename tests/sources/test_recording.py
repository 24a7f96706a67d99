"""A recording as one more live source: at the pace it was made, in the watch's own time."""

import threading
from pathlib import Path

from monitor.records import Frame
from monitor.settings import RecordingSource
from monitor.sources.captures import write_candump
from monitor.sources.inbox import Inbox, Item
from monitor.sources.recording import RecordingThread


class Clock:
    """Stands still: what is due in the past is due now."""

    def __init__(self, at_s: float) -> None:
        self.at_s = at_s

    def elapsed_s(self) -> float:
        return self.at_s

    def wall_s(self) -> float:
        return 0.0


def test_times_are_the_watchs_own_and_spaced_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "bus.log"
    with path.open("w") as file:
        for second in (0.0, 0.01, 0.06, 0.16):
            write_candump(file, Frame(1_790_812_800.0 + second, "can0", 0x19F21423, b"\x00" * 8))
    inbox = Inbox(100)
    clock = Clock(5000.0)
    thread = RecordingThread(RecordingSource(kind="recording", name="old days", paths=[path]), inbox, clock)

    thread.start()
    items: list[Item] = []
    deadline = threading.Event()
    while len(items) < 4 and not deadline.wait(0.0):
        items += [item for batch in inbox.take(5.0) for item in batch]
    thread.stop()

    assert [round(item.at_s - 5000.0, 3) for item in items] == [0.0, 0.01, 0.06, 0.16]
    assert {item.source for item in items} == {"old days"}
    assert thread.health.heard == 4
