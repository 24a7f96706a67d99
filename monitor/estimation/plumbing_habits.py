"""How a boat's pump usually runs: how long in each mode, at what current and at what pressure."""

from collections.abc import Mapping, Sequence
from math import log
from typing import Any

from monitor.estimation.accumulator import AIR_BAR, pump_drawdown_L
from monitor.records import Mode
from monitor.settings import Pump

Readings = Sequence[tuple[float, float]]
"""Seconds since a run began, and a reading."""
GUARDED, FREE = "guarded", "free"
"""Asleep, away, laid up or under way: nobody is expected to run water for long; and every other time."""
FIRST_S, STEP, BINS = 10.0, 1.12, 46
"""Lengths of runs are kept in bins, each 1.12 times as long as the one before: up to half an hour."""
LEARNT_RUNS = 300
"""So many runs in a mode before its longest is believed."""
TAIL = 0.001
UNTIL_LEARNT_S = {GUARDED: 300.0, FREE: 480.0}
"""Normal draws rarely last longer (common practice: 5 and 8 minutes)."""
LONGER = 1.2
LEAST_LIMIT_S = {GUARDED: 90.0, FREE: 180.0}
"""No limit is learned below these: the first guest's shower is no burst."""
LONG_RUN_S = 12.0
CREEP = 0.002
REFILL_SHARE = 1.6
"""Runs up to this many refills long are taken for refills: their pressure goes from cut-in to cut-out."""
LINE_READINGS, FADES = 40, 0.998
CALM_RUNS = 20
RISES, SINKS = 0.3, 0.02
CUT_IN_BAR, CUT_OUT_BAR = 1.4, 2.8
"""Where the settings do not tell. Common practice."""
FREE_SHARE = (0.4, 0.85)
"""What the current with no pressure may be, of that at cut-out. Common practice: 0.5 to 0.8."""
"""So many readings before the lowest of them is believed."""


def group(mode: Mode) -> str:
    """Which of the two groups a mode belongs to."""
    still = mode.place not in ("sailing", "motoring") and mode.people == "awake"
    return FREE if still else GUARDED


class Lengths:
    """Lengths of ordinary runs in one group of modes, as counts."""

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self.counts = [0] * BINS

    def add(self, seconds: float) -> None:
        self.counts[_bin(seconds)] += 1

    @property
    def learnt(self) -> bool:
        return sum(self.counts) >= LEARNT_RUNS

    def limit_s(self, until_learnt_s: float | None = None) -> float:
        """A run past this is none of the ordinary ones: the 99.9th percentile times 1.2. [s]"""
        if not self.learnt:
            return until_learnt_s or UNTIL_LEARNT_S[self._kind]
        return max(LEAST_LIMIT_S[self._kind], LONGER * self.longest_s())

    def longest_s(self) -> float:
        """Their 99.9th percentile; 0 until it is learnt. [s]"""
        beyond, room = 0, TAIL * sum(self.counts)
        for n in range(BINS - 1, -1, -1):
            beyond += self.counts[n]
            if beyond > room and self.learnt:
                return FIRST_S * STEP**n
        return 0.0

    def log_survival(self, seconds: float) -> float:
        """Logarithm of the share of ordinary runs that last longer: ordinary runs last some 20 s in the
        mean (common practice) until a hundred of them have been seen."""
        seen = sum(self.counts)
        longer = sum(self.counts[_bin(seconds) :])
        guessed = 100 * 2.718 ** (-seconds / 20.0)
        return log((longer + guessed + 0.5) / (seen + 100.5))


def _bin(seconds: float) -> int:
    return 0 if seconds < FIRST_S else min(BINS - 1, int(log(seconds / FIRST_S) / log(STEP)) + 1)


class Level:
    """A reading while the pump runs: at the stop, and the lowest of ordinary long runs."""

    def __init__(self) -> None:
        self.top: float | None = None
        self.least: float | None = None
        self.runs = 0

    @property
    def learnt(self) -> bool:
        return self.runs >= CALM_RUNS

    def ran(self, seconds: float, values: list[float]) -> None:
        """The readings of an ordinary run, in order: the last just before, or after, it stopped by itself."""
        self.runs += 1
        last, mean = values[-1], sum(values) / len(values)
        before = last if self.top is None else self.top
        # A reading may come early: `top` follows the higher ones.
        self.top = before + (last - before) * (RISES if last > before else SINKS)
        if seconds >= LONG_RUN_S:
            lowest = mean if self.least is None else self.least
            self.least = min(lowest, mean) + CREEP * max(0.0, mean - lowest)

    def state(self) -> list[float | None]:
        return [self.runs, *(None if v is None else round(v, 3) for v in (self.top, self.least))]

    def restore(self, state: list[float | None]) -> None:
        self.runs = int(state[0] or 0)
        self.top, self.least = state[1:]


