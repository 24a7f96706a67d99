"""Fills that are found by themselves: a rise that lasts, until it has not gone on for a while."""

from dataclasses import dataclass, field
from typing import Any

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
    from_pct: float
    top_s: float
    top_L: float
    top_pct: float
    pumped_L: float = 0.0
    """Drawn from the tank meanwhile: poured in is what it rose and this."""
    after_L: float = 0.0
    """Drawn since the top."""
    said: dict[str, Any] = field(default_factory=dict)
    """What the crew said of it."""

    @property
    def poured_L(self) -> float:
        return self.top_L - self.from_L + self.pumped_L

    def facts(self, unusable_L: float) -> dict[str, Any]:
        """As the log has them: what the crew said goes before what was measured."""
        measured = {"litres": round(self.poured_L, 1), "to_L": round(self.top_L - unusable_L, 1)}
        if "litres" in self.said:
            measured["measured_L"] = measured["litres"]
        return measured | self.said


class FillWatch:
    """Fed one level a minute; hands out each fill once, when it is over."""

    def __init__(self, capacity_L: float) -> None:
        self._rise_L = RISE_SHARE * capacity_L
        self._risen = 0
        self._lately_L = 0.0
        """Pumped in the minutes of a rise that is not yet a fill,"""
        self._from = 0.0, 0.0
        """and what it rises from. [L, %]"""
        self.fill: Fill | None = None
        """The one under way."""

    @property
    def filling(self) -> bool:
        return self.fill is not None

    def pumped(self, litres: float) -> None:
        """So much was drawn from the tank."""
        if self.fill is not None:
            self.fill.after_L += litres
        else:
            self._lately_L += litres

    def minute(
        self, end_s: float, litres: float, before_L: float, reading_pct: float = 0.0, before_pct: float = 0.0
    ) -> Fill | None:
        """The level of the minute up to `end_s`, and what was in the tank before it. [L, %]"""
        fill = self.fill
        if fill is None:
            self._rise(end_s, litres, before_L, reading_pct, before_pct)
            return None
        if litres > fill.top_L + self._rise_L / 8:
            fill.top_s, fill.top_L, fill.top_pct = end_s, litres, reading_pct
            fill.pumped_L, fill.after_L = fill.pumped_L + fill.after_L, 0.0
        if end_s - fill.top_s < PAUSE_S:
            return None
        self.fill = None
        return fill

    def _rise(
        self, end_s: float, litres: float, before_L: float, reading_pct: float, before_pct: float
    ) -> None:
        if litres - before_L <= self._rise_L:
            self._risen, self._lately_L = 0, 0.0
            return
        if self._risen == 0:
            self._from = before_L, before_pct
        self._risen += 1
        if self._risen == LASTS_MINUTES:
            start_s = end_s - 60.0 * LASTS_MINUTES
            self.fill = Fill(start_s, *self._from, end_s, litres, reading_pct, self._lately_L)
            self._risen, self._lately_L = 0, 0.0
