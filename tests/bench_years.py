"""A year drawn in the worker while twenty browsers look on: how late the watch's own beat comes meanwhile.

    python -m tests.bench_years

The beat stands for a pump's edge: it is due at its time, in the process that also answers the browsers, and
what it is late by is what an edge would be. The browsers are a process of their own.
"""

import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from monitor.clock import DAY_S
from monitor.storage.history import History
from monitor.worker import Worker
from tests.bench_rights import Beat
from tests.bench_store import START_S, a_year, channels
from tests.web.canned import CannedWatch, Server, canned

BROWSERS = 20
MOST_MS = 20
CHANNELS = 6


class Aboard(CannedWatch):
    """A canned watch that can hand work to the worker, as the daemon does."""

    path: Path
    worker: Worker

    def apart(self, function: Callable[..., Any], *args: Any) -> Any:
        return self.worker.run(function, self.path, *args)


def measure() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "year.db"
        a_year(path, CHANNELS)
        well = canned("well")
        watch = Aboard(well.snapshot, well.settings, History(path))
        watch.path, watch.worker = path, Worker()
        with Server(watch) as server:
            over = threading.Event()
            clock = threading.Thread(target=_tick, args=(watch, over))
            clock.start()
            look = [sys.executable, "-m", "tests.bench_years", server.url]
            with subprocess.Popen(look) as browsers:
                time.sleep(5)
                late = _late(lambda: time.sleep(15))
                yield f"a beat while {BROWSERS} browsers look on is late by {late} ms"
                took: list[float] = []
                late = _late(
                    lambda: took.extend(
                        _drawn(server.url, name, n) for n in range(4) for name in channels(CHANNELS)
                    )
                )
                yield (
                    f"a year drawn in the worker meanwhile: {statistics.median(took):.2f} s to its points,"
                    f" worst {max(took):.2f}; the beat is late by {late} ms (at most {MOST_MS})"
                )
                browsers.kill()
            over.set()
            clock.join()
        watch.worker.close()


def _late(do: Callable[[], object]) -> str:
    beat = Beat()
    beat.start()
    do()
    return beat.over()


def _drawn(url: str, channel: str, hours: int) -> float:
    """A year up to some hours before its end: what was read before is not kept of it."""
    start_s = START_S - 3600 * hours
    began = time.perf_counter()
    query = urllib.parse.urlencode({"channel": channel, "from": start_s, "to": start_s + int(365 * DAY_S)})
    with urllib.request.urlopen(f"{url}/history/data?{query}") as answer:
        answer.read()
    return time.perf_counter() - began


def _tick(watch: CannedWatch, over: threading.Event) -> None:
    while not over.wait(1.0):
        watch.tick()


def _look(url: str) -> None:
    """As a browser with Ahead open: the stream held, the page fetched anew each second."""
    fragment = urllib.request.Request(url, headers={"HX-Request": "true"})
    with urllib.request.urlopen(f"{url}/live"):
        while True:
            urllib.request.urlopen(fragment).read()
            time.sleep(1.0)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        for _ in range(BROWSERS):
            threading.Thread(target=_look, args=(sys.argv[1],), daemon=True).start()
            time.sleep(1.0 / BROWSERS)
        threading.Event().wait()
    else:
        for figure in measure():
            print(figure, flush=True)
