"""The watch that is killed: it says what is on the card, and only what is."""

from multiprocessing.connection import Connection
from pathlib import Path

from monitor.clock import Anchor
from monitor.records import Event, EventKind
from monitor.storage import schema  # noqa: F401  (loaded before the fork, so that each start is quick)
from monitor.storage.writer import Writer
from tests.storage.minutes import NOON_S, change, minute

APART_S = 10_000_000.0
CHANNELS = ("house current", "house voltage")


def said(at_s: float) -> float:
    return (at_s * 7919 % 211 - 100) / 10


def ingest(path: Path, life: int, told: Connection) -> None:
    """Every seventh minute, so that hours end often, each with an event and now and then an alert."""
    writer = Writer(path)
    writer.open()
    boot = writer.begin_boot(f"life {life}")
    writer.anchor(boot, Anchor(0.0, NOON_S + life * APART_S, "a test", 0.1))
    if writer.flush(30):
        told.send(("boot", boot))
    index = 0
    while True:
        writer.minute(minute(boot, index, dict.fromkeys(CHANNELS, said), state={"index": index}))
        writer.event(Event(EventKind.PUMP_RUN, "fresh water", boot, index * 60.0, index * 60.0 + 5))
        if writer.flush(30):
            told.send(("minute", index))
        if index % 3 == 0 and writer.alerts([change(boot, index)], timeout_s=30):
            told.send(("alert", index))
        index += 7
