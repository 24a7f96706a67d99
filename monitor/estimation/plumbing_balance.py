"""Tanks against their pump: what they fell beside what the pump moved, and how much a pump-minute moves.

excess = fallen - pumped       0 tight or leaking downstream, above 0 lost before the pump,
                               minus the refills where a check valve lets them run back
"""

from collections import deque
from collections.abc import Mapping
from itertools import pairwise
from math import radians, tan
from statistics import fmean, median
from typing import Any, NamedTuple

from monitor.clock import HOUR_S

LEVEL_SHARE = 0.0027
"""One level, averaged over a quarter of an hour, as a share of the tanks (sd): two of them are then 0.4 %
apart. A sender's drift over a night is 0.2 to 0.5 % (common practice), and a year has thousands of spans."""
OFF_MIDDLE = 12 / 55
"""Senders are believed up to five degrees of heel. One that stands 12 cm off the middle of a tank 55 cm deep
reads 12 / 55 tan 5 = 1.9 % more or less then: so far may levels be apart that were read at two heels."""
UNDER_WAY_SHARE = 0.02
"""The same under way, where nothing tells the heel."""
AVERAGED_S = 20 * 60.0
"""So long the averaged level remembers how the boat stood."""
KNOWN_MIN = 5
"""A level that was held, for heel or slosh, is what it was before for its first minutes."""
FLOW_SHARE, LEARNT_FLOW_SHARE = 0.10, 0.04
"""How well a pump's litres are known, before and after its flow has been learned."""
KEPT_H = 24
SPANS_H = (4, 6, 8, 12, 18, 24)
LATE_S, LATE_L = 20 * 60.0, 1.5
"""The averaged level has caught up with all but the last minutes: where so little was pumped in them, it is
as it should be. A leak is late by the same at both ends of a span."""
LEAST_SHARE, LEAST_L, LEAST_H = 0.04, 15.0, 3.0
"""A stretch of use that says how much the pump moves: so much of the tanks, so many litres, so many hours."""
TAUGHT, LATEST_L = 6, 30.0
"""Stretches that teach the flow; litres in the latest ones that judge it."""
CLOGGED, CLEAR = 0.80, 0.88
"""Share of the taught flow: a caution at 20 % less. Common practice."""
JUMP_L = 3.0
FALLS_ALONE = 4.0
"""Standard deviations of excess that only water lost before the pump explains."""
LEAST_EXCESS_L = 2.0


class Mark(NamedTuple):
    """How things stood on the hour."""

    at_s: float
    tank_L: float
    ran_s: float
    lone_s: float
    filling: int
    """How many fills were before it: between fills the tanks only fall."""
    sd_L: float
    """Of the level,"""
    lean_L: float
    """and how far the heel may have it off."""


class Excess(NamedTuple):
    """What the tanks fell beyond what was pumped, over one span."""

    hours: float
    fallen_L: float
    pumped_L: float
    lone_L: float
    spread_L: float

    @property
    def litres(self) -> float:
        return self.fallen_L - self.pumped_L

    @property
    def sigmas(self) -> float:
        return self.litres / self.spread_L

    def returned(self) -> float:
        """Log likelihood ratio: the lone refills came back to the tank, against: they are gone."""
        here, gone = self.litres, self.litres
        return (gone**2 - (here + self.lone_L) ** 2) / (2 * self.spread_L**2)


