"""Counting rare starts: cumulative sums against a grid of rates, and the band of one rate."""

from collections.abc import Sequence
from math import log, sqrt


def climb(total: float, gain: float) -> float:
    """One step of a cumulative sum: S <- max(0, S + gain). Page, Biometrika 41 (1954) 100."""
    return max(0.0, total + gain)


class Mixture:
    """A cumulative sum of the log likelihood ratio for each of several added rates.

    Time without an event costs a line its rate, an event pays it ln((l_0 + rate) / l_0), with
    l_0 the rate that is innocent at that moment. Lorden, Ann. Math. Statist. 42 (1971) 1897.
    """

    def __init__(self, rates_per_h: Sequence[float], highest: float) -> None:
        self.rates_per_h = tuple(rates_per_h)
        self.highest = highest
        """Where a sum is held, so that the end of a long trouble is seen in time."""
        self.sums = [0.0] * len(self.rates_per_h)
        self.events = [0] * len(self.rates_per_h)
        """How many events each line has counted since it last stood at 0."""

    def wait(self, hours: float) -> None:
        """Nothing happened for so long."""
        for n, rate in enumerate(self.rates_per_h):
            if self.sums[n]:
                self.sums[n] = climb(self.sums[n], -rate * hours)
                if not self.sums[n]:
                    self.events[n] = 0

    def event(self, innocent_per_h: float) -> None:
        """One event, at a time when innocence makes them at this rate."""
        for n, rate in enumerate(self.rates_per_h):
            if rate >= 1.5 * innocent_per_h:
                gain = log((innocent_per_h + rate) / innocent_per_h)
                self.sums[n] = min(self.highest, climb(self.sums[n], gain))
            self.events[n] += bool(self.sums[n])

    def refute(self, rate_per_h: float) -> None:
        """Rates above this one cannot be: their lines begin anew."""
        for n in range(len(self.sums) - 1, -1, -1):
            if self.rates_per_h[n] <= rate_per_h:
                break
            self.sums[n], self.events[n] = 0.0, 0

    def reset(self) -> None:
        self.refute(0.0)

    def best(self) -> tuple[float, int]:
        """The highest sum, and how many events it has counted."""
        n = max(range(len(self.sums)), key=self.sums.__getitem__)
        return self.sums[n], self.events[n]


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
