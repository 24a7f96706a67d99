"""What a watcher of the boat is: it takes a minute at a time, and says what it makes of it.

A watcher is arithmetic: it is handed all it may know (`Heard`), keeps what it has learned as JSON values,
and answers with estimates and findings. The pipeline owns the list of them.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple, Protocol

import numpy as np

from monitor.estimation.readings import Floats, heard
from monitor.records import Column, Estimate, Event, Finding, Mode, Reading

RUNNING_RPM = 300.0
"""An engine that turns faster runs; slower is a reading's noise. Common practice."""
LIVE_V = 50.0
"""A supply above this is live, however badly: what hurts and what nothing runs on. Common practice."""


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