class Balance:
    """One pump and its tanks."""

    def __init__(self, capacity_L: float, flow_L_per_min: float) -> None:
        self._capacity_L = capacity_L
        self._set_L_per_s = flow_L_per_min / 60.0
        self._marks: deque[Mark] = deque(maxlen=2 * KEPT_H)
        self._spans: list[Excess] | None = None
        self._ran_s = self._lone_s = 0.0
        self._fillings = 0
        self._tank_L: float | None = None
        self._known_min = KNOWN_MIN
        self._just_ran: deque[tuple[float, float]] = deque()
        self._stood: deque[tuple[float, float, bool]] = deque()
        """When, how far it leaned [L], and whether it moved and nothing told the heel."""
        self._began: Mark | None = None
        """Where the stretch of use under way began."""
        self.taught: list[float] = []
        """Litres a pump-second in each of the first stretches."""
        self._latest: deque[tuple[float, float]] = deque(maxlen=4)
        """Litres and pump-seconds of the latest stretches."""

    @property
    def L_per_s(self) -> float:
        """What the pump moves: taught by the tanks, or as set. [L/s]"""
        return median(self.taught) if len(self.taught) >= TAUGHT else self._set_L_per_s

    def ran(self, end_s: float, seconds: float) -> None:
        """A run is over."""
        self._ran_s += seconds
        self._just_ran.append((end_s, seconds))

    def refilled(self, seconds: float) -> None:
        """One of the runs was a lone refill."""
        self._lone_s += seconds

    def filled(self) -> None:
        """Water came in: what was before is over, but holds."""
        self._fillings += 1
        self._spans = self._began = self._tank_L = None

    def begin_anew(self) -> None:
        """A tank changed over, a run cut off, time began anew: what was before says nothing."""
        self.filled()
        self._marks.clear()

    def minute(
        self,
        at_s: float,
        tank_L: float | None,
        running: bool,
        heel_deg: float | None = None,
        moving: bool = False,
    ) -> None:
        """The tanks together now; None while one of them is held, silent or stuck. The heel is None where
        nothing tells it; `moving`: under way."""
        lean_L = OFF_MIDDLE * tan(radians(heel_deg or 0.0)) * self._capacity_L
        self._stood.append((at_s, lean_L, moving and heel_deg is None))
        while not 0.0 <= at_s - self._stood[0][0] <= AVERAGED_S:
            self._stood.popleft()
        self._known_min = 0 if tank_L is None else self._known_min + 1
        if tank_L is None or running or self._known_min < KNOWN_MIN:
            return
        if self._tank_L is not None and tank_L > self._tank_L + max(JUMP_L, 0.02 * self._capacity_L):
            self.filled()
        self._tank_L = tank_L
        while self._just_ran and self._just_ran[0][0] < at_s - LATE_S:
            self._just_ran.popleft()
        if sum(seconds for _, seconds in self._just_ran) * self._set_L_per_s > LATE_L:
            return
        here = Mark(at_s, tank_L, self._ran_s, self._lone_s, self._fillings, *self._doubt_L())
        self._stretch(here)
        latest = self._marks[-1] if self._marks else None
        if latest is None or latest.filling != self._fillings or at_s - latest.at_s >= HOUR_S:
            self._marks.append(here)
            while self._marks[0].at_s < at_s - KEPT_H * HOUR_S - HOUR_S:
                self._marks.popleft()
            self._spans = None

    def _doubt_L(self) -> tuple[float, float]:
        """The level's standard deviation, and how far it may lean in the mean of the latest minutes."""
        unsure = any(moved for _, _, moved in self._stood)
        share = UNDER_WAY_SHARE if unsure else LEVEL_SHARE
        return share * self._capacity_L, fmean(lean_L for _, lean_L, _ in self._stood)

    def _stretch(self, here: Mark) -> None:
        usual_L = LEVEL_SHARE * self._capacity_L
        if here.sd_L > usual_L or abs(here.lean_L) > 2 * usual_L:
            self._began = None
            return
        if self._began is None:
            self._began = here
            return
        seconds = here.ran_s - self._began.ran_s
        enough_L = max(LEAST_L, LEAST_SHARE * self._capacity_L)
        if seconds * self._set_L_per_s < enough_L or here.at_s - self._began.at_s < LEAST_H * HOUR_S:
            return
        litres = self._began.tank_L - here.tank_L
        self._began = here
        if not 0.2 < litres / (seconds * self._set_L_per_s) < 2.0:
            return
        if len(self.taught) < TAUGHT:
            self.taught.append(litres / seconds)
        self._latest.append((litres, seconds))

    def flow_share(self) -> float | None:
        """What a pump-minute moves now, as a share of what was taught; None until both are known."""
        if len(self.taught) < TAUGHT:
            return None
        litres = seconds = 0.0
        for moved_L, ran_s in reversed(self._latest):
            litres, seconds = litres + moved_L, seconds + ran_s
            if seconds * self.L_per_s >= max(LATEST_L, 0.08 * self._capacity_L):
                return litres / seconds / self.L_per_s
        return None

    def spans(self) -> list[Excess]:
        """The excess over each span of the last day that is known."""
        if self._spans is None:
            self._spans = self._reckon()
        return self._spans

    def _reckon(self) -> list[Excess]:
        share = LEARNT_FLOW_SHARE if len(self.taught) >= TAUGHT else FLOW_SHARE
        marks = list(self._marks)
        found = []
        for last, now in enumerate(marks):
            first = last
            for hours in SPANS_H:
                while first >= 0 and marks[first].at_s > now.at_s - (hours - 0.1) * HOUR_S:
                    first -= 1
                if first < 0 or marks[first].filling != now.filling:
                    break
                found.append(self._excess(marks[first], now, share))
        return found

    def _excess(self, then: Mark, now: Mark, share: float) -> Excess:
        pumped_L = (now.ran_s - then.ran_s) * self.L_per_s
        leans_L = now.lean_L - then.lean_L
        doubts_L = (then.sd_L, now.sd_L, leans_L, share * pumped_L, 0.5)
        spread_L = sum(doubt_L**2 for doubt_L in doubts_L) ** 0.5
        lone_L = (now.lone_s - then.lone_s) * self.L_per_s
        hours = (now.at_s - then.at_s) / HOUR_S
        return Excess(hours, then.tank_L - now.tank_L, pumped_L, lone_L, spread_L)

    def falls_alone(self) -> Excess | None:
        """The span over which most was lost before the pump, where that is beyond doubt."""
        lost = [s for s in self.spans() if s.litres >= LEAST_EXCESS_L and s.sigmas >= FALLS_ALONE]
        return max(lost, key=lambda s: s.sigmas, default=None)

    def clearest(self) -> Excess | None:
        """The span in which refills that ran back would show best."""
        known = [s for s in self.spans() if s.lone_L > 0.0]
        return max(known, key=lambda s: s.lone_L / s.spread_L, default=None)

    def fallen_L(self, hours: float) -> float | None:
        """How far the tanks have fallen in so many hours, fills left out. [L]"""
        if not self._marks or self._tank_L is None:
            return None
        latest = self._marks[-1]
        since = [m for m in self._marks if m.at_s > latest.at_s - hours * HOUR_S]
        if len(since) == len(self._marks):
            return None
        marks = [self._marks[-len(since) - 1], *since]
        marks.append(latest._replace(tank_L=self._tank_L, filling=self._fillings))
        return sum(then.tank_L - now.tank_L for then, now in pairwise(marks) if then.filling == now.filling)

    def state(self) -> dict[str, Any]:
        return {
            "taught": [round(r, 5) for r in self.taught],
            "latest": [[round(v, 2), round(s, 1)] for v, s in self._latest],
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self.taught = [float(r) for r in state["taught"]]
        self._latest.extend((float(v), float(s)) for v, s in state["latest"])
