"""What it costs to explain a stored night, and to learn the loads of a year of them anew.

    python -m tests.bench_nights

Nights of the independent generator (sixteen hours of current and voltage at 1 Hz), stored as the watch does.
"""

import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np

from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import name_loads
from monitor.pipeline.account import account
from monitor.pipeline.explain import house_trace
from monitor.settings_file import parse_settings
from monitor.storage.history import History
from tests.estimation.loads.nights import lives
from tests.pipeline.stored_nights import TEXT, store

NIGHTS = 12
YEAR = 365


def measure() -> Iterator[str]:
    """One line a figure."""
    boat, settings = lives(31), parse_settings(TEXT, Path())
    nights = [boat.night(n) for n in range(NIGHTS)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ebbwatch.db"
        store(path, nights)
        with closing(History(path)) as history:
            book, began = LoadBook(), time.perf_counter()
            for night in nights:
                trace = house_trace(history, settings, night.during)
                book.learn(trace, night.during)
                name_loads(trace, book.kinds, night.during)
            learned_s = (time.perf_counter() - began) / NIGHTS
            took = []
            for night in nights:
                before = time.perf_counter()
                assert account(history, settings, book.kinds, night.during, ()) is not None
                took.append((time.perf_counter() - before) * 1e3)
    yield (
        f"A stored night explained with {len(book.kinds)} loads: {np.median(took):.0f} ms,"
        f" slowest of {NIGHTS} {max(took):.0f} ms (at most 300)"
    )
    yield f"A year of nights learned anew: {learned_s * YEAR:.0f} s, from {NIGHTS} (at most 120)"


if __name__ == "__main__":
    print("\n".join(measure()))
