"""`ebbwatch simulate`: a simulated boat into captures, settings and the truth about her."""

import json
import shutil
import time
from pathlib import Path

from rich.progress import Progress

from monitor.clock import DAY_S
from monitor.errors import SettingsError
from monitor.records import Frame
from monitor.sources.captures import write_candump, write_message
from simulators.packing import DBC
from simulators.scenarios import SCENARIOS
from simulators.voyage import Voyage

BEGINS_UTC_S = 1_790_812_800.0
"""2026-10-01 00:00 UTC: the same start each time, so that a seed gives the same files."""


def simulate_into(scenario: str, days: float, seed: int, out: Path) -> None:
    """Write settings.toml, bus.log, mqtt.jsonl and truth.jsonl into `out`.

    Raises SettingsError naming the scenarios there are where this is none of them.
    """
    if scenario not in SCENARIOS:
        known = ", ".join(f"{name} ({row.title})" for name, row in SCENARIOS.items())
        raise SettingsError([f"SCENARIO: {scenario!r} is unknown; there are: {known}"])
    print(SCENARIOS[scenario].title)
    voyage = Voyage(scenario, seed, BEGINS_UTC_S, days)
    out.mkdir(parents=True, exist_ok=True)
    (out / "settings.toml").write_text(voyage.settings_text(), "utf-8")
    shutil.copy(DBC, out / DBC.name)
    began = time.monotonic()
    with (
        (out / "bus.log").open("w", encoding="ascii") as bus,
        (out / "mqtt.jsonl").open("w", encoding="utf-8") as broker,
        Progress() as progress,
    ):
        task = progress.add_task(f"{scenario}, {days:g} days", total=days * DAY_S)
        for n, item in enumerate(voyage):
            if isinstance(item, Frame):
                write_candump(bus, item)
            else:
                write_message(broker, item)
            if n % 20_000 == 0:
                progress.update(task, completed=item.at_s - BEGINS_UTC_S)
        progress.update(task, completed=days * DAY_S)
    with (out / "truth.jsonl").open("w", encoding="utf-8") as truth:
        for line in voyage.truth():
            truth.write(json.dumps(line) + "\n")
    print(f"{out}: {days:g} days of {scenario} in {time.monotonic() - began:.1f} s")
