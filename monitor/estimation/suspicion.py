"""Suspicion: when the evidence in lone refills is enough to speak of a leak, and of which."""

from collections.abc import Mapping
from math import log
from typing import Any

import numpy as np

from monitor.estimation.evidence import STARTS_PER_H, Floats, RefillSums, Rest
from monitor.estimation.innocents import Innocents
from monitor.estimation.leak_rate import LeakRate

THRESHOLD = 8.0
"""At which sum of evidence a leak is suspected; set on simulated households so that a false one
comes in some three years of nights, at the drawdowns of 0.3 to 1.5 L and timings of 0.1 to 1 s."""
INNOCENT_PER_H, LEAST_MORE, MOST_MORE = 0.022, -0.7, 2.5
"""It stands for so many innocent refills; with more of them there are more tries at a false one."""
FAST_PER_H, FAST_MORE = 0.8, 1.5
"""A leak that starts the pump this often soon gives more evidence, and must."""
GUESSED_MORE = 0.5
"""Where a heater's water is reckoned from its heating hours alone: the model is no thermometer."""
LEAST_REFILLS = 3
"""Fewer are never called a leak."""
EXPLAINED_SHARE = 0.7
"""Heaters and declared draws that took this share of a drawdown are the reason for the refill."""


class Suspicion:
    """The sums, what is usual aboard, and which line has told of a leak."""

    def __init__(self) -> None:
        self._lines = RefillSums()
        self._innocents = Innocents()
        self._rate = LeakRate()
        self._line: int | None = None
        self.height = 0.0
        """The highest sum now."""

    def __bool__(self) -> bool:
        return self._line is not None

    @property
    def refills(self) -> int:
        """How many refills the highest sum counts."""
        return int(self._lines.events[self._lines.sums.argmax()])

    @property
    def stirred(self) -> bool:
        """Whether any sum is above 0: else waiting changes nothing."""
        return self._lines.stirred

    def quiet(self, asleep: bool, hours: float) -> None:
        """So long with nobody drawing, and no refill."""
        if self._line is None:
            self._innocents.quiet(asleep, hours)

    def refill(self, rest: Rest, share: float, asleep: bool, drawdown_L: float) -> bool:
        """A lone refill; False where heaters and declared draws explain it. `share` as in
        `Innocents.per_h`."""
        self._lines.refill(rest, self._innocents.per_h(share, asleep))
        if rest.taken >= EXPLAINED_SHARE:
            return False
        self._rate.add(rest.hours, (1.0 - rest.taken) * drawdown_L)
        if self._line is None:
            self._innocents.quiet(asleep, 0.0, 1.0)
        return True

    def ended(self, rest: Rest) -> None:
        """Somebody's draw ended a rest."""
        self._lines.ended(rest)

    def decide(self, rest: Rest | None, share: float, guessed: bool) -> None:
        """Suspect at the threshold; stop suspecting at half of it. `rest` is the one under way; `guessed`,
        whether a heater's water is known from its heating hours alone."""
        sums = self._lines.now(rest)
        if self._line is not None and sums[self._line] == 0.0:
            # The refills that spoke for it speak for no slower one.
            self._lines.reset()
            sums, self._line = self._lines.sums, None
        self.height = float(sums.max()) if self._lines.stirred else 0.0
        if self.height < 0.5 * THRESHOLD:
            self._line = None
            return
        line = self._best(sums)
        limit = self._limit(line, share, guessed) * (1.0 if self._line is None else 0.5)
        self._line = line if line is not None and sums[line] >= limit else None

    def _best(self, sums: Floats) -> int | None:
        """Which line stands highest against its limit, of those that have counted enough refills."""
        counted = (sums > 0) & (self._lines.events >= LEAST_REFILLS)
        above = np.where(counted, sums - FAST_MORE * (STARTS_PER_H > FAST_PER_H), -np.inf)
        return int(above.argmax()) if counted.any() else None

    def _limit(self, line: int | None, share: float, guessed: bool) -> float:
        """The threshold for a line: higher where this boat's innocent refills are many."""
        innocent_per_h = self._innocents.per_h(share, asleep=True)
        own = min(MOST_MORE, max(LEAST_MORE, log(innocent_per_h / INNOCENT_PER_H)))
        fast = line is not None and bool(STARTS_PER_H[line] > FAST_PER_H)
        return THRESHOLD + own + FAST_MORE * fast + GUESSED_MORE * guessed

    def rate_L_per_h(self, drawdown_L: float, timing_share: float) -> tuple[float, float, float] | None:
        """The suspected leak: likely, and its 90 % band; None without one. [L/h]"""
        if self._line is None:
            return None
        likely = float(STARTS_PER_H[self._line]) * drawdown_L
        return self._rate.band(likely, int(self._lines.events[self._line]), timing_share)

    def forget(self) -> None:
        """The plumbing may be another; the boat's habits are not."""
        self._lines.reset()
        self._rate.clear()
        self._line = None

    def state(self) -> dict[str, Any]:
        """As JSON values; of the sums only those above 0."""
        pairs = zip(self._lines.sums, self._lines.events, strict=True)
        return {
            "sums": {str(n): [round(float(s), 2), int(e)] for n, (s, e) in enumerate(pairs) if s > 0},
            "line": self._line,
            "intervals": self._rate.state(),
            "innocents": self._innocents.state(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        self._lines.restore(state["sums"])
        self._line = state["line"]
        self._rate.restore(state["intervals"])
        self._innocents.restore(state["innocents"])
