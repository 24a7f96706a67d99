"""Runs that stood alone: lone refills by what the heaters did meanwhile, short refills, and draws that go on.

A leak makes lone refills at all hours. One through a relief valve makes them while water is heated and
shortly after, and none in a night with the heater cold. A heater that cools makes a few, no more than its
shrinkage fills. A flat accumulator gives less than it should: the pump runs shorter than it ever could.
"""

from collections import Counter, deque
from itertools import pairwise
from math import log
from statistics import median
from typing import NamedTuple

from monitor.clock import HOUR_S

APART_S = 180.0
"""Runs with at least this rest on both sides stand alone. [s]"""
AFTER_S = 2 * HOUR_S
"""So long after heating a start still belongs to it. Common practice: 2 hours."""
QUIET_LEAST_H = 4.0
"""A relief valve that kept its water through so many hours of heating is tight."""
COOLS_S = 10 * HOUR_S
"""So long a heater goes on shrinking unseen."""
DAY_S, WEEK_S = 24 * HOUR_S, 7 * 24 * HOUR_S
"""A strong fault shows in a day; a relief valve that loses a few refills an evening in a week of evenings."""
PIECE_S = 900
INNOCENT_ASLEEP_PER_H, INNOCENT_AWAKE_PER_H = 0.05, 0.3
"""Lone runs as long as a refill that draws make by chance."""
WIDTH_SHARE = 0.12
SHORT_SHARE = 0.55
"""A refill under half of the promised one, with its scatter."""
SHORT_KEPT, SHORT_LEAST, SHORT_RUNS = 24, 14, 5
"""Of the latest runs so many must be short."""
LONGEST_BOUT = {"guarded": 20 * 60.0, "free": 40 * 60.0}
"""Water that goes on longer than this, as steadily as a tap, is no draw. [s]"""
STEADY_CYCLES, STEADY_SHARE, STEADY_WITHIN = 14, 0.7, 0.3


class Lone(NamedTuple):
    """A lone refill."""

    at_s: float
    litres: float
    heated: bool
    """While water was heated, or shortly after."""
    cooling: bool
    asleep: bool


class Hours:
    """Hours listened to lately, by whether water was heated and whether people slept."""

    def __init__(self, kept_s: float) -> None:
        self._kept_s = kept_s
        self._pieces: deque[tuple[float, int, tuple[bool, bool]]] = deque()
        """Until when, seconds and kind: of one kind up to a quarter of an hour together."""
        self._seconds: Counter[tuple[bool, bool]] = Counter()

    def add(self, at_s: float, seconds: float, heated: bool, asleep: bool) -> None:
        kind, new_s, together_s = (heated, asleep), round(seconds), 0
        self._seconds[kind] += new_s
        if self._pieces and self._pieces[-1][2] == kind and self._pieces[-1][1] + new_s <= PIECE_S:
            _, together_s, _ = self._pieces.pop()
        self._pieces.append((at_s, together_s + new_s, kind))
        while self._pieces[0][0] < at_s - self._kept_s:
            _, gone, kind = self._pieces.popleft()
            self._seconds[kind] -= gone

    def of(self, heated: bool, asleep: bool) -> float:
        return self._seconds[heated, asleep] / HOUR_S

    @property
    def heated(self) -> float:
        return self.of(True, False) + self.of(True, True)

    def clear(self) -> None:
        self._pieces.clear()
        self._seconds.clear()


def refill_in_draw_s(on_s: float, off_s: float | None) -> float:
    """How long a run would have been without the draw it stood in.

    A tap that takes q empties the drawdown V in off = V / q and is outrun by the pump's Q in
    on = V / (Q - q): so V / Q = on off / (on + off), whatever q is. Where the tap was shut meanwhile off is
    longer, and so is the answer: never much shorter than a refill. `off_s` None: it stood alone. [s]
    """
    return on_s if off_s is None else on_s * off_s / max(on_s + off_s, 1e-9)


