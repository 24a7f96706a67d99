"""The power that is used, on an even grid: what loads are told from."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

LEAST_STEP_S = 1.0
HOLD_STEPS = 3
"""A reading holds for so many steps of the grid: a message lost is no gap."""
MADE_S = 120.0
"""And a charger's meter for so long. [s]"""


LATE_S = 4.0
"""By so much its readings may come later than the bank's. [s]"""
MOST_W = 1e6
"""No house uses more: beyond it nothing was heard. [W]"""


class Trace(NamedTuple):
    """Power used from the house by step, from `start_s` (UTC) on; NaN where nothing was heard. [W]"""

    start_s: float
    step_s: float
    watts: Floats

    @property
    def end_s(self) -> float:
        return self.start_s + self.step_s * len(self.watts)

    def at_s(self) -> Floats:
        """The begin of each step."""
        at_s: Floats = self.start_s + self.step_s * np.arange(len(self.watts), dtype=np.float64)
        return at_s

    def part(self, start_s: float, end_s: float) -> "Trace":
        """What lies between; its begin is a step's."""
        first = max(0, int(np.ceil((start_s - self.start_s) / self.step_s - 1e-9)))
        last = max(first, int(np.ceil((end_s - self.start_s) / self.step_s - 1e-9)))
        return Trace(self.start_s + first * self.step_s, self.step_s, self.watts[first:last])


NOTHING = Trace(0.0, 1.0, np.empty(0))


def trace_of(
    amps_utc_s: Floats,
    amps: Floats,
    volts_utc_s: Floats,
    volts: Floats,
    made: tuple[Floats, Floats] | None = None,
    *,
    nominal_V: float = 12.8,
) -> Trace:
    """What was used, from a bank's current (positive into it) and voltage as they were reported.

    Args:
        made: Times and power of what chargers made meanwhile, where it is metered. [W]
        nominal_V: Stands in where no voltage was heard. [V]

    used = made - net. Its steps are as long as readings usually lie apart, a second at least.
    """
    known = np.isfinite(amps) & np.isfinite(amps_utc_s)
    at_s, amps = np.asarray(amps_utc_s)[known], np.asarray(amps)[known]
    if at_s.size < 2:
        return NOTHING
    order = np.argsort(at_s, kind="stable")
    at_s, amps = at_s[order], amps[order]
    apart_s = float(np.median(np.diff(at_s)))
    step_s = max(LEAST_STEP_S, round(apart_s, 1))
    there = np.isfinite(volts)
    held_V = (
        np.interp(at_s, np.asarray(volts_utc_s)[there], np.asarray(volts)[there])
        if there.any()
        else np.full(at_s.size, nominal_V)
    )
    start_s = float(np.floor(at_s[0]))
    count = int((at_s[-1] - start_s) / step_s) + 1
    used = _held(at_s, -amps * held_V, start_s, step_s, count, HOLD_STEPS * step_s)
    if made is not None and made[0].size:
        used = _calmest(used, np.nan_to_num(_held(*made, start_s, step_s, count, MADE_S)), step_s)
    return Trace(start_s, step_s, used)


def believable(trace: Trace) -> Trace:
    """With nothing used where less than nothing was, and nothing heard where no house uses so much."""
    watts = np.where(np.abs(trace.watts) <= MOST_W, trace.watts, np.nan)
    return trace._replace(watts=np.maximum(watts, 0.0))


def together(traces: list[Trace]) -> Trace:
    """Several house banks as one: where one of them was not heard, nothing is known."""
    traces = [trace for trace in traces if trace.watts.size]
    if len(traces) < 2:
        return traces[0] if traces else NOTHING
    step_s = max(trace.step_s for trace in traces)
    start_s, end_s = max(t.start_s for t in traces), min(t.end_s for t in traces)
    count = max(0, int((end_s - start_s) / step_s))
    at_s = start_s + step_s * np.arange(count)
    total = np.zeros(count)
    for trace in traces:
        total += trace.watts[((at_s - trace.start_s) / trace.step_s).astype(int)]
    return Trace(start_s, step_s, total)


def _calmest(net: Floats, made: Floats, step_s: float) -> Floats:
    """Both added, with the charger's meter shifted in time by what makes the sum calmest: its messages come
    later than the bank's. What then stands for one reading alone is a matter of their order."""
    most = max(1, round(LATE_S / step_s))
    shifts = range(-1, most + 1)
    sums = [
        net + np.concatenate((made[max(0, n) :], np.full(max(0, n), made[-1])))[: len(made)]
        if n >= 0
        else net + np.concatenate((made[:1], made[:-1]))
        for n in shifts
    ]
    used = min(sums, key=lambda found: float(np.nansum(np.abs(np.diff(found)))))
    if len(used) < 3:
        return used
    middle = np.median(np.lib.stride_tricks.sliding_window_view(used, 3), axis=1)
    calm: Floats = np.concatenate((used[:1], middle, used[-1:]))
    return np.where(np.isnan(calm), used, calm)


def _held(at_s: Floats, values: Floats, start_s: float, step_s: float, count: int, hold_s: float) -> Floats:
    """The newest value at the middle of each step; NaN where it is older than `hold_s`."""
    if not count:
        return np.empty(0)
    wanted = start_s + step_s * (np.arange(count) + 0.5)
    newest = np.searchsorted(at_s, wanted, side="right") - 1
    found = np.asarray(values, np.float64)[np.maximum(newest, 0)].copy()
    found[(newest < 0) | (wanted - at_s[np.maximum(newest, 0)] > hold_s)] = np.nan
    return found
