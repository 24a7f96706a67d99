"""Pieces that a tank can learn from: litres pumped between two settled readings."""

from monitor.clock import HOUR_S
from monitor.estimation.teaching import Piece

CALM_MINUTES = 15
"""So long after the pump has last run the reading is settled: as many medians as make a level."""
LEAST_SHARE = 0.04
"""A piece is at least so much of the capacity."""
LONGEST_S = 12 * HOUR_S
"""Over a longer time too much else may have taken water."""
LEAST_FALL, MOST_FALL = 0.2, 6.0
"""The fall of a piece over that of a straight tank: beyond, it was another tank's water or another's fill."""


class SettledPieces:
    """Hands out each piece once."""

    def __init__(self, capacity_L: float, span_pct: float) -> None:
        self._capacity_L, self._span_pct = capacity_L, span_pct
        self._calm = 0
        self._mark: tuple[float, float] | None = None
        """Where a piece began: when, and at what reading."""
        self._pumped_L = 0.0

    def pumped(self, litres: float) -> None:
        """So much was drawn out of this tank and no other."""
        self._calm = 0
        self._pumped_L += litres

    def void(self) -> None:
        """Water has come or gone that was not measured: begin anew."""
        self._calm, self._mark, self._pumped_L = 0, None, 0.0

    def wait(self) -> None:
        """This minute's reading was not believed."""
        self._calm = 0

    def minute(self, end_s: float, level_pct: float) -> Piece | None:
        """The level after a minute that was believed."""
        self._calm += 1
        if self._calm < CALM_MINUTES:
            return None
        if self._mark is None or self._pumped_L == 0.0 or end_s - self._mark[0] > LONGEST_S:
            self._mark, self._pumped_L = (end_s, level_pct), 0.0
            return None
        if self._pumped_L < LEAST_SHARE * self._capacity_L:
            return None
        fell_pct, litres = self._mark[1] - level_pct, self._pumped_L
        straight_pct = self._span_pct * litres / self._capacity_L
        self._mark, self._pumped_L = (end_s, level_pct), 0.0
        if not LEAST_FALL * straight_pct <= fell_pct <= MOST_FALL * straight_pct:
            return None
        return Piece(level_pct, level_pct + fell_pct, litres, said=False)
