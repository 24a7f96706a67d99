"""What the rules look at: one frozen picture of the boat, put together by whoever assesses."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.alerts.limits import LIMITS
from monitor.alerts.rulebook import Rulebook
from monitor.records import Estimate, Finding, Mode, Reading, Reason, SourceHealth, Way
from monitor.settings import Settings

ANCHORED = Mode("at anchor", "awake")


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything at `at_s`. What is missing from a mapping is unknown, never 0 and never "fine"."""

    settings: Settings
    at_s: float
    started_s: float
    """When this watch began to listen: what was never heard is silent only some time after that."""
    heads: int
    """How many are aboard, as the crew said last."""
    values: Mapping[str, Reading]
    """By channel name."""
    estimates: Mapping[tuple[str, str], Estimate]
    """By (name, subject): charge_pct, energy_days by bank; tank_L by tank (what can be used of it);
    water_days of "water"; leak_L_per_h by pump."""
    sources: tuple[SourceHealth, ...] = ()
    clock_trusted: bool = True
    last_full_s: Mapping[str, float | None] = field(default_factory=dict)
    """By bank, on any time scale: None or missing until the first full charge."""
    running_s: Mapping[str, float | None] = field(default_factory=dict)
    """By pump: how long the run under way has lasted, 0 at rest, None where it is not known."""
    fallen_L: Mapping[str, float | None] = field(default_factory=dict)
    """By pump: how far its tanks have fallen since that run began, where it is known."""
    verdicts: Mapping[str, tuple[str, Reason]] = field(default_factory=dict)
    """By pump: what the leak judge says."""
    troubles: tuple[Reason, ...] = ()
    """What is wrong with the store."""
    found: tuple[Finding, ...] = ()
    """What the watchers of `monitor.estimation` found themselves."""
    source_of: Mapping[str, str] = field(default_factory=dict)
    """By channel name: the source it was last heard from, where that is known."""
    mode: Mode = ANCHORED
    ways: tuple[Way, ...] = ()
    """The ways out to the crew."""
    rulebook: Rulebook | None = None
    """The rules in force; those of the settings where it is not given."""

    def limit(self, rule: str, subject: str) -> float:
        """The limit of a rule of `monitor.alerts.limits` now, in its own unit."""
        limit = (self.rulebook or Rulebook(self.settings)).limit(rule, subject, self.mode, self.heads)
        assert limit is not None
        return limit

    def deadband(self, rule: str, subject: str) -> float:
        """How far beyond that limit it clears."""
        return LIMITS[rule].deadband(self.settings, subject, self.heads)
