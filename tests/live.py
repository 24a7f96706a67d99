"""A daemon under test: its boat, a clock that can skip ahead, and what it says at this moment."""

import contextlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from monitor.clock import Interval
from monitor.daemon import Daemon
from monitor.errors import StorageError
from monitor.records import Command, Reading, SourceHealth
from monitor.settings_file import parse_settings
from tests.watched import START_S

ALL = Interval(0.0, 1e10)
BOAT = """
[boat]
name = "Marram"
time_zone = "Europe/Madrid"
[store]
path = "boat.db"
[[banks]]
name = "house"
capacity_Ah = 460
feeds = [{ source = "backbone", instance = 0 }]
[[pumps]]
name = "pressure pump"
feeds = [{ source = "backbone", instance = 0, indicator = 1 }]
[[sources]]
kind = "can"
name = "backbone"
"""
VIRTUAL = 'interface = "virtual"\nchannel = "{}"\n'
BROKER = """
[[sources]]
kind = "mqtt"
name = "broker"
port = {}
status_topic = "watch/status"
[[heaters]]
name = "calorifier"
volume_L = 40
feeds = [
  {{ source = "broker", topic = "heater", pointer = "/water", quantity = "temperature" }},
  {{ source = "broker", topic = "heater/old", quantity = "on" }},
]
"""


class SkippingClock:
    """Real time, which a test can make skip ahead. Wall time and elapsed time go together."""

    def __init__(self, at_s: float = 3600.0) -> None:
        self._offset_s = at_s - time.monotonic()
        self.began_utc_s = START_S

    def skip(self, seconds: float) -> None:
        self._offset_s += seconds

    def elapsed_s(self) -> float:
        return time.monotonic() + self._offset_s

    def wall_s(self) -> float:
        return self.began_utc_s + self.elapsed_s()


class Watch:
    """A daemon under test."""

    def __init__(self, daemon: Daemon, clock: SkippingClock) -> None:
        self.daemon, self.clock = daemon, clock

    def reading(self, channel: str) -> float | None:
        found: Reading | None = self.daemon.latest().values.get(channel)
        return None if found is None else found.value

    def source(self, name: str) -> SourceHealth:
        return next(s for s in self.daemon.latest().sources if s.name == name)

    def up(self, name: str) -> bool:
        return any(s.name == name and s.up for s in self.daemon.latest().sources)

    def troubles(self) -> dict[str, Any]:
        return {reason.id: reason.facts for reason in self.daemon.latest().troubles}

    def told(self, name: str, subject: str) -> float | None:
        estimate = self.daemon.latest().estimates.get((name, subject))
        return None if estimate is None else estimate.value

    def kept(self, channel: str) -> list[float]:
        """The channel's values on the card, from a boot whose place in time is known."""
        with contextlib.suppress(StorageError):  # There may be none yet.
            values: list[float] = self.daemon.history().samples(channel, ALL)[1].tolist()
            return values
        return []

    def told_the_time(self) -> None:
        self.daemon.submit(Command("clock", "boat", {"utc_s": self.clock.wall_s()}))

    def next_minute(self) -> None:
        self.clock.skip(61.0)


@contextmanager
def watching(
    folder: Path, source: str, *, clock: SkippingClock | None = None, boot: str = "boot", past: bool = False
) -> Iterator[Watch]:
    clock = clock or SkippingClock()
    daemon = Daemon(parse_settings(BOAT + source, folder), clock, boot, past=past)
    daemon.start()
    try:
        yield Watch(daemon, clock)
    finally:
        daemon.stop()
