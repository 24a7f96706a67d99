"""Nights of the independent generator as the watch would have stored them."""

from array import array
from collections.abc import Iterator, Sequence
from pathlib import Path

from monitor.clock import MINUTE_S, Anchor
from monitor.records import Column, Event, EventKind, Minute
from monitor.storage.writer import Writer
from tests.estimation.loads.nights import Night

TEXT = """
[boat]
name = "Marram"
[[banks]]
name = "house"
capacity_Ah = 460
"""


def minutes(night: Night, boot: int, begins_s: float) -> Iterator[Minute]:
    """What the watch stores of a night: readings, and net power by the minute."""
    heard = night.heard
    at_s = heard.utc_s - begins_s
    for index in range(int(at_s[0] // MINUTE_S), int(at_s[-1] // MINUTE_S) + 1):
        inside = (at_s >= index * MINUTE_S) & (at_s < (index + 1) * MINUTE_S)
        if not inside.any():
            continue
        net_W = float((heard.amps[inside] * heard.volts[inside]).mean())
        ends = array("d", [(index + 1) * MINUTE_S - 1.0])
        columns = {
            "house current": Column(array("d", at_s[inside]), array("d", heard.amps[inside])),
            "house voltage": Column(array("d", at_s[inside]), array("d", heard.volts[inside])),
            "house net power": Column(ends, array("d", [net_W])),
            "house made power": Column(ends, array("d", [0.0])),
        }
        yield Minute(boot, index, columns, {})


def store(path: Path, nights: Sequence[Night]) -> None:
    """Write them as one boot, each with its event."""
    writer = Writer(path)
    writer.open()
    boot = writer.begin_boot("first")
    begins_s = nights[0].start_s
    writer.anchor(boot, Anchor(0.0, begins_s, "a test", 0.1))
    for night in nights:
        for minute in minutes(night, boot, begins_s):
            writer.minute(minute)
        start_s, end_s = (edge - begins_s for edge in night.during)
        writer.event(Event(EventKind.NIGHT, "boat", boot, start_s, end_s, {}))
    assert writer.flush(60)
    writer.close()
