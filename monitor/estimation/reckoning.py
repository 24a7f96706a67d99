"""A tank without a sender that can be believed: from a level that was once known, by what the pump moved."""

from typing import Any, NamedTuple

from monitor.records import Estimate, Reason
from monitor.settings import Tank

PUMP_BAND = 0.10
"""Half of the 90 % band of what a pump moved: its flow is known to a tenth."""
FULL_BAND, SAID_BAND = 0.03, 0.05
"""Of the capacity: how well "full" is known; of the litres said: how well those are."""


class Reckoned(NamedTuple):
    """Usable litres and their 90 % band, and what was pumped since the level was known."""

    value_L: float
    low_L: float
    high_L: float
    pumped_L: float


class Reckoning:
    """Litres above the unusable bottom. Unknown until the crew has said that the tank is full, or what
    is in it."""

    def __init__(self, tank: Tank) -> None:
        self._tank = tank
        self._most_L = tank.capacity_L - tank.unusable_L
        self._full_band_L = FULL_BAND * tank.capacity_L
        self._from_L: float | None = None
        self._band_L = 0.0
        self._own_L = self._all_L = 0.0
        """Pumped since: this tank's likely share, and all that may have been its own."""

    def filled(self, litres: float | None) -> None:
        """So much was poured in (it says something only where the level was known before); to the brim
        where the crew does not say how much."""
        now = self.now()
        if litres is None:
            self.stands_at(self._most_L)
        elif now is not None:
            self.stands_at(now.value_L + litres, (now.high_L - now.low_L) / 2 + SAID_BAND * litres)

    def stands_at(self, litres: float, band_L: float | None = None) -> None:
        """What can be used is this much: it was dipped, or is known to be full or empty."""
        self._from_L = min(max(0.0, litres), self._most_L)
        self._band_L = self._full_band_L if band_L is None else band_L
        self._own_L = self._all_L = 0.0

    def pumped(self, own_L: float, all_L: float) -> None:
        self._own_L += own_L
        self._all_L += all_L

    def now(self) -> Reckoned | None:
        if self._from_L is None:
            return None
        band_L = self._band_L + PUMP_BAND * self._own_L
        value_L = min(max(0.0, self._from_L - self._own_L), self._most_L)
        low_L = min(value_L, self._from_L - self._band_L - (1 + PUMP_BAND) * max(self._own_L, self._all_L))
        high_L = max(value_L, self._from_L - self._own_L + band_L)
        return Reckoned(value_L, max(0.0, low_L), min(self._most_L, high_L), self._own_L)

    def estimate(self, at_s: float, unknown: Reason, *, reversed: bool) -> Estimate:
        """tank_L of a tank without a sender, or with one that goes the wrong way."""
        found = self.now()
        if found is None:
            reason = Reason("tank sender reversed") if reversed else unknown
            return Estimate("tank_L", self._tank.name, at_s, None, None, None, reason)
        told = {"pumped_L": found.pumped_L, "reversed": reversed}
        reason = Reason("tank by the pump, sender reversed" if reversed else "tank by the pump", told)
        return Estimate("tank_L", self._tank.name, at_s, found.value_L, found.low_L, found.high_L, reason)

    def state(self) -> list[Any]:
        return [self._from_L, self._band_L, self._own_L, self._all_L]

    def restore(self, state: list[Any]) -> None:
        self._from_L, self._band_L, self._own_L, self._all_L = state
