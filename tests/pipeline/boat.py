"""Simulated voyages through the pipeline, for tests that look at what comes out."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.clock import Anchor
from monitor.pipeline.watch import Pipeline
from monitor.records import CALLS, AlertChange, Estimate, Event, Frame, Message, Minute, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from simulators.packing import DBC
from simulators.voyage import Voyage

START_UTC_S = 1_790_812_800.0
"""2026-10-01 00:00 UTC."""


@dataclass
class Shelf:
    """A store in memory: it keeps everything it is given, in order."""

    recalled: dict[str, Any] = field(default_factory=dict)
    recorded: bool = True
    minutes: list[Minute] = field(default_factory=list)
    happened: list[Event] = field(default_factory=list)
    changes: list[AlertChange] = field(default_factory=list)
    anchors: list[tuple[int, Anchor]] = field(default_factory=list)
    boots: list[str] = field(default_factory=list)

    def begin_boot(self, kernel_id: str) -> int:
        self.boots.append(kernel_id)
        return len(self.boots)

    def minute(self, minute: Minute) -> None:
        self.minutes.append(minute)

    def event(self, event: Event) -> None:
        self.happened.append(event)

    def anchor(self, boot: int, anchor: Anchor) -> None:
        self.anchors.append((boot, anchor))

    def remember(self, key: str, value: Any) -> None:
        self.recalled[key] = value

    def alerts(self, changes: Sequence[AlertChange], timeout_s: float = 1.0) -> bool:
        self.changes += changes
        return self.recorded

    def recall(self) -> dict[str, Any]:
        newest = dict(self.minutes[-1].state) if self.minutes else {}
        return self.recalled | newest

    def troubles(self) -> tuple[Reason, ...]:
        return ()

    def sounded(self) -> list[tuple[str, str]]:
        """Rule and subject of every alert above a caution, in the order they became active."""
        calls = [c for c in self.changes if c.state == "active" and c.what in CALLS and c.what != "escalated"]
        return [(c.rule, c.subject) for c in calls if c.severity != "caution"]


@dataclass
class Lived:
    """One voyage through one pipeline, with the truth beside it."""

    settings: Settings
    pipeline: Pipeline
    shelf: Shelf
    truth: list[dict[str, Any]]
    lines: list[tuple[float, list[Estimate]]]

    def states(self) -> dict[float, dict[str, Any]]:
        """The truth's ten-minute lines by UTC second."""
        return {
            round(datetime.fromisoformat(t["time"]).timestamp()): t for t in self.truth if "charge_pct" in t
        }

    def told(self, name: str, subject: str) -> dict[float, Estimate]:
        """Every ten minutes' estimate of that name, by UTC second."""
        return {
            round(utc_s): e
            for utc_s, found in self.lines
            for e in found
            if (e.name, e.subject) == (name, subject)
        }

    def when(self, event: str) -> float:
        """When an event of the truth first happened."""
        return next(
            datetime.fromisoformat(t["time"]).timestamp() for t in self.truth if t.get("event") == event
        )


def settings_of(voyage: Voyage) -> Settings:
    return parse_settings(voyage.settings_text(dbc=str(DBC)), Path())


def live(
    scenario: str,
    days: float,
    *,
    seed: int = 1,
    every_s: float = 5.0,
    change: Callable[[Frame | Message], Frame | Message | None] | None = None,
    trusted: bool = True,
    start_utc_s: float = START_UTC_S,
) -> Lived:
    """Let a scenario pass through a pipeline. `change` may alter an item, or drop it with None."""
    truth: list[dict[str, Any]] = []
    voyage = Voyage(scenario, seed, start_utc_s, days, every_s, on_truth=truth.append)
    settings, shelf = settings_of(voyage), Shelf()
    pipeline = Pipeline(settings, shelf, shelf.begin_boot("test"), recorded=True, trusted=trusted)
    lines: list[tuple[float, list[Estimate]]] = []
    pipeline.watch_estimates(600.0, lambda utc_s, found: lines.append((utc_s, found)))
    batch: list[Frame | Message] = []
    for item in voyage:
        altered = item if change is None else change(item)
        if altered is not None:
            batch.append(altered)
        if len(batch) >= 5000:
            pipeline.intake(batch)
            batch = []
    pipeline.intake(batch)
    pipeline.finish(None)
    return Lived(settings, pipeline, shelf, truth, lines)
