"""kill -9 at fifty moments: the file is whole, and what was said to be on the card is on it."""

import multiprocessing
import random
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from monitor.clock import Interval
from monitor.records import EventKind
from monitor.storage.history import History
from tests.storage.ingest import APART_S, CHANNELS, ingest, said
from tests.storage.minutes import NOON_S

LIVES = 50
LONGEST_S = 0.4


def live_and_be_killed(path: Path, life: int, span_s: float) -> dict[str, list[int]]:
    """What it told until it was killed, some time after its first minute."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.storage.ingest"])
    heard, telling = context.Pipe(duplex=False)
    process = context.Process(target=ingest, args=(path, life, telling))
    process.start()
    telling.close()
    told: dict[str, list[int]] = {"boot": [], "minute": [], "alert": []}
    until_s = time.monotonic() + 30
    while (left_s := until_s - time.monotonic()) > 0 and heard.poll(left_s):
        what, number = heard.recv()
        if what == "minute" and not told[what]:
            until_s = time.monotonic() + span_s
        told[what].append(number)
    process.kill()
    process.join()
    process.close()
    with closing(heard):
        while heard.poll():
            try:
                what, number = heard.recv()
            except EOFError:
                break
            told[what].append(number)
    return told


def test_nothing_acknowledged_is_lost_and_the_file_stays_whole(tmp_path: Path) -> None:
    path, moments = tmp_path / "boat.db", random.Random(20260101)
    minutes = alerts = 0
    for life in range(LIVES):
        told = live_and_be_killed(path, life, moments.uniform(0.0, LONGEST_S))
        (boot,) = told["boot"]
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        with closing(History(path)) as history:
            start_s = NOON_S + life * APART_S
            lived = Interval(start_s, start_s + APART_S / 2)
            whole = [at for index in told["minute"] for at in range(index * 60, index * 60 + 60)]
            for channel in CHANNELS:
                utc_s, values = history.samples(channel, lived)
                times = [round(at) for at in (utc_s - start_s).tolist()]
                # All that was acknowledged, and at most the one minute that was under way.
                assert times[: len(whole)] == whole
                assert len(times) - len(whole) in (0, 60)
                assert values.tolist() == [said(at) for at in times]
            runs = {dated.event.start_s for dated in history.events(EventKind.PUMP_RUN, lived)}
            assert runs >= {index * 60.0 for index in told["minute"]}
            kept = {round(change.at_s / 60) for change, _ in history.alert_changes() if change.boot == boot}
            assert kept >= set(told["alert"])
            assert history.recall()["index"] >= told["minute"][-1]
        minutes += len(told["minute"])
        alerts += len(told["alert"])
    # The lives were long enough to mean something: hours ended in them, and alerts were told.
    assert minutes > 9 * LIVES
    assert alerts > LIVES
