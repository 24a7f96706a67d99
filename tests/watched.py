"""A watch fed by hand: the pipeline with a real store, and the frames and messages to feed it.

Bytes of CAN messages are packed by hand from the published field tables (as in tests/wire/golden.py).
"""

import json
import struct
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.clock import Interval
from monitor.pipeline.watch import Pipeline
from monitor.records import Frame, Message
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.storage.history import History
from monitor.storage.writer import Writer
from simulators.packing import DBC

SAMPLE = (Path(__file__).parents[1] / "deploy" / "settings.sample.toml").read_text("utf-8")
COACH = """
[[sources]]
kind = "can"
name = "coach"
interface = "socketcan"
channel = "can2"
speaks = ["rvc", "nmea2000"]
[[banks]]
name = "bow"
capacity_Ah = 100
feeds = [{ source = "coach", instance = 1 }]
"""
START_S = 1_790_812_800
"""2026-10-01 00:00 UTC, a whole minute."""
YEARS_54_S = 54 * 365.25 * 86400
ALL = Interval(0.0, 1e10)


def marram(changed: dict[str, str] | None = None) -> Settings:
    text = SAMPLE + COACH
    for old, new in (changed or {}).items():
        assert old in text
        text = text.replace(old, new)
    return parse_settings(text.replace("marram_bms.dbc", str(DBC)), Path())


class Watched:
    """A pipeline with a store, fed by hand."""

    def __init__(self, path: Path, settings: Settings | None = None, kernel_id: str = "first") -> None:
        self.path = path
        self.settings = settings or marram()
        self.writer = Writer(path, patient=True)
        self.writer.open()
        boot = self.writer.begin_boot(kernel_id)
        self.pipeline = Pipeline(self.settings, self.writer, boot, recorded=True)
        self.fed = 0

    def feed(self, items: Iterable[Frame | Message]) -> None:
        batch = list(items)
        self.fed += len(batch)
        self.pipeline.intake(batch)

    def end(self) -> None:
        self.pipeline.finish(None)
        self.writer.close()
        self.pipeline.router.count_implausible()

    def samples(self, channel: str) -> dict[int, float]:
        """Every stored reading by its second."""
        with closing(History(self.path)) as history:
            times, values = history.samples(channel, ALL)
        return {round(t): v for t, v in zip(times.tolist(), values.tolist(), strict=True)}

    def counted(self, what: str, source: str = "") -> int:
        counts = self.pipeline.router.counts
        return sum(getattr(c, what) for name, c in counts.items() if source in ("", name))

    def trouble(self, source: str) -> str:
        return self.pipeline.router.counts[source].trouble

    def count_Ah(self) -> float:
        """How far below full the house bank is counted to stand."""
        below: float = self.pipeline.energy.trackers["house"].state()["count"]["mean"][0]
        return below


@contextmanager
def watched_for_a_while() -> Iterator[Watched]:
    """For examples of hypothesis, which share one test's folder."""
    with tempfile.TemporaryDirectory() as folder:
        yield Watched(Path(folder) / "boat.db")


def battery(at_s: float, volts: float, amps: float, address: int = 0x23) -> Frame:
    """PGN 127508, battery status: instance, 10 mV, 100 mA, 10 mK, SID."""
    data = struct.pack("<BhhHB", 0, round(volts * 100), round(amps * 10), 0xFFFF, 0xFF)
    return Frame(at_s, "can0", 0x19F21400 | address, data)


def pump(at_s: float, running: bool) -> Frame:
    """PGN 127501, binary switch bank status: instance 0, indicator 1 in its two lowest bits."""
    return Frame(at_s, "can0", 0x0DF20D23, bytes((0, 0xFC | running)) + b"\xff" * 6)


def level(at_s: float, pct: float) -> Frame:
    """PGN 127505, fluid level: instance 0 and type 1 (fresh water), 0.004 %, capacity in 0.1 L."""
    return Frame(at_s, "can0", 0x19F21123, struct.pack("<BhIB", 0x10, round(pct * 250), 1650, 0xFF))


def heater(at_s: float, celsius: float) -> Message:
    payload = json.dumps({"water": {"temperature": celsius}, "element": "off"})
    return Message(at_s, "broker", "marram/heater", payload.encode())


def volts(second: int) -> float:
    return round(13.0 + second % 13 / 100, 2)


def good(seconds: int) -> list[Frame | Message]:
    """A valid stream, each reading on its whole second."""
    items: list[Frame | Message] = []
    for s in range(seconds):
        items += [battery(START_S + s, volts(s), -5.0), pump(START_S + s, s % 60 < 5)]
        items += [heater(START_S + s, 40 + s % 7), level(START_S + s, 60.0)] if s % 10 == 0 else []
    return items


def assert_the_good_is_kept(watched: Watched, seconds: int) -> None:
    stored = watched.samples("house voltage")
    assert {s: stored.get(START_S + s) for s in range(seconds)} == {s: volts(s) for s in range(seconds)}
    warm = watched.samples("water heater temperature")
    assert {s: warm.get(START_S + s) for s in range(0, seconds, 10)} == {
        s: 40 + s % 7 for s in range(0, seconds, 10)
    }
    assert watched.writer.troubles() == ()
