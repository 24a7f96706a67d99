"""Rare refills in time: cumulative sums of evidence for a grid of leaks, and the band of one rate."""

from collections.abc import Sequence
from math import log, sqrt


def climb(total: float, gain: float) -> float:
    """One step of a cumulative sum: S <- max(0, S + gain). Page, Biometrika 41 (1954) 100."""
    return max(0.0, total + gain)


class RefillSums:
    """For each of several leaks a sum of the log likelihood ratio against no leak.

    A leak that alone would start the pump `rate` times an hour, 1/rate hours after each stop,
    makes a refill after a rest T likely in two ways, p being the chance that somebody drew a
    little meanwhile and l_0 the rate of innocent refills:

        on time, `EARLY` <= T rate <= `LATE`:    (1 - p) rate / (LATE - EARLY)
        hastened by a draw, at any T before:      p rate

    so a refill pays ln(1 + that / l_0), waiting costs p rate dt, and a rest past `LATE` refutes.
    """

    EARLY, LATE = 0.75, 1.2
    """A pressure switch repeats within some 3 %, a learned drawdown is known within 10 %, and the
    rates stand 1.4 apart."""

    def __init__(self, rates_per_h: Sequence[float]) -> None:
        self.rates_per_h = tuple(rates_per_h)
        self.sums = [0.0] * len(self.rates_per_h)
        self.events = [0] * len(self.rates_per_h)
        """How many refills each line has counted since it last stood at 0."""

    def wait(self, hours: float, drawn: float) -> None:
        """The pump did not start for so long, while a small draw had this chance."""
        for n, rate in enumerate(self.rates_per_h):
            if self.sums[n]:
                self.sums[n] = climb(self.sums[n], -drawn * rate * hours)
                if not self.sums[n]:
                    self.events[n] = 0

    def refill(self, innocent_per_h: float, rest_h: float, drawn: float) -> None:
        """The pump refilled after so long a rest."""
        for n, rate in enumerate(self.rates_per_h):
            if rate < 4 * innocent_per_h or rest_h * rate > self.LATE:
                continue
            extra = drawn * rate
            if rest_h * rate >= self.EARLY:
                extra += (1 - drawn) * rate / (self.LATE - self.EARLY)
            self.sums[n] = climb(self.sums[n], log(1 + extra / innocent_per_h))
            self.events[n] += bool(self.sums[n])

    def refute(self, rest_h: float) -> None:
        """The pump has rested for so long: leaks that would have started it begin anew."""
        for n in range(len(self.sums) - 1, -1, -1):
            if self.rates_per_h[n] * rest_h <= self.LATE:
                break
            self.sums[n], self.events[n] = 0.0, 0

    def reset(self) -> None:
        self.sums = [0.0] * len(self.sums)
        self.events = [0] * len(self.events)

    def best(self, least: int = 1) -> int | None:
        """Which line has the highest sum, of those that have counted `least` refills."""
        lines = [n for n, count in enumerate(self.events) if count >= least]
        return max(lines, key=self.sums.__getitem__, default=None)


def gamma_quantile(shape: float, z: float) -> float:
    """Quantile of a gamma distribution of scale 1, at the normal quantile `z`.

    Wilson and Hilferty, Proc. Nat. Acad. Sci. 17 (1931) 684; within 3 % for shape >= 1 and the
    5 and 95 % points.
    """
    if shape <= 0:
        return 0.0
    return float(shape * max(0.0, 1 - 1 / (9 * shape) + z / (3 * sqrt(shape))) ** 3)


def rate_band(events: int, hours: float, z: float = 1.645) -> tuple[float, float]:
    """The 90 % band of a Poisson rate after so many events in so many hours. [1/h]

    Garwood, Biometrika 28 (1936) 437.
    """
    return gamma_quantile(events, -z) / hours, gamma_quantile(events + 1, z) / hours
