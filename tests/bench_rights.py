"""What signing in costs: one check, and how late a beat comes while ten thousand are guessed."""

import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from monitor.rights.password import new_password, write_password
from tests.web.canned import canned
from tests.web.flood import flood
from web.app import create_app
from web.rights import Rights

BEAT_S = 0.2
"""As the watch listens and answers (monitor.daemon)."""


class Beat(threading.Thread):
    """Wakes at every beat and notes how late it was."""

    def __init__(self) -> None:
        super().__init__()
        self._over = threading.Event()
        self.late_s: list[float] = []

    def run(self) -> None:
        due = time.perf_counter() + BEAT_S
        while not self._over.wait(max(0.0, due - time.perf_counter())):
            self.late_s.append(time.perf_counter() - due)
            due += BEAT_S

    def over(self) -> str:
        self._over.set()
        self.join()
        late = sorted(self.late_s)
        return f"{1e3 * statistics.median(late):.1f}, worst {1e3 * late[-1]:.1f}"


def measure() -> Iterator[str]:
    password = new_password("gaff ketch, wet oilskins")
    took = []
    for _ in range(20):
        began = time.perf_counter()
        password.is_("another")
        took.append(time.perf_counter() - began)
    yield f"one check of a password: {1e3 * statistics.median(took):.0f} ms, worst {1e3 * max(took):.0f}"
    yield f"its memory: {_memory_MiB():.0f} MiB (19 by its parameters), given back"

    alone = Beat()
    alone.start()
    time.sleep(10)
    yield f"a beat of {BEAT_S:g} s with nobody asking is late by {alone.over()} ms"
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "boat.db.password"
        write_password(file, password)
        app = create_app(canned("well"), rights=Rights(file, needed=True))
        beat = Beat()
        beat.start()
        began = time.perf_counter()
        statuses = flood(app, 10_000, 50, lambda: None)
        seconds = time.perf_counter() - began
        yield (
            f"while 10,000 wrong passwords come in {seconds:.0f} s ({statuses[403]} hashed,"
            f" {statuses[429]} turned away): {beat.over()} ms"
        )
    yield f"turned away: {1e3 * seconds / 10_000:.2f} ms each"


def _memory_MiB() -> float:
    """By how much a check raises the resident size of a process: VmHWM, begun anew (proc(5), clear_refs)."""
    program = (
        "import re; from monitor.rights import password;"
        "size = lambda name: int(re.search(name + r':\\s+(\\d+)', open('/proc/self/status').read())[1]);"
        "kept = password.new_password('gaff ketch'); open('/proc/self/clear_refs', 'w').write('5');"
        "before = size('VmRSS'); kept.is_('another'); print((size('VmHWM') - before) / 1024)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return float(done.stdout)


if __name__ == "__main__":
    for figure in measure():
        print(figure, flush=True)
