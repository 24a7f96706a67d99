"""A sender's readings, minute by minute."""

from collections.abc import Sequence
from statistics import fmean

from monitor.records import Column

TRIMMED = 0.2
"""Share of the medians left out at each end."""


def heard(column: Column | None) -> list[tuple[float, float]]:
    """Times and values of the readings that were available."""
    if column is None:
        return []
    return [(t, v) for t, v in zip(column.times_s, column.values, strict=True) if v == v]


def pieces(level: Column, piece_s: float) -> list[tuple[float, list[float]]]:
    """The readings that were available, by the minute they fall in."""
    found: dict[float, list[float]] = {}
    for at_s, value in heard(level):
        found.setdefault(at_s // piece_s * piece_s, []).append(value)
    return list(found.items())


def trimmed_mean(values: Sequence[float]) -> float:
    cut = int(TRIMMED * len(values))
    return fmean(sorted(values)[cut : len(values) - cut])
