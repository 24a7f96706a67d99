"""What a load takes whose running is known, though it has no meter: from the steps about its runs."""

from collections.abc import Sequence

import numpy as np

from monitor.estimation.loads.trace import Floats, Trace

BESIDE_S, STARTS_S = 6.0, 1.5
"""So long before a run is seen what the house takes without it, and so long after it has started. [s]"""
LEAST_RUNS = 3


def power_of_runs(trace: Trace, runs: Sequence[tuple[float, float]]) -> Floats | None:
    """Its power by step of the trace, from UTC runs: the median of what each run lifted. None where the
    trace shows too few of them, or nothing is lifted. [W]"""
    power = np.zeros(len(trace.watts))
    lifted, shares = [], []
    for start_s, end_s in runs:
        first, last = ((t - trace.start_s) / trace.step_s for t in (start_s, end_s))
        if last <= 0 or first >= len(trace.watts):
            continue
        shares.append((first, last))
        begins = round(first + STARTS_S / trace.step_s)
        before = trace.watts[max(0, int(first) - round(BESIDE_S / trace.step_s) - 1) : max(0, int(first) - 1)]
        while_on = trace.watts[begins : int(last)]
        if np.isfinite(before).any() and np.isfinite(while_on).any():
            lifted.append(float(np.nanmedian(while_on)) - float(np.nanmedian(before)))
    if len(lifted) < LEAST_RUNS or (watts := float(np.median(lifted))) <= 0:
        return None
    for first, last in shares:
        _cover(power, first, last, watts)
    return power


def _cover(power: Floats, first: float, last: float, watts: float) -> None:
    """Add it to the steps that it covers, to those it covers in part by their part."""
    begin, end = max(0, int(np.floor(first))), min(len(power), int(np.ceil(last)))
    steps = np.arange(begin, end)
    power[begin:end] += watts * np.clip(np.minimum(steps + 1, last) - np.maximum(steps, first), 0.0, 1.0)
