"""What a tank sender does that no water does: going the wrong way, leaving its range.

A fault is told after it has shown itself several times, and taken back when the sender has behaved as
often: one odd shower is a bath tap in another tank.
"""

from typing import Any

from monitor.estimation.sounding import Table

FROM_SHARE, TO_SHARE = 0.3, 3.0
"""A reading that goes by this much of what was pumped goes because of the pump."""
VOTES = 4
"""So often must it have gone the wrong way, counted against the times it went the right one."""
BELOW_PCT, ABOVE_PCT = 1.0, 2.0
"""So far outside its table a sender may stand: offsets of a float's stops. Common practice."""
LASTS_MINUTES = 10


class SenderFaults:
    """Of one tank's sender."""

    def __init__(self, table: Table, capacity_L: float) -> None:
        self._range = table[0][0] - BELOW_PCT, table[-1][0] + ABOVE_PCT
        self._span_pct = table[-1][0] - table[0][0]
        self._capacity_L = capacity_L
        self._wrong_way = 0
        self._outside = 0
        self.reversed = False
        """Rises while the pump draws, falls while the tank is filled."""
        self.outside_pct: float | None = None
        """The reading that its table does not have."""

    def minute(self, reading_pct: float) -> None:
        """A minute's median, believed or not."""
        low, high = self._range
        self._outside = 0 if low <= reading_pct <= high else self._outside + 1
        self.outside_pct = reading_pct if self._outside >= LASTS_MINUTES else None

    def went(self, risen_pct: float, pumped_L: float) -> None:
        """The reading rose so much while so much was pumped out of the tank (negative: fell)."""
        expected_pct = self._span_pct * pumped_L / self._capacity_L
        if FROM_SHARE * expected_pct <= risen_pct <= TO_SHARE * expected_pct:
            self._vote(1)
        elif risen_pct < 0 and FROM_SHARE * expected_pct <= -risen_pct <= TO_SHARE * expected_pct:
            self._vote(-1)

    def fell_while_filled(self) -> None:
        """The crew poured water in, and the reading fell by as much."""
        self._vote(2)

    def _vote(self, votes: int) -> None:
        self._wrong_way = min(2 * VOTES, max(0, self._wrong_way + votes))
        if self._wrong_way >= VOTES:
            self.reversed = True
        elif self._wrong_way == 0:
            self.reversed = False

    def state(self) -> list[Any]:
        return [self._wrong_way, self.reversed]

    def restore(self, state: list[Any]) -> None:
        self._wrong_way, self.reversed = state
