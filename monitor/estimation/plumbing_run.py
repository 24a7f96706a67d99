"""The run of a pump under way: an ordinary draw, a burst, a dry pump, a stuck switch, or no pump at all.

A likelihood for each, from how long it has run (against the boat's own runs), its current and pressure
(as shares of what they are when the pump stops by itself) and whether the tanks fall by what is pumped:

    P(kind | seen) ~ prior(kind) * P(lasts | kind) * P(current | kind) * P(pressure | kind) * P(fall | kind)

A diaphragm pump takes the more current the higher the pressure: some 0.6 to 0.75 of the current at cut-out
when nothing holds the water back, less again when it draws air (40 to 70 % of normal, common practice).
"""

from collections import deque
from math import exp, hypot, log
from typing import NamedTuple

from monitor.estimation.plumbing_habits import GUARDED, Habits

ORDINARY, BURST, DRY, STUCK, SIGNAL = "ordinary", "burst", "pump dry", "pump switch stuck", "pump silent"
KINDS = (ORDINARY, BURST, DRY, STUCK, SIGNAL)
PRIOR = {ORDINARY: 0.0, BURST: -4.5, DRY: -4.5, STUCK: -4.5, SIGNAL: -5.5}
GUARDED_MORE = 1.5
"""How much likelier a fault is while nobody draws, as a logarithm; under way hoses come off, too."""
DRY_MORE = 1.5
SURVIVAL_FLOOR = -3.0
"""A long run alone is no fault as long as an instrument says that it is ordinary."""
NAMED, LOOKS = 0.9, 2
"""A fault is named when it is so likely at so many looks in a row,"""
SETTLED_S = 8.0
"""of a run so long that the pump has come up and the accumulator has given way. [s]"""
FALL_SPREAD = 0.2
USED = 4.0
LEVEL_SPREAD = 0.004
"""Of one reading of a sender at anchor, as a share of the tank. Common practice."""
SIGNAL_S = 2 * 3600.0
"""A pump that ran so long and emptied nothing is a wire that is off. [s]"""


class Glance(NamedTuple):
    """How things stand at one look; what is not known is None."""

    ran_s: float
    amps: float | None
    bars: float | None
    fallen_L: float | None
    """How far the tanks have fallen since the run began,"""
    spread_L: float
    """give or take so much,"""
    pumped_L: float
    """against what the pump moves in that time."""
    kind: str
    """Group of modes."""
    low: bool = False
    """The tanks are near their pick-up, or the boat heels or moves: the pump may draw air."""

    @property
    def spoken(self) -> bool:
        """Whether any instrument says more than that the pump runs."""
        return self.amps is not None or self.bars is not None or self.fallen_L is not None


