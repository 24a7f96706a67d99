"""Folders with a boat in them: the sample's settings beside their DBC file, captures made to order."""

import shutil
import struct
from collections.abc import Iterable
from pathlib import Path

from monitor.records import Frame
from monitor.sources.captures import write_candump, write_message
from simulators.packing import DBC
from simulators.voyage import Voyage

SAMPLE = Path(__file__).parents[2] / "deploy" / "settings.sample.toml"
START_UTC_S = 1_790_812_800
"""2026-10-01 00:00 UTC."""


def sample_in(folder: Path) -> Path:
    """The sample settings and the file they refer to."""
    shutil.copy(DBC, folder / DBC.name)
    return Path(shutil.copy(SAMPLE, folder / "boat.toml"))


def battery_line(utc_s: float, volts: float | None, amps: float | None) -> str:
    """A candump line of NMEA 2000 PGN 127508 (battery status) from address 0x23, packed by hand.

    Instance, voltage in 10 mV, current in 100 mA, temperature in 10 mK, SID; 0x7FFF and 0xFFFF are
    "not available" (the published field tables, as in tests/wire/golden.py).
    """
    raw_V = 0x7FFF if volts is None else round(volts * 100)
    raw_A = 0x7FFF if amps is None else round(amps * 10)
    data = struct.pack("<BhhHB", 0, raw_V, raw_A, 0xFFFF, 0xFF)
    return f"({utc_s:.6f}) can0 19F21423#{data.hex().upper()}\n"


def write_bus(path: Path, lines: Iterable[str]) -> Path:
    path.write_text("".join(lines), "ascii")
    return path


def write_voyage(
    folder: Path, scenario: str, days: float, every_s: float, start_utc_s: float = START_UTC_S
) -> tuple[Path, Path, Path]:
    """Settings, bus.log and mqtt.jsonl of a simulated voyage told at a slow beat."""
    voyage = Voyage(scenario, 1, start_utc_s, days, every_s)
    settings, bus, broker = (folder / name for name in ("settings.toml", "bus.log", "mqtt.jsonl"))
    settings.write_text(voyage.settings_text(dbc=str(DBC)), "utf-8")
    with bus.open("w", encoding="ascii") as frames, broker.open("w", encoding="utf-8") as messages:
        for item in voyage:
            if isinstance(item, Frame):
                write_candump(frames, item)
            else:
                write_message(messages, item)
    return settings, bus, broker
