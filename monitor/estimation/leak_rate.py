"""How big a leak is: litres over hours of the refills that came on time, and their band."""

from collections import deque
from math import sqrt

from monitor.estimation.poisson import rate_band

EARLY, LATE = 0.75, 1.25
"""A refill that comes so near to its time, of the likeliest leak, came on time."""
KEPT = 16
UNSURE = 1.1
"""A drawdown is known within 10 % (common practice)."""
SCATTER = 0.06
"""Of one interval: a pressure switch's 3 %, a drip's own."""


class LeakRate:
    """The latest refills that nothing explains: hours of rest before each, litres gone in them."""

    def __init__(self) -> None:
        self._kept: deque[tuple[float, float]] = deque(maxlen=KEPT)

    def add(self, hours: float, litres: float) -> None:
        self._kept.append((hours, litres))

    def clear(self) -> None:
        self._kept.clear()

    def band(self, likely_L_per_h: float, events: int, timing_share: float) -> tuple[float, float, float]:
        """Likely, low and high (90 %), of the last `events` refills; `timing_share` is how exactly
        a refill is timed, of its length. [L/h]"""
        latest = list(self._kept)[-max(events, 1) :]
        on_time = [(h, v) for h, v in latest if EARLY <= h * likely_L_per_h / v <= LATE]
        if not on_time:
            return likely_L_per_h, likely_L_per_h / 2, likely_L_per_h * 2
        hours, litres = (sum(column) for column in zip(*on_time, strict=True))
        value, count = litres / hours, len(on_time)
        regular = 1.645 * SCATTER / sqrt(count)
        low = value * (1 - regular)
        if count < 3:
            low = min(low, rate_band(count, hours)[0] * litres / count)
        unsure = UNSURE + 0.25 * timing_share
        return value, low / unsure, unsure * value * (1 + regular)

    def state(self) -> list[list[float]]:
        return [[round(h, 4), round(v, 4)] for h, v in self._kept]

    def restore(self, state: list[list[float]]) -> None:
        self._kept.extend((h, v) for h, v in state)
