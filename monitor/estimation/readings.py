"""A minute's readings as arrays."""

import numpy as np
import numpy.typing as npt

from monitor.records import Column

Floats = npt.NDArray[np.float64]


def heard(column: Column) -> tuple[Floats, Floats]:
    """Times and values in order of time, "not available" left out."""
    times, values = np.asarray(column.times_s, np.float64), np.asarray(column.values, np.float64)
    known = np.isfinite(values)
    if not known.all():
        times, values = times[known], values[known]
    if times.size > 1 and (times[1:] < times[:-1]).any():
        order = np.argsort(times, kind="stable")
        times, values = times[order], values[order]
    return times, values


def standing_at(times: Floats, heard_at: Floats, values: Floats) -> Floats:
    """The reading that stood at each of `times`; empty where none was heard."""
    if not values.size:
        return values
    return values[np.maximum(np.searchsorted(heard_at, times, side="right") - 1, 0)]
