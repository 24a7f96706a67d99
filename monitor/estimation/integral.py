"""What a reading amounts to over a span, at the rate it was heard."""

import numpy as np

from monitor.records import Column

HOLD = 5.0
"""A reading holds for at most this many times the usual spacing: longer is a gap, not a value."""
SLOWEST_S = 60.0


def held(column: Column, start_s: float, end_s: float, before: float = np.nan) -> tuple[float, float]:
    """Integral over [start, end) of readings that each hold until the next, and the time covered.

    integral = sum(value_i * (t_{i+1} - t_i)) [unit * s], with `before` holding from the start to
    the first reading. NaN readings ("not available") cover nothing.

    Args:
        column: Readings in order. [unit]
        start_s: Begin of the span. [s]
        end_s: End of the span. [s]
        before: The reading that still held when the span began; NaN where none did. [unit]

    Returns:
        (integral [unit s], covered [s]); (0, 0) where nothing is known.
    """
    times = np.asarray(column.times_s)
    edges = np.concatenate(([start_s], np.clip(times, start_s, end_s), [end_s]))
    values = np.concatenate(([before], np.asarray(column.values)))
    spans = np.diff(edges)
    np.maximum(spans, 0.0, out=spans)
    if times.size > 1:
        longest = max(HOLD * float(np.median(np.diff(times))), 1.0)
        np.minimum(spans, max(longest, SLOWEST_S), out=spans)
    known = ~np.isnan(values)
    return float(np.dot(values[known], spans[known])), float(spans[known].sum())