class Refills:
    """One pump's lone refills and short runs."""

    def __init__(self, shrinks_L: float) -> None:
        self._shrinks_L = shrinks_L
        """The most that all heaters take back as they cool. [L]"""
        self.lone: deque[Lone] = deque(maxlen=2000)
        """Those of the last week."""
        self._hours: dict[float, Hours] = {kept_s: Hours(kept_s) for kept_s in (DAY_S, WEEK_S)}
        self._at_s = 0.0
        self._waiting: tuple[float, float] | None = None
        """Start and end of the latest run, while nothing has followed it."""
        self._before_s: float | None = None
        """When the run before that one ended."""
        self._heated_s: float | None = None
        self._short: deque[bool] = deque(maxlen=SHORT_KEPT)
        self._bout: list[tuple[float, float]] = []

    def heating(self, at_s: float, on: bool) -> None:
        if on:
            self._heated_s = at_s

    def run(self, start_s: float, end_s: float, promised_s: float, timing_s: float) -> None:
        """One whole run."""
        if self._bout and start_s - self._bout[-1][1] >= APART_S:
            self._bout.clear()
        if promised_s * (1 - SHORT_SHARE) > timing_s:
            since_s = start_s - self._bout[-1][1] if self._bout else None
            filled_s = refill_in_draw_s(end_s - start_s, since_s)
            self._short.append(filled_s < SHORT_SHARE * promised_s + 0.5 * timing_s)
        self._bout.append((start_s, end_s))
        del self._bout[:-400]
        self._before_s = None if self._waiting is None else self._waiting[1]
        self._waiting = (start_s, end_s)

    def minute(
        self, at_s: float, passed_s: float, asleep: bool, refill_s: float, timing_s: float, L_per_s: float
    ) -> float | None:
        """Time has come to here; the seconds of a lone refill that is now known to be one."""
        self._at_s = at_s
        for hours in self._hours.values():
            hours.add(at_s, passed_s, self._is_heated(at_s), asleep)
        while self.lone and self.lone[0].at_s < at_s - WEEK_S:
            self.lone.popleft()
        if self._waiting is None or at_s - self._waiting[1] < APART_S:
            return None
        start_s, end_s = self._waiting
        self._waiting, apart = None, self._before_s is None or start_s - self._before_s >= APART_S
        self._before_s = end_s
        self._bout.clear()
        if not apart or abs(end_s - start_s - refill_s) > WIDTH_SHARE * refill_s + timing_s:
            return None
        litres = (end_s - start_s) * L_per_s
        self.lone.append(Lone(end_s, litres, self._is_heated(start_s), self._is_cooling(start_s), asleep))
        return end_s - start_s

    def _is_heated(self, at_s: float) -> bool:
        return self._heated_s is not None and at_s - self._heated_s <= AFTER_S

    def _is_cooling(self, at_s: float) -> bool:
        return self._heated_s is not None and 60.0 < at_s - self._heated_s <= COOLS_S

    def with_heating(self) -> bool | None:
        """Whether lone refills come with heating and not without; None where there are too few to tell."""
        today = self._with_heating(DAY_S)
        return (self._with_heating(WEEK_S) or None) if today is None else today

    def quiet_heated_h(self) -> float | None:
        """Hours of heating in the last week, where no more refills came with them than draws make by chance;
        None while they were more, or hardly any water was heated."""
        hours = self._hours[WEEK_S]
        quiet = sum(r.heated for r in self.lone) <= _by_chance(hours)
        return hours.heated if quiet and hours.heated >= QUIET_LEAST_H else None

    def _with_heating(self, within_s: float) -> bool | None:
        lone = [r for r in self.lone if r.at_s >= self._at_s - within_s]
        heated, hours = [r for r in lone if r.heated], self._hours[within_s]
        n, expected = len(heated), _by_chance(hours)
        asleep = [r for r in lone if not r.heated and r.asleep]
        quiet_h = hours.of(False, True)
        if n >= 4 and expected > 0.0 and n > expected and quiet_h >= 2.0:
            more = n * log(n / expected) - (n - expected)
            heated_h = hours.heated
            shrinks_L = self._shrinks_L * max(1.0, heated_h * HOUR_S / COOLS_S)
            as_often = expected + (n - expected) * quiet_h / heated_h
            chance = INNOCENT_ASLEEP_PER_H * quiet_h + self._shrinks_L / max(heated[-1].litres, 0.02)
            excess_L = (n - expected) * heated[-1].litres
            if more > 5.0 and excess_L > shrinks_L and len(asleep) <= 0.35 * as_often:
                return True
            if len(asleep) > max(chance, 0.6 * as_often):
                return False
        elif len(asleep) >= 4 and quiet_h >= 2.0:
            return False
        return None

    def cooled_L(self, at_s: float) -> tuple[int, float] | None:
        """Lone refills while a heater cooled, nobody about, and their litres; None where there are none, or
        more than it can explain."""
        cooling = [r for r in self.lone if r.cooling and r.asleep and r.at_s >= at_s - COOLS_S]
        others = [r for r in self.lone if not r.cooling and r.asleep and r.at_s >= at_s - COOLS_S]
        litres = sum(r.litres for r in cooling)
        if not cooling or len(others) > 1 or litres > self._shrinks_L + cooling[-1].litres:
            return None
        return len(cooling), litres

    def asleep_starts(self, at_s: float, since_s: float) -> int:
        return sum(r.asleep and r.at_s >= at_s - since_s for r in self.lone)

    def short(self) -> tuple[int, int] | None:
        """Of how many latest runs so many were shorter than any refill; None while too few are known."""
        return None if len(self._short) < SHORT_LEAST else (sum(self._short), len(self._short))

    def stream(self, at_s: float, kind: str) -> tuple[float, float] | None:
        """How long water has been going on steadily, and at how many pump-seconds an hour; None if not."""
        if len(self._bout) <= STEADY_CYCLES or at_s - self._bout[-1][1] >= APART_S:
            return None
        lasted_s = at_s - self._bout[0][0]
        if lasted_s < LONGEST_BOUT[kind]:
            return None
        latest = self._bout[-STEADY_CYCLES - 1 :]
        cycles = [b[0] - a[0] for a, b in pairwise(latest)]
        middle = median(cycles)
        steady_s = sum(c for c in cycles if abs(c - middle) <= STEADY_WITHIN * middle)
        if steady_s < STEADY_SHARE * sum(cycles):
            return None
        return lasted_s, 3600.0 * median(end_s - start_s for start_s, end_s in latest) / middle

    @property
    def in_bout(self) -> bool:
        return len(self._bout) > 1

    def begin_anew(self) -> None:
        """The signal was lost, or elapsed time began anew."""
        self.lone.clear()
        for hours in self._hours.values():
            hours.clear()
        self._bout.clear()
        self._waiting = self._before_s = self._heated_s = None


def _by_chance(hours: Hours) -> float:
    """Lone refills that draws make while water is heated."""
    return INNOCENT_AWAKE_PER_H * hours.of(True, False) + INNOCENT_ASLEEP_PER_H * hours.of(True, True)
