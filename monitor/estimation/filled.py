"""The fills of one tank: found by themselves, told by the crew, and the two brought together."""

from collections import deque
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.fills import Fill, FillWatch
from monitor.estimation.teaching import Piece
from monitor.records import Event, EventKind
from monitor.settings import Tank

CONFIRMS_S = 12 * HOUR_S
"""What the crew says of a fill is about the latest one found, if that is not older."""
SAMPLE_S = 600.0
WITHIN = 6
"""A fill is over within so many samples of the level."""
AS_MUCH = 0.5
PUMPED_LOW, PUMPED_HIGH = 0.7, 1.5
"""A rise of just what was pumped out meanwhile is a sender that goes the wrong way, and no fill."""


class Fills:
    """Fed one level a minute."""

    def __init__(self, tank: Tank) -> None:
        self._tank = tank
        self._watch = FillWatch(tank.capacity_L)
        self._last: Fill | None = None
        self._piece: Piece | None = None
        self._levels: deque[float] = deque(maxlen=int(CONFIRMS_S / SAMPLE_S))
        self._sampled_s = float("-inf")

    @property
    def filling(self) -> bool:
        return self._watch.filling

    def pumped(self, litres: float) -> None:
        """So much was drawn from the tank."""
        self._watch.pumped(litres)

    def minute(
        self, end_s: float, litres: float, before_L: float, reading_pct: float, before_pct: float
    ) -> Event | None:
        """The fill that is over, if one is."""
        if end_s >= self._sampled_s + SAMPLE_S:
            self._sampled_s = end_s
            self._levels.append(reading_pct)
        fill = self._watch.minute(end_s, litres, before_L, reading_pct, before_pct)
        if fill is None:
            return None
        rose_L = fill.top_L - fill.from_L
        if not fill.said and PUMPED_LOW * rose_L <= fill.pumped_L <= PUMPED_HIGH * rose_L:
            return None
        self._last = fill
        self._teach(fill)
        return self._event(fill)

    def say(self, at_s: float, said: dict[str, Any]) -> tuple[Event, bool]:
        """The crew's word on a fill: the event, and whether it was one that had been found."""
        last, under_way = self._last, self._watch.fill
        if under_way is not None:
            under_way.said = said
            return self._event(under_way), True
        if last is not None and 0 <= at_s - last.top_s <= CONFIRMS_S:
            first = "litres" not in last.said
            last.said = said
            if first:
                self._teach(last)
            return self._event(last), True
        return Event(EventKind.FILL, self._tank.name, 0, at_s, at_s, said), False

    def learned(self) -> Piece | None:
        """What a fill of known litres tells of the table, once."""
        piece, self._piece = self._piece, None
        return piece

    def fell_instead(self, litres: float) -> bool:
        """Whether the reading has lately fallen by as much as was poured in."""
        least_pct = AS_MUCH * 100 * litres / self._tank.capacity_L
        levels = list(self._levels)
        return any(a - b >= least_pct for a, b in zip(levels, levels[WITHIN:], strict=False))

    def _teach(self, fill: Fill) -> None:
        litres = fill.said.get("litres")
        if litres is not None:
            self._piece = Piece(fill.from_pct, fill.top_pct, float(litres) - fill.pumped_L, said=True)

    def _event(self, fill: Fill) -> Event:
        end_s = None if fill is self._watch.fill else fill.top_s
        facts = fill.facts(self._tank.unusable_L)
        return Event(EventKind.FILL, self._tank.name, 0, fill.start_s, end_s, facts)
