"""What was true aboard in one stretch of time: handed from the boat to her instruments."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulators.power import Electrics
from simulators.shore import Pedestal
from simulators.trace import Trace

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
    """At the beginning, as all that follows."""
    way: tuple[float, float]
    """Degrees a second to the north and to the east."""
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
    pedestal: Pedestal
    tripped: bool
    """The pedestal's breaker has let go."""
    input_limit_A: float
    """What the inverter takes from the shore at the most, as somebody has set it."""
    alternator_A: float
    """What the warm alternator can give."""
    charging_off: bool
    """The crew has taken all chargers away from the bank."""
    locker: float
    """Around the bank."""
    cells_C: float
    """The cells' mean at the beginning."""
    stuck_A: float | None
    """Where the house shunt's reading has stuck."""
    wire_off: bool = False
    """The pump's indicator says that it runs, whatever it does."""
    fitted: bool = False
    """A watermaker is aboard."""
    making_L_per_h: float = 0.0
    making_hours: float = 0.0

    @property
    def mains(self) -> bool:
        """There is a live AC supply: the shore, or the generator."""
        return (self.shore and not self.tripped) or self.generator


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
    output_W: Floats
    """What the household takes behind the inverter."""
    inverter: Floats
    """Its state, as 127509 numbers it."""
    running_at_start: bool
    took: dict[str, Floats]
    """What each appliance took from the house's bus, losses included; the sum is what that supplied. [W]"""
    truth: list[Truth] = field(default_factory=list)

    @property
    def end_s(self) -> float:
        return self.start_s + self.seconds
