"""What was true aboard in one stretch of time: handed from the boat to her instruments."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulators.power import Electrics
from simulators.pump import Trace

Floats = NDArray[np.float64]
Truth = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Conditions:
    """What does not change within a stretch. Temperatures in °C."""

    place: str
    engine: bool
    shore: bool
    generator: bool
    latitude: float
    longitude: float
    cabin: float
    sea: float
    engine_s: float
    """How long the engine has been running."""
    engine_hours: float
    generator_s: float
    generator_hours: float
    stuck_pct: dict[str, float]
    """Senders that have stuck, and where."""
    dead: frozenset[str]
    """Senders that say "not available"."""

    @property
    def mains(self) -> bool:
        """There is an AC supply: the shore, or the generator."""
        return self.shore or self.generator


@dataclass(frozen=True, slots=True)
class Stretch:
    """`seconds` whole seconds from `start_s` on; arrays hold one value a second."""

    start_s: float
    seconds: int
    conditions: Conditions
    electrics: Electrics
    water: Trace
    heel: Floats
    """The slow part of the heel [°]; waves come on top."""
    counted_pct: Floats
    """What the counting battery monitor shows: it never learns its own offset."""
    supply_W: Floats
    """What the AC supply gives, the charger's input included."""
    running_at_start: bool
    truth: list[Truth] = field(default_factory=list)

    @property
    def end_s(self) -> float:
        return self.start_s + self.seconds
