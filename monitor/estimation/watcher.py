"""What a watcher of the boat is: it takes a minute at a time, and says what it makes of it.

A watcher is arithmetic: it is handed all it may know (`Heard`), keeps what it has learned as JSON values,
and answers with estimates and findings. The pipeline owns the list of them.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple, Protocol, runtime_checkable

import numpy as np

from monitor.estimation.readings import Floats, heard
from monitor.records import Column, Command, Estimate, Event, Finding, Mode, Reading, Reason

RUNNING_RPM = 300.0
"""An engine that turns faster runs; slower is a reading's noise. Common practice."""
LIVE_V = 50.0
"""A supply above this is live, however badly: what hurts and what nothing runs on. Common practice."""


class WaterHeard(NamedTuple):
    """What the water desk makes of the same minute."""

    events: tuple[Event, ...] = ()
    """Runs of pumps that are over (`EventKind.PUMP_RUN`, "cut" in its facts where its end is not known) and
    fills of tanks (`EventKind.FILL`), in order."""
    running_s: Mapping[str, float | None] = {}
    """By pump: how long the run under way has lasted; 0 at rest, None while its signal is unheard."""
    fallen_L: Mapping[str, float | None] = {}
    """By pump: how far its tanks have fallen since that run began."""
    verdicts: Mapping[str, tuple[str, Reason]] = {}
    """By pump: the leak judge's."""
    refill_s: Mapping[str, float] = {}
    """By pump: how long one refill takes, as promised or learned."""
    estimates: Mapping[tuple[str, str], Estimate] = {}
    """By (name, subject): tank_L, left_L, water_days, leak_L_per_h, tight_below_L_per_h."""


class Heard(NamedTuple):
    """One minute: what was heard in it, and what stood at its end.

    `columns` holds only channels that spoke in this minute; `readings` the newest of every channel ever
    heard (a silent one says so). `estimates` are this minute's of the charge trackers, by (name,
    subject). `net_Wh` and `made_Wh` are the house banks' sums (None where nothing was heard).
    """

    start_s: float
    utc_s: float | None
    """UTC of the minute's begin, None while the clock is not trusted."""
    boot: int
    columns: Mapping[str, Column]
    readings: Mapping[str, Reading]
    mode: Mode
    estimates: Mapping[tuple[str, str], Estimate]
    net_Wh: float | None = None
    made_Wh: float | None = None
    water: WaterHeard = WaterHeard()

    @property
    def end_s(self) -> float:
        return self.start_s + 60.0

    def values(self, name: str) -> Floats:
        """The minute's readings of a channel in order, "not available" left out; empty if none."""
        column = self.columns.get(name)
        return np.empty(0) if column is None else heard(column)[1]

    def mean(self, name: str) -> float | None:
        """Their mean, None where there were none."""
        values = self.values(name)
        return float(values.mean()) if values.size else None

    def newest(self, name: str) -> float | None:
        """The newest reading that is neither silent nor "not available"."""
        reading = self.readings.get(name)
        return None if reading is None or reading.silent else reading.value


class Watcher(Protocol):
    """One thing that is watched, of all the subjects it concerns."""

    name: str
    """Under which its state is kept."""

    def take(self, minute: Heard) -> None:
        """Look at a minute. Must cost no more than a millisecond or two."""

    def estimates(self) -> list[Estimate]:
        """Every estimate it makes, unknown ones included."""

    def findings(self) -> list[Finding]:
        """What every rule it answers for finds, the whole list every time."""

    def events(self) -> Iterator[Event]:
        """What has happened since this was last asked."""

    def new_boot(self) -> None:
        """Elapsed time began anew after an unknown time off."""

    def state(self) -> dict[str, Any]:
        """What a restart must not lose, as JSON values."""

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""


class Look(NamedTuple):
    """Between minutes, every quarter of one: how things stand now."""

    at_s: float
    boot: int
    readings: Mapping[str, Reading]
    mode: Mode
    running_s: Mapping[str, float | None]
    """By pump, as in `WaterHeard`."""
    fallen_L: Mapping[str, float | None]


@runtime_checkable
class Quick(Watcher, Protocol):
    """A watcher whose findings cannot wait for the minute: asked for them after every look."""

    def look(self, now: Look) -> None:
        """Look at how things stand. Must cost next to nothing."""


@runtime_checkable
class Wished(Watcher, Protocol):
    """A watcher that does something the crew can ask for."""

    wishes: frozenset[str]
    """The kinds of command that are its own."""

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """Do it. What happened is told by `events`. Raises CommandError, saying why, where it cannot be."""


@runtime_checkable
class Limited(Watcher, Protocol):
    """A watcher that holds the limit of a rule itself."""

    limited: str
    """The rule."""

    def relimit(self, limit: float) -> None:
        """What it is from now on, in the rule's own unit."""
