"""What is left in a tank, from a sender that slosh, heel and age make doubtful.

A median over a minute, then a trimmed mean over 15 minutes. While the boat heels, or the level
swings, the last good figure is held and told so; where the sender is silent or stuck, the figure
goes down by what the pump has moved and its band widens by all of it.
"""

from collections import deque
from collections.abc import Sequence
from math import sqrt
from statistics import fmean, median
from typing import Any

from monitor.estimation.bands import BAND_90
from monitor.estimation.fills import FillWatch
from monitor.estimation.sender import Sender, swing_pct
from monitor.estimation.sounding import Sounding
from monitor.records import Column, Estimate, Event, EventKind, Reason
from monitor.settings import Tank

PIECE_S = 60.0
WINDOW = 15
"""How many minute medians make one level."""
TRIMMED = 0.2
"""Share of the medians left out at each end."""
HEEL_DEG = 5.0
SWING_PCT = 1.0
SILENT_S = 300.0
LATEST = 3
"""So many medians in a row beside the level are the new level."""
STUCK_SHARE = 0.05
"""So much of the capacity pumped, and the reading must have followed."""
FALLS_SHARE = 0.3
"""A tank that falls by this share of what is pumped is in use."""
JUMP_PCT = 2.0
"""A change of the reading past this is a fill, another tank's turn, or a sender come free."""
BLIND_PCT = 2.0
"""This near to either end a float may rest on its stop: twice as much must be pumped."""
TABLE_SHARE, LINE_SHARE = 0.01, 0.03
"""Error of a sounding table and of a straight line in its stead, of the capacity (sd)."""


