"""How a boat's pump usually runs: how long in each mode, at what current and at what pressure."""

from collections.abc import Mapping
from math import log
from typing import Any

from monitor.records import Mode
from monitor.settings import Pump

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
LONG_RUN_S = 15.0
CALM_RUNS = 20
RISES, SINKS = 0.3, 0.02
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
        beyond, room = 0, TAIL * sum(self.counts)
        for n in range(BINS - 1, -1, -1):
            beyond += self.counts[n]
            if beyond > room:
                return max(LEAST_LIMIT_S[self._kind], LONGER * FIRST_S * STEP**n)
        return LEAST_LIMIT_S[self._kind]

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
    """A reading while the pump runs: at the stop, and the lowest that an ordinary long run has."""

    def __init__(self) -> None:
        self.top: float | None = None
        self.least_share: float | None = None
        self.runs = self.long_runs = 0

    def stopped_at(self, value: float) -> None:
        """What it was just before, or after, the pump stopped by itself. A reading may come early: `top`
        follows the higher ones."""
        self.runs += 1
        before = value if self.top is None else self.top
        self.top = before + (value - before) * (RISES if value > before else SINKS)

    def long_run(self, value: float) -> None:
        """What it was in a run that lasted, as a share of `top`."""
        if self.top is None or self.runs < CALM_RUNS or self.top <= 0.0:
            return
        share = value / self.top
        self.long_runs += 1
        lowest = share if self.least_share is None else self.least_share
        self.least_share = min(lowest, share) + 0.002 * max(0.0, share - lowest)

    @property
    def least(self) -> float | None:
        return self.least_share if self.long_runs >= CALM_RUNS else None

    def state(self) -> list[float | None]:
        return [
            None if self.top is None else round(self.top, 3),
            None if self.least_share is None else round(self.least_share, 4),
            self.runs,
            self.long_runs,
        ]

    def restore(self, state: list[float | None]) -> None:
        self.top, self.least_share = state[0], state[1]
        self.runs, self.long_runs = int(state[2] or 0), int(state[3] or 0)


class Habits:
    """All that is usual of one pump."""

    def __init__(self, pump: Pump, run_on_s: float) -> None:
        self._run_on_s = run_on_s
        self.lengths = {kind: Lengths(kind) for kind in (GUARDED, FREE)}
        self.current, self.pressure = Level(), Level()
        a = pump.accumulator
        self.promised_cut_out_bar = None if a is None else a.cut_out_bar

    @property
    def cut_out_bar(self) -> float | None:
        """Where the pump stops: learned, or as the settings promise."""
        learned = self.pressure.top if self.pressure.runs >= CALM_RUNS else None
        return self.promised_cut_out_bar if learned is None else learned

    def limit_s(self, kind: str) -> float:
        """A run past this is told: learned, or by the settings' limit for a run. [s]"""
        usual_s = self._run_on_s if kind == FREE else self._run_on_s * 5 / 8
        return self.lengths[kind].limit_s(usual_s)

    def ran(self, seconds: float, kind: str, amps: list[float], bars: list[float]) -> None:
        """An ordinary run is over; the readings are those that were heard while it ran, in order."""
        self.lengths[kind].add(seconds)
        for level, values in ((self.current, amps), (self.pressure, bars)):
            if not values:
                continue
            level.stopped_at(values[-1])
            if seconds >= LONG_RUN_S:
                level.long_run(sum(values) / len(values))

    def state(self) -> dict[str, Any]:
        lengths = {kind: _packed(each.counts) for kind, each in self.lengths.items()}
        return {"lengths": lengths, "current": self.current.state(), "pressure": self.pressure.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        for kind, each in self.lengths.items():
            each.counts = [0] * BINS
            for n, count in state["lengths"][kind]:
                each.counts[int(n)] = int(count)
        self.current.restore(state["current"])
        self.pressure.restore(state["pressure"])


def _packed(counts: list[int]) -> list[list[int]]:
    return [[n, count] for n, count in enumerate(counts) if count]