class Line:
    """Current against pressure, by least squares with slow forgetting: I = free + (top - free) p / p_out.

    Where no instrument tells the pressure it is taken from how much of a refill is done: by Boyle's law the
    reciprocal of the absolute pressure falls evenly with the water that has gone in.
    """

    def __init__(self, pump: Pump) -> None:
        a = pump.accumulator
        self._in_bar, self._out_bar = (a.cut_in_bar, a.cut_out_bar) if a else (CUT_IN_BAR, CUT_OUT_BAR)
        self._sums = [0.0] * 5

    def refill(self, seconds: float, readings: Sequence[tuple[float, float]]) -> None:
        """Readings of a refill: seconds since it began, and the current."""
        low, high = 1 / (self._in_bar + AIR_BAR), 1 / (self._out_bar + AIR_BAR)
        for after_s, amps in readings:
            done = min(1.0, after_s / seconds)
            share = (1 / (low + done * (high - low)) - AIR_BAR) / self._out_bar
            new = (1.0, share, amps, share * share, share * amps)
            self._sums = [FADES * old + n for old, n in zip(self._sums, new, strict=True)]

    def ends(self) -> tuple[float, float] | None:
        """The current at no pressure and at cut-out; None until enough is known. [A]"""
        n, p, i, pp, pi = self._sums
        spread = n * pp - p * p
        if n < LINE_READINGS or spread <= 0.0:
            return None
        slope = (n * pi - p * i) / spread
        top = (i - slope * p) / n + slope
        free = max(FREE_SHARE[0] * top, min(FREE_SHARE[1] * top, top - slope))
        return (free, top) if top > 0.0 else None

    def state(self) -> list[float]:
        return [round(v, 4) for v in self._sums]

    def restore(self, state: list[float]) -> None:
        self._sums = [float(v) for v in state]


class Habits:
    """All that is usual of one pump."""

    def __init__(self, pump: Pump, run_on_s: float) -> None:
        self._run_on_s = run_on_s
        self.lengths = {kind: Lengths(kind) for kind in (GUARDED, FREE)}
        self.current, self.pressure = Level(), Level()
        a = pump.accumulator
        self.promised_cut_out_bar = None if a is None else a.cut_out_bar
        self._refill_s = 60.0 * pump_drawdown_L(pump) / pump.flow_L_per_min
        self.line = Line(pump)

    @property
    def cut_out_bar(self) -> float | None:
        """Where the pump stops: learned, or as the settings promise."""
        return self.pressure.top if self.pressure.learnt else self.promised_cut_out_bar

    def as_pressure(self, amps: float) -> float | None:
        """The current read as a pressure, as a share of that at cut-out; below 0 it is less than any water
        makes. None until the line is known."""
        ends = self.line.ends()
        return None if ends is None else (amps - ends[0]) / (ends[1] - ends[0])

    def limit_s(self, kind: str) -> float:
        """A run past this is told: learned, or by the settings' limit for a run. [s]"""
        usual_s = self._run_on_s if kind == FREE else self._run_on_s * 5 / 8
        return self.lengths[kind].limit_s(usual_s)

    def ran(self, seconds: float, kind: str, amps: Readings, bars: Readings) -> None:
        """An ordinary run is over; readings are those heard while it ran, with the seconds since it began."""
        self.lengths[kind].add(seconds)
        for level, readings in ((self.current, amps), (self.pressure, bars)):
            if readings:
                level.ran(seconds, [value for _, value in readings])
        if seconds <= REFILL_SHARE * self._refill_s:
            self.line.refill(seconds, amps)

    def state(self) -> dict[str, Any]:
        lengths = {kind: _packed(each.counts) for kind, each in self.lengths.items()}
        return {
            "lengths": lengths,
            "current": self.current.state(),
            "pressure": self.pressure.state(),
            "line": self.line.state(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        for kind, each in self.lengths.items():
            each.counts = [0] * BINS
            for n, count in state["lengths"][kind]:
                each.counts[int(n)] = int(count)
        self.current.restore(state["current"])
        self.pressure.restore(state["pressure"])
        self.line.restore(state["line"])


def _packed(counts: list[int]) -> list[list[int]]:
    return [[n, count] for n, count in enumerate(counts) if count]
