"""Rare events in time: a cumulative sum, and the band of a rate."""

from math import sqrt


def climb(total: float, gain: float) -> float:
    """One step of a cumulative sum: S <- max(0, S + gain). Page, Biometrika 41 (1954) 100."""
    return max(0.0, total + gain)


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
