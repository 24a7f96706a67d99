"""Fills that are found by themselves: a rise that lasts, until it has not gone on for a while."""

from dataclasses import dataclass

RISE_SHARE = 0.02
"""A rise by more than this share of the capacity is a fill, if it lasts."""
LASTS_MINUTES = 3
PAUSE_S = 15 * 60.0
"""Cans poured nearer to each other than this are one fill. [s]"""


@dataclass(slots=True)
class Fill:
    """Since when and from what, and the highest it has come."""

    start_s: float
    from_L: float
    top_s: float
    top_L: float


class FillWatch:
    """Fed one level a minute; hands out each fill once, when it is over."""

    def __init__(self, capacity_L: float) -> None:
        self._rise_L = RISE_SHARE * capacity_L
        self._risen = 0
        self._fill: Fill | None = None

    @property
    def filling(self) -> bool:
        return self._fill is not None

    def minute(self, end_s: float, litres: float, before_L: float) -> Fill | None:
        """The level of the minute up to `end_s`, and what was in the tank before it. [L]"""
        fill = self._fill
        if fill is None:
            self._risen = self._risen + 1 if litres - before_L > self._rise_L else 0
            if self._risen == LASTS_MINUTES:
                self._risen = 0
                self._fill = Fill(end_s - 60.0 * LASTS_MINUTES, before_L, end_s, litres)
            return None
        if litres > fill.top_L + self._rise_L / 8:
            fill.top_s, fill.top_L = end_s, litres
        if end_s - fill.top_s < PAUSE_S:
            return None
        self._fill = None
        return fill