class RunUnderWay:
    """One pump's run: what it looks like, look by look."""

    def __init__(self, habits: Habits) -> None:
        self._habits = habits
        self._latest: deque[str] = deque(maxlen=LOOKS)
        self.named: str | None = None
        """The fault that the instruments name."""
        self.chances: dict[str, float] = {}
        self.glance: Glance | None = None

    def rest(self) -> None:
        """The pump has stopped, or is unheard."""
        self._latest.clear()
        self.named, self.chances, self.glance = None, {}, None

    def look(self, glance: Glance) -> None:
        if self.glance is not None and glance.ran_s < self.glance.ran_s:
            self.rest()
        self.glance = glance
        if glance.ran_s < SETTLED_S:
            return
        scores = {kind: self._score(kind, glance) for kind in KINDS}
        most = max(scores.values())
        weights = {kind: exp(score - most) for kind, score in scores.items()}
        self.chances = {kind: weight / sum(weights.values()) for kind, weight in weights.items()}
        sure = glance.spoken and self.chances[ORDINARY] <= 1.0 - NAMED
        self._latest.append(self.likeliest_fault() if sure else ORDINARY)
        if len(self._latest) == LOOKS and ORDINARY not in self._latest:
            self.named = self._latest[-1]
        elif self._latest[-1] == ORDINARY:
            self.named = None

    def likeliest_fault(self) -> str:
        """Which fault it would be, if it is one; a burst where nothing tells."""
        faults = {kind: chance for kind, chance in self.chances.items() if kind != ORDINARY}
        return max(faults, key=faults.__getitem__, default=BURST)

    @property
    def ordinary(self) -> bool:
        """Whether current or pressure says that it is a draw, however long it lasts."""
        seen, habits = self.glance, self._habits
        if seen is None:
            return False
        reads = seen.amps is not None and habits.line.ends() is not None
        reads = reads or (seen.bars is not None and habits.cut_out_bar is not None)
        return reads and self.chances.get(ORDINARY, 0.0) >= NAMED

    @property
    def told_by(self) -> str:
        """Which instrument speaks."""
        assert self.glance is not None
        if self.glance.bars is not None and self._habits.cut_out_bar is not None:
            return "pressure"
        return "tank" if self.glance.amps is None or self._habits.line.ends() is None else "current"

    def _score(self, kind: str, seen: Glance) -> float:
        score = PRIOR[kind]
        if kind == ORDINARY:
            score += max(SURVIVAL_FLOOR, self._habits.lengths[seen.kind].log_survival(seen.ran_s))
        elif seen.kind == GUARDED:
            score += GUARDED_MORE
        if kind == DRY and seen.low:
            score += DRY_MORE
        if seen.amps is not None:
            score += self._current(kind, seen.amps)
        if seen.bars is not None and self._habits.cut_out_bar:
            score += self._pressure(kind, seen.bars / self._habits.cut_out_bar)
        return score + _fall(kind, seen)

    def _current(self, kind: str, amps: float) -> float:
        """By the current read as a pressure, which tells 0.1 bar at best."""
        ends, share = self._habits.line.ends(), self._habits.as_pressure(amps)
        if ends is None or share is None:
            return 0.0
        least = self._habits.current.least
        lowest = 0.27 if least is None else min(0.27, self._habits.as_pressure(least) or 0.27)
        nothing = -ends[0] / (ends[1] - ends[0])
        low, high, edge = {
            ORDINARY: (lowest, 1.03, 0.03),
            BURST: (0.0, 0.17, 0.03),
            DRY: (0.55 * nothing, 0.12 * nothing, 0.04),
            STUCK: (1.1, 1.8, 0.03),
            SIGNAL: (nothing, 0.95 * nothing, 0.05),
        }[kind]
        return _between(share, low, high, edge)

    def _pressure(self, kind: str, share: float) -> float:
        least, top = self._habits.pressure.least, self._habits.cut_out_bar
        lowest = 0.27 if least is None or not top else min(0.27, least / top)
        low, high, edge = {
            ORDINARY: (lowest, 1.0, 0.02),
            BURST: (0.02, 0.19, 0.015),
            DRY: (-0.02, 0.012, 0.01),
            STUCK: (1.03, 1.8, 0.015),
            SIGNAL: (0.45, 1.0, 0.03),
        }[kind]
        return _between(share, low, high, edge)


def _fall(kind: str, seen: Glance) -> float:
    """The tanks' fall as a share of what is pumped: all of it, or nothing."""
    if seen.fallen_L is None or seen.pumped_L <= 0.0:
        return 0.0
    spread = hypot(FALL_SPREAD, seen.spread_L / seen.pumped_L)
    if spread > 0.7:
        return 0.0
    share = seen.fallen_L / seen.pumped_L
    if seen.ran_s > SIGNAL_S and share < 0.4 and seen.fallen_L > 3 * seen.spread_L:
        return (
            USED if kind == SIGNAL else -USED
        )  # Water is used as ever, and not by a pump that runs for hours.
    middle = {ORDINARY: 0.9, BURST: 1.0}.get(kind, 0.0)
    return -min(12.0, 0.5 * ((share - middle) / spread) ** 2) - log(spread)


def _between(value: float, low: float, high: float, edge: float) -> float:
    """Logarithm of a density that is level from low to high and normal beyond, at most 12 down."""
    out = max(0.0, low - value, value - high) / edge
    return -log(high - low + 2.5 * edge) - min(12.0, 0.5 * out * out)
