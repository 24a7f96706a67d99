"""Bouts: runs so near to each other that they belong to one draw, one refill or one big leak."""

from collections import deque
from dataclasses import dataclass, field
from statistics import median

APART_S = 180.0
"""Runs with at least this rest between them are bouts of their own. [s]"""
STEADY_S, STEADY_RUNS = 1800.0, 9
"""More refills than these, following each other without a rest for this long, are no draw."""
STEADY_SHARE = 0.8


@dataclass(slots=True)
class Bout:
    """One bout so far, and what was before it."""

    start_s: float
    end_s: float
    runs: int = 1
    longest_s: float = 0.0
    steady: int = 0
    """Runs as long as a refill against a leak of one drawdown a rest."""
    rests_s: deque[float] = field(default_factory=lambda: deque(maxlen=15))

    def add(self, start_s: float, end_s: float, refill_s: float, tolerance_s: float) -> None:
        """Another run. While a leak of q = V_d / rest goes on, a refill takes V_d / (Q - q)."""
        rest_s = start_s - self.end_s
        share = refill_s / max(rest_s, 1e-3)
        if share < 1:
            late_s = abs(end_s - start_s - refill_s / (1 - share))
            self.steady += late_s <= tolerance_s / (1 - share)
        self.runs += 1
        self.rests_s.append(rest_s)
        self.end_s = end_s
        self.longest_s = max(self.longest_s, end_s - start_s)

    def cycle_h(self) -> float | None:
        """Hours between starts, if it goes on as a big leak would and as no draw does; else None."""
        lasts = self.end_s - self.start_s >= STEADY_S and self.runs > STEADY_RUNS
        if lasts and self.steady >= STEADY_SHARE * (self.runs - 1):
            return median(self.rests_s) / 3600.0
        return None
