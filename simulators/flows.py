"""What flows by itself, from when to when: taps, leaks, hoses. Rates in L/s."""

import heapq
import math
from typing import Literal

Where = Literal["after the pump", "hot side", "before the pump", "back through the pump"]
"""Where a leak is."""
WHAT = ("draw", "hot", "after the pump", "hot side", "back through the pump")


class Flows:
    """An agenda of changes, and the rates that stand now. "hot" is the part of "draw" that comes through the
    heater; "power" is 1 while the pump is switched on."""

    def __init__(self, start_s: float) -> None:
        self.rates = dict.fromkeys(WHAT, 0.0) | {"power": 1.0}
        self.of_tanks: dict[tuple[str, str], float] = {}
        """By what happens to a tank ("fill", "make", "before the pump") and its name."""
        self._changes: list[tuple[float, int, str, str, float]] = []
        self._serial, self._now_s = 0, start_s

    @property
    def next_s(self) -> float:
        """When something changes next."""
        return self._changes[0][0] if self._changes else math.inf

    def add(self, start_s: float, end_s: float, what: str, tank: str, rate: float) -> None:
        """So much more of it between these times, kept to the millisecond and never in the past."""
        for at_s, amount in ((start_s, rate), (end_s, -rate)):
            if at_s < math.inf:
                self._serial += 1
                change = (max(round(at_s, 3), self._now_s), self._serial, what, tank, amount)
                heapq.heappush(self._changes, change)

    def apply(self, now_s: float) -> None:
        """All that was to change by now."""
        self._now_s = now_s
        while self._changes and self._changes[0][0] <= now_s:
            _, _, what, tank, amount = heapq.heappop(self._changes)
            if tank:
                self.of_tanks[what, tank] = max(0.0, self.of_tanks.get((what, tank), 0.0) + amount)
            elif what == "power":
                self.rates[what] = float(amount > 0)
            else:
                self.rates[what] = max(0.0, self.rates[what] + amount)