class TankLevel:
    """One tank's usable litres: those above the unusable bottom."""

    def __init__(self, tank: Tank) -> None:
        self.tank = tank
        self._sounding = Sounding(tank)
        self._medians: deque[float] = deque(maxlen=WINDOW)
        self._level_pct: float | None = None
        self._good_s: float | None = None
        self._held: str | None = None
        self._sender = Sender()
        self._since_L = self._since_share_L = 0.0
        """Pumped since the level was last good: in all, and this tank's likely share."""
        self._mark_pct: float | None = None
        """The reading from which falls are judged."""
        self._fallen_L = 0.0
        self.flat_L = self._flat_share_L = 0.0
        """Pumped since the mark: in all, and this tank's likely share."""
        self.flat = False
        """Whether the reading has stood still for more pump litres than a good sender could."""
        self.stuck = False
        self.share: float | None = None
        """How much of what its pump moves is likely its own; None where that is not known."""
        self.unexplained_L = 0.0
        """Pumped although no tank of the pump has moved."""
        self._fills = FillWatch(tank.capacity_L)

    def take(self, level: Column, heel: Column | None = None) -> list[Event]:
        """A stretch of the sender's readings [%] and of the heel [°]; the fills that ended."""
        told = []
        for start_s, readings in _pieces(level):
            heeled = [v for t, v in _heard(heel) if start_s <= t < start_s + PIECE_S]
            tilt = abs(fmean(heeled)) if heeled else 0.0
            event = self._minute(start_s + PIECE_S, readings, tilt)
            if event is not None:
                told.append(event)
        return told

    def pumped(self, litres: float, among: int = 1) -> None:
        """A pump moved so much, out of one of `among` tanks of which this is one."""
        own_L = litres / among if self.share is None else litres * self.share
        self._since_L += litres
        self._since_share_L += own_L
        self.flat_L += litres
        self._flat_share_L += own_L

    @property
    def good(self) -> bool:
        """Whether the newest minute of the sender was believed, and nothing pumped since."""
        return self._level_pct is not None and self._held is None and self._since_L == 0.0

    @property
    def unfallen_L(self) -> float:
        """Pumped since the reading was last seen to fall, and not seen as a fall of it."""
        return max(0.0, self.flat_L - self._fallen_L)

    def estimates(self, at_s: float) -> list[Estimate]:
        """tank_L: the litres that can be used, with a 90 % band. None where never heard."""
        if self._level_pct is None:
            nothing = Reason("tank never heard")
            return [Estimate("tank_L", self.tank.name, at_s, None, None, None, nothing)]
        value_L = self._usable_L(self._level_pct)
        half_L = self._half_band_L(self._level_pct)
        reason, all_L, share_L = self._why(at_s)
        low_L, high_L = value_L - half_L - all_L, value_L + half_L
        value_L = max(0.0, value_L - share_L)
        most_L = self.tank.capacity_L - self.tank.unusable_L
        return [
            Estimate("tank_L", self.tank.name, at_s, value_L, max(0.0, low_L), min(most_L, high_L), reason)
        ]

    def _why(self, at_s: float) -> tuple[Reason, float, float]:
        """What the figure rests on, and what may and what likely has gone since."""
        silent_s = None if self._good_s is None else at_s - self._good_s
        facts = {"silent_s": silent_s, "pumped_L": self._since_L}
        if self.stuck:
            return Reason("tank sender stuck", {"pumped_L": self.flat_L}), self.flat_L, self._flat_share_L
        if self._held is not None:
            return Reason(self._held, facts), self._since_L, self._since_share_L
        if silent_s is None or silent_s > SILENT_S:
            return Reason("tank sender silent", facts), self._since_L, self._since_share_L
        return Reason("tank level", {"level_pct": self._level_pct}), self.unexplained_L, 0.0

    def _minute(self, end_s: float, readings: list[float], tilt_deg: float) -> Event | None:
        middle = median(readings)
        swing = swing_pct(readings)
        self._sender.learn_step(readings)
        self._held = None
        if tilt_deg > HEEL_DEG:
            self._held = "tank held for heel"
        elif swing > SWING_PCT:
            self._held = "tank held for slosh"
        if self._held is not None:
            return None
        self._sender.learn_noise(swing)
        self._good_s, self._since_L, self._since_share_L = end_s, 0.0, 0.0
        self._follow_falls(middle)
        event = self._filling(end_s, middle)
        if self._fills.filling:
            self._medians.clear()
        self._medians.append(middle)
        if self._moved_on():
            self._medians = deque(list(self._medians)[-LATEST:], maxlen=WINDOW)
        self._level_pct = _trimmed_mean(self._medians)
        return event

    def _filling(self, end_s: float, middle: float) -> Event | None:
        if self._level_pct is None:
            return None
        litres = self._sounding.litres
        fill = self._fills.minute(end_s, litres(middle), litres(self._level_pct))
        if fill is None:
            return None
        poured_L, to_L = fill.top_L - fill.from_L, fill.top_L - self.tank.unusable_L
        facts = {"litres": round(poured_L, 1), "to_L": round(to_L, 1)}
        return Event(EventKind.FILL, self.tank.name, 0, fill.start_s, fill.top_s, facts)

    def _follow_falls(self, middle: float) -> None:
        """Whether the reading falls for what is pumped: judged each time enough has been."""
        if self._mark_pct is None:
            self._mark_pct = middle
        litres = self._sounding.litres
        self._fallen_L = litres(self._mark_pct) - litres(middle)
        share = max(STUCK_SHARE, 2 * self._sender.step_pct / 100)
        blind = not BLIND_PCT <= middle <= 100 - BLIND_PCT
        enough_L = share * self.tank.capacity_L * (2 if blind else 1)
        falls = self.flat_L >= enough_L and self._fallen_L >= FALLS_SHARE * self.flat_L
        if falls or abs(middle - self._mark_pct) >= max(JUMP_PCT, 3 * self._sender.moved_pct):
            self._mark_pct, self.flat_L, self._flat_share_L, self._fallen_L = middle, 0.0, 0.0, 0.0
            self.flat = self.stuck = False
        elif self.flat_L >= enough_L:
            self.flat = True

    def _moved_on(self) -> bool:
        """Whether the latest medians all lie to one side of the level: much was drawn at once."""
        if self._level_pct is None or len(self._medians) <= LATEST:
            return False
        off = [m - self._level_pct for m in list(self._medians)[-LATEST:]]
        return min(off) > self._sender.moved_pct or max(off) < -self._sender.moved_pct

    def _usable_L(self, reading_pct: float) -> float:
        return max(0.0, self._sounding.litres(reading_pct) - self.tank.unusable_L)

    def _half_band_L(self, reading_pct: float) -> float:
        """Half of the 90 % band: the sender's noise and step through the table, and the table."""
        litres, sd_pct = self._sounding.litres, self._sender.sd_pct
        at_sender_L = litres(reading_pct + sd_pct) - litres(reading_pct - sd_pct)
        table_L = (TABLE_SHARE if self.tank.sounding else LINE_SHARE) * self.tank.capacity_L
        return BAND_90 * sqrt((at_sender_L / 2) ** 2 + table_L**2)

    def state(self) -> dict[str, Any]:
        """What must outlive a restart, as JSON values."""
        return {
            "level_pct": self._level_pct,
            "sender": self._sender.state(),
            "since_L": [self._since_L, self._since_share_L],
            "flat": [self._mark_pct, self.flat_L, self._flat_share_L, self.flat, self.stuck],
            "share": self.share,
        }

    def restore(self, state: dict[str, Any]) -> None:
        """The inverse of `state`: until the sender is heard again the level counts as silent."""
        self._level_pct = state["level_pct"]
        self._sender.restore(state["sender"])
        self._since_L, self._since_share_L = state["since_L"]
        self._mark_pct, self.flat_L, self._flat_share_L, self.flat, self.stuck = state["flat"]
        self.share = state["share"]


def mark_stuck(levels: Sequence[TankLevel]) -> None:
    """Compare the tanks of one pump: which is in use, and whether its sender is stuck.

    The tanks that fall are in use. Where none has fallen for what was pumped, the senders of
    those that were last in use are stuck, until they move. Nothing is concluded while a tank is
    held or silent.
    """
    if not levels or not all(level.good for level in levels):
        return
    in_use = [level for level in levels if not level.flat]
    unexplained_L = min(level.unfallen_L for level in levels)
    for level in levels:
        level.unexplained_L = unexplained_L
        if in_use:
            level.share = (not level.flat) / len(in_use)
        elif level.share != 0.0:
            level.stuck = True


def _heard(column: Column | None) -> list[tuple[float, float]]:
    if column is None:
        return []
    return [(t, v) for t, v in zip(column.times_s, column.values, strict=True) if v == v]


def _pieces(level: Column) -> list[tuple[float, list[float]]]:
    """The readings that were available, by the minute they fall in."""
    pieces: dict[float, list[float]] = {}
    for at_s, value in _heard(level):
        pieces.setdefault(at_s // PIECE_S * PIECE_S, []).append(value)
    return list(pieces.items())


def _trimmed_mean(values: Sequence[float]) -> float:
    cut = int(TRIMMED * len(values))
    return fmean(sorted(values)[cut : len(values) - cut])
