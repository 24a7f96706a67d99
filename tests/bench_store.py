"""What the store costs: bytes written, bytes at rest, time to draw, time to write, beside a row a sample.

    python -m tests.bench_store

The channels are noisy ones, as instruments are: currents with 0.06 and 0.25 A of noise under loads
that come and go (0.1 A steps), voltages with 0.01 V, tank levels with 0.15 %, temperatures with
0.03 °C (0.1 °C steps), all at 1 Hz with 20 ms of jitter. Bytes written are what the writing process
handed to the kernel (wchar of /proc/self/io); what it dirtied of the page cache (write_bytes, whole
4 KiB pages, what a card would see if each commit went out alone) is printed beside it.
"""

import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from array import array
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Anchor, Interval
from monitor.records import Column, Event, EventKind, Minute
from monitor.storage.codec import Floats
from monitor.storage.history import History
from monitor.storage.writer import Writer

START_S = 1_767_225_600
"""2026-01-01 00:00 UTC."""
_LOADS_S = (900, 2700)


def channels(count: int) -> list[str]:
    kinds = ("bank {} current", "motor {} current", "bank {} voltage", "tank {} level", "box {} temperature")
    return [kinds[at % 5].format(at // 5) for at in range(count)]


def an_hour(name: str, start_s: int, rng: np.random.Generator) -> Floats:
    """A channel's hour at 1 Hz."""
    when = start_s + np.arange(HOUR_S)
    loads = np.zeros(HOUR_S)
    for first in np.cumsum(rng.integers(*_LOADS_S, 4)):
        loads[first : first + rng.integers(300, 1200)] -= rng.uniform(1.5, 6.0)
    slow = np.sin(when * (2 * np.pi / DAY_S))
    course, noise = {
        "bank current": (-1.5 + 8 * slow + loads, 0.25),
        "motor current": (loads / 2, 0.06),
        "bank voltage": (13.2 + 0.15 * slow + 0.01 * loads, 0.01),
        "tank level": (60 - (when % DAY_S) * (20 / DAY_S), 0.15),
        "box temperature": (5 + 1.5 * np.sin(when / 400), 0.03),
    }[f"{name.split()[0]} {name.split()[-1]}"]
    values: Floats = course + rng.normal(0, noise, HOUR_S)
    return values


def an_hour_of_minutes(boot: int, start_s: int, names: list[str], rng: np.random.Generator) -> list[Minute]:
    values = [an_hour(name, start_s, rng) for name in names]
    times = [start_s + np.arange(HOUR_S) + 0.3 + rng.normal(0, 0.02, HOUR_S) for _ in names]
    state = {"charge": {"mean": 4010.25, "sd": 88.1, "P": rng.normal(size=16).tolist()}, "seen": start_s}
    found = []
    for minute in range(60):
        part = slice(minute * 60, minute * 60 + 60)
        columns = {
            name: Column(array("d", times[at][part]), array("d", values[at][part]))
            for at, name in enumerate(names)
        }
        found.append(Minute(boot, start_s // MINUTE_S + minute, columns, {**state, "minute": minute}))
    return found


def _io() -> dict[str, int]:
    lines = Path("/proc/self/io").read_text().splitlines()
    return {key: int(value) for key, value in (line.split(": ") for line in lines)}


def _write_live(path: Path, count: int, hours: int) -> dict[str, float]:
    """A live watch's writing: each minute on the card before the next is given."""
    rng, names = np.random.default_rng(7), channels(count)
    writer = Writer(path)
    writer.open()
    boot = writer.begin_boot("bench")
    writer.anchor(boot, Anchor(START_S, START_S, "bench", 0.1))
    writer.flush(60)
    before = _io()
    for hour in range(hours):
        for minute in an_hour_of_minutes(boot, START_S + hour * HOUR_S, names, rng):
            writer.minute(minute)
            assert writer.flush(60)
    writer.close()
    after = _io()
    status = Path("/proc/self/status").read_text()
    peak_kB = int(status.partition("VmHWM:")[2].split()[0])
    told = {key: after[key] - before[key] for key in ("wchar", "write_bytes")}
    return {**told, "rest": path.stat().st_size, "samples": hours * HOUR_S * count, "peak_kB": peak_kB}


def _write_rows(path: Path, count: int, seconds: int) -> dict[str, float]:
    """The plain way: a row a sample, by (channel, time), committed each second."""
    rng, names = np.random.default_rng(7), channels(count)
    values = np.array([an_hour(name, START_S, rng) for name in names])
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute(
        "CREATE TABLE samples (channel INTEGER, at_s INTEGER, value REAL, PRIMARY KEY (channel, at_s))"
    )
    before = _io()
    for second in range(seconds):
        connection.execute("BEGIN")
        rows = ((at, START_S + second, values[at, second % HOUR_S].item()) for at in range(count))
        connection.executemany("INSERT INTO samples VALUES (?, ?, ?)", rows)
        connection.execute("COMMIT")
    connection.close()
    after = _io()
    told = {key: after[key] - before[key] for key in ("wchar", "write_bytes")}
    return {**told, "rest": path.stat().st_size, "samples": seconds * count}


def _apart(what: str, *arguments: object) -> dict[str, float]:
    """Run one of the two above in a process of its own, so that its bytes are its own."""
    command = [sys.executable, "-m", "tests.bench_store", what, *map(str, arguments)]
    told: dict[str, float] = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    return told


def _written(folder: Path) -> Iterator[str]:
    per_day: dict[int, float] = {}
    for count, hours, most_MB in ((10, 24, 10), (100, 6, 100)):
        told = _apart("live", folder / f"live{count}.db", count, hours)
        day = 24 / hours / 1e6
        per_day[count] = told["wchar"] * 24 / hours
        yield (
            f"{count} channels at 1 Hz for a day{'' if hours == 24 else f' ({hours} h scaled)'}:"
            f" {told['wchar'] * day:.1f} MB written (at most {most_MB}),"
            f" {told['write_bytes'] * day:.1f} MB as 4 KiB pages; at rest after {hours} h"
            f" {told['rest'] / told['samples']:.3f} B a sample with everything in it (at most 0.6);"
            f" peak resident {told['peak_kB'] / 1024:.0f} MiB"
        )
    seconds = 900
    rows = _apart("rows", folder / "rows.db", 10, seconds)
    day = rows["wchar"] * DAY_S / seconds
    yield (
        f"a row a sample, 10 channels, {seconds} s scaled to a day: {day / 1e6:,.0f} MB written,"
        f" {rows['rest'] / rows['samples']:.1f} B a sample at rest: {day / per_day[10]:,.0f} times as much"
    )


def _cpu() -> str:
    rng, names = np.random.default_rng(7), channels(30)
    hours = [an_hour_of_minutes(1, START_S + hour * HOUR_S, names, rng) for hour in range(4)]
    with tempfile.TemporaryDirectory() as folder:
        writer = Writer(Path(folder) / "cpu.db", patient=True)
        writer.open()
        writer.begin_boot("bench")
        before_s = time.process_time()
        for hour in hours:
            for minute in hour:
                writer.minute(minute)
        writer.flush(60)
        spent_s = time.process_time() - before_s
        writer.close()
    spent_ms = spent_s / (len(hours) * 60) * 1e3
    return f"CPU for a minute of 30 channels, its share of the hour's packing in it: {spent_ms:.2f} ms"


def a_year(path: Path, count: int = 30) -> None:
    """One day through the writer, then its hours copied, in the order of time, to a year."""
    rng, names = np.random.default_rng(7), channels(count)
    writer = Writer(path, patient=True)
    writer.open()
    boot = writer.begin_boot("bench")
    writer.anchor(boot, Anchor(START_S, START_S, "bench", 0.1))
    for hour in range(25):
        for minute in an_hour_of_minutes(boot, START_S + hour * HOUR_S, names, rng):
            writer.minute(minute)
    writer.close()
    first = START_S // HOUR_S
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous = OFF")
    for day in range(1, 365):
        connection.execute("BEGIN")
        for table, rest in (
            ("chunks", "channel, block"),
            ("minutes", "channel, block"),
            ("hours", "n, low, high, integral, covered_s, first, last"),
        ):
            key = "channel, boot, hour + ?" if table == "hours" else "boot, hour + ?"
            connection.execute(
                f"INSERT INTO {table} SELECT {key}, {rest} FROM {table} WHERE hour >= ? AND hour < ?"
                " ORDER BY hour, channel",
                (day * 24, first, first + 24),
            )
        connection.execute("COMMIT")
    connection.close()


def _plots(folder: Path) -> Iterator[str]:
    path = folder / "year.db"
    a_year(path)
    history = History(path)
    names = channels(30)
    size = path.stat().st_size
    yield (
        f"a year of 30 channels at 1 Hz, every sample kept: {size / 1e6:,.0f} MB,"
        f" {size / (365 * DAY_S * 30):.3f} B a sample at rest (at most 0.6)"
    )
    for what, span_s, most_ms in (("day", DAY_S, 50), ("week", 7 * DAY_S, 100), ("year", 365 * DAY_S, 200)):
        took = []
        for at, name in enumerate(names):
            start_s = START_S + (0 if what == "year" else (at * 11 + 5) * DAY_S)
            before = time.perf_counter()
            found = history.series(name, Interval(start_s, start_s + span_s))
            took.append((time.perf_counter() - before) * 1e3)
        yield (
            f"a {what}'s plot out of it: {np.median(took):.1f} ms, slowest of 30 {max(took):.1f} ms"
            f" (at most {most_ms}); {len(found.utc_s)} points by {found.level}"
        )
    history.close()


def _events(folder: Path) -> Iterator[str]:
    path = folder / "events.db"
    writer = Writer(path, patient=True)
    writer.open()
    boot = writer.begin_boot("bench")
    writer.anchor(boot, Anchor(START_S, START_S, "bench", 0.1))
    for n in range(365 * 100):
        start_s = START_S + n * DAY_S / 100
        writer.event(Event(EventKind.PUMP_RUN, "fresh water", boot, start_s, start_s + 20, {"litres": 2.5}))
        if n % 100 == 0:
            writer.event(Event(EventKind.NIGHT, "boat", boot, start_s, start_s + DAY_S / 2, {"used_Wh": 800}))
            assert writer.flush(60)
    writer.close()
    history = History(path)
    took = []
    for day in range(5, 365, 12):
        before = time.perf_counter()
        found = history.events(
            EventKind.PUMP_RUN, Interval(START_S + (day - 1) * DAY_S, START_S + day * DAY_S)
        )
        took.append((time.perf_counter() - before) * 1e3)
    history.close()
    yield (
        f"{len(found)} pump runs of a day out of a year of them: {np.median(took):.1f} ms,"
        f" slowest of {len(took)} {max(took):.1f} ms (at most 20)"
    )


def measure() -> list[str]:
    """One line a figure."""
    with tempfile.TemporaryDirectory() as folder:
        return [*_written(Path(folder)), _cpu(), *_plots(Path(folder)), *_events(Path(folder))]


def main(arguments: list[str]) -> None:
    match arguments:
        case ["live", path, count, hours]:
            print(json.dumps(_write_live(Path(path), int(count), int(hours))))
        case ["rows", path, count, seconds]:
            print(json.dumps(_write_rows(Path(path), int(count), int(seconds))))
        case _:
            print("\n".join(measure()))


if __name__ == "__main__":
    main(sys.argv[1:])
