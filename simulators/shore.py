"""The pedestal: a voltage behind an impedance, and a breaker that minds the current, not the watts."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

POWER_FACTOR = 0.98


class Pedestal(NamedTuple):
    """What the boat is plugged into, its cable included."""

    idle_V: float = 234.5
    ohm: float = 0.45
    breaker_A: float = 10.0
    power_factor: float = POWER_FACTOR

    def voltage_V(self, watts: Floats) -> Floats:
        """At the boat's inlet: V = E - Z I and P = V I cos phi, the upper root. [V]"""
        half = self.idle_V / 2
        return half + np.sqrt(np.maximum(0.0, half * half - self.ohm * watts / self.power_factor))

    def current_A(self, watts: Floats) -> Floats:
        """[A]"""
        return watts / (self.voltage_V(watts) * self.power_factor)

    def most_W(self, limit_A: float) -> float:
        """The power at that current. [W]"""
        return limit_A * (self.idle_V - self.ohm * limit_A) * self.power_factor


TRIPS_AT = 1.3
TRIP_S = 100.0


class Breaker:
    """A bimetal that follows the square of the current with a time constant and lets go when too warm.

    1.3 times the rating in the end; between the limits of IEC 60898-1 (from memory): 1.13 times the
    rating carried for an hour, 1.45 times let go within an hour, 2.55 times within 1 to 60 s.
    """

    def __init__(self, rated_A: float) -> None:
        self.rated_A = rated_A
        self._warmth = 0.0
        self.tripped = False

    def carry(self, amperes: Floats) -> None:
        """One second after the other."""
        part = math.exp(-1 / TRIP_S)
        for ratio in (amperes / self.rated_A).tolist():
            self._warmth = ratio * ratio + (self._warmth - ratio * ratio) * part
            if self._warmth >= TRIPS_AT**2:
                self.tripped, self._warmth = True, 0.0
                return
