"""A tank sender's own ways: how it swings, how noisy it is, and on what steps it tells its level."""

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from statistics import fmean
from typing import Any

FINEST_PCT, UNSEEN_PCT, COARSEST_PCT = 0.004, 1.0, 10.0
"""Steps: the wire's own, what is assumed until some are seen, and the coarsest."""
STEPS_TO_BELIEVE = 10


def swing_pct(readings: Sequence[float]) -> float:
    """Standard deviation about the straight line through a minute's readings: filling is no slosh."""
    n = len(readings)
    if n < 3:
        return 0.0
    middle, mean = (n - 1) / 2, fmean(readings)
    spread = sum((k - middle) ** 2 for k in range(n))
    slope = sum((k - middle) * v for k, v in enumerate(readings)) / spread
    return sqrt(sum((v - mean - slope * (k - middle)) ** 2 for k, v in enumerate(readings)) / n)


class Sender:
    """Noise and resolution, learned from the readings themselves."""

    def __init__(self) -> None:
        self.noise_pct = 0.0
        self._least_step_pct: float | None = None
        self._steps_seen = 0
        self._last: list[float] = []

    def learn_step(self, readings: Sequence[float]) -> None:
        """The resolution is the smallest step that was ever made."""
        steps = [abs(b - a) for a, b in pairwise([*self._last, *readings]) if a != b]
        self._last = list(readings[-1:])
        self._steps_seen += len(steps)
        if steps:
            least = max(FINEST_PCT, min(steps))
            self._least_step_pct = least if self._least_step_pct is None else min(least, self._least_step_pct)

    def learn_noise(self, swing_pct: float) -> None:
        self.noise_pct += 0.1 * (swing_pct - self.noise_pct)

    @property
    def step_pct(self) -> float:
        if self._least_step_pct is None or self._steps_seen < STEPS_TO_BELIEVE:
            return UNSEEN_PCT
        return min(self._least_step_pct, COARSEST_PCT)

    @property
    def widest_step_pct(self) -> float:
        """What the step may be, as long as few were seen."""
        if self._least_step_pct is None or self._steps_seen >= STEPS_TO_BELIEVE:
            return self.step_pct
        return min(max(UNSEEN_PCT, self._least_step_pct), COARSEST_PCT)

    @property
    def moved_pct(self) -> float:
        """A change of a minute's median that is no noise."""
        return max(0.3, 1.5 * self.noise_pct, 0.9 * self.step_pct)

    @property
    def sd_pct(self) -> float:
        """Standard error of a level of some minutes: waves are slow, so noise averages out little."""
        return max(0.05, sqrt(self.noise_pct**2 / 4 + self.step_pct**2 / 12))

    def state(self) -> list[Any]:
        return [self.noise_pct, self._least_step_pct, min(self._steps_seen, STEPS_TO_BELIEVE)]

    def restore(self, state: list[Any]) -> None:
        self.noise_pct, self._least_step_pct, self._steps_seen = state
