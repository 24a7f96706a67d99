"""Steps in a trace: when something was switched, and by how many watts.

A trace is cut where it changes: at jumps between two readings, and where the means before and after
differ. Then the cuts that mean least are taken out again, one by one, by
z^2 = d^2 / (s^2 (1/n_1 + 1/n_2)), the square of what two stretches differ by over its own scatter s,
until all that stay are sure (bottom-up segmentation).
"""

from heapq import heapify, heappop, heappush
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.trace import Floats, Trace

Ints = npt.NDArray[np.int64]

LEAST_W = 2.2
"""Smaller steps are lost in what the instruments show. [W]"""
LEAST_NOISE_W = 0.5
SURE_Z2 = 30.0
WIDE = 6
"""So many readings are averaged on both sides to find small steps."""
NEAR = 12
"""And so many on both sides tell the size of a step: a motor's power sinks after it has started."""
SAME_S = 2.5
"""Steps of one sign so close are one. [s]"""
START_S, START_STEPS, LONGEST_START_S = 4.0, 2.5, 8.0
"""A motor's start is over by then. [s]"""
START_LEFT = 0.2
"""What is left of a start, at least, as a share of it: else it was a whole short run."""


class Steps(NamedTuple):
    """Parallel arrays in order of time; `where` is the first grid step after the change."""

    where: Ints
    watts: Floats
    """Up is positive."""
    sd_W: Floats
    bounds: Ints
    """The grid steps at which levels begin,"""
    levels: Floats
    """and the mean power of each. [W]"""
    least_W: float
    """The power never stays below. [W]"""
    spans: Ints
    """Begin and end of what was heard without a gap: one row each."""

    def stretch(self) -> Ints:
        """For each step, in which of `spans` it lies."""
        found: Ints = np.searchsorted(self.spans[:, 0], self.where, side="right")
        return found


def noise_W(watts: Floats) -> float:
    """The scatter of single readings, from the differences of neighbours."""
    apart = np.diff(watts[np.isfinite(watts)])
    quiet = np.abs(apart)[np.abs(apart) > 0] if apart.size else apart
    if not quiet.size:
        return LEAST_NOISE_W
    # Readings in coarse steps hide small scatter: their mean square is taken, without the jumps.
    limit = 4 * float(np.median(quiet))
    calm = apart[np.abs(apart) <= limit]
    return max(LEAST_NOISE_W, float(np.sqrt(np.mean(calm**2) / 2)))


def steps(trace: Trace) -> Steps:
    """Every step of a trace; over a gap there is none."""
    watts = trace.watts
    scatter = noise_W(watts)
    wheres, levels, edges = [], [], []
    heard = np.isfinite(watts)
    corners = np.flatnonzero(np.diff(np.concatenate(([0], heard.astype(np.int8), [0]))))
    for first, last in zip(corners[::2], corners[1::2], strict=True):
        bounds, means = _stretch(watts[first:last], scatter)
        wheres.append(bounds + first)
        levels.append(means)
        edges.append(_edges(watts[first:last], bounds, first, scatter, trace.step_s))
    if not edges:
        none = np.empty(0)
        whole = none.astype(np.int64)
        return Steps(whole, none, none, whole, none, 0.0, whole.reshape(0, 2))
    columns = np.concatenate(edges, axis=1)
    return Steps(
        columns[0].astype(np.int64), columns[1], columns[2], np.concatenate(wheres), np.concatenate(levels),
        _least(watts, trace.step_s), corners.reshape(-1, 2),
    )  # fmt: skip


def _least(watts: Floats, step_s: float) -> float:
    """What stands through all of it: the lower edge of means of a minute."""
    per = max(1, round(60.0 / step_s))
    whole = watts[: len(watts) // per * per].reshape(-1, per).mean(axis=1)
    whole = whole[np.isfinite(whole)]
    return max(0.0, float(np.percentile(whole, 2.0))) if whole.size else 0.0


def _stretch(watts: Floats, scatter: float) -> tuple[Ints, Floats]:
    """Where the levels of a stretch without a gap begin, and their means."""
    total = np.concatenate(([0.0], np.cumsum(watts)))
    jumps = np.flatnonzero(np.abs(np.diff(watts)) > max(4 * scatter, LEAST_W)) + 1
    cuts = np.unique(np.concatenate(([0], jumps, _slow(watts, total, scatter)))).astype(np.int64)
    kept = _prune(cuts.tolist(), total, len(watts), scatter)
    bounds = np.array(kept, np.int64)
    ends = np.append(bounds[1:], len(watts))
    return bounds, (total[ends] - total[bounds]) / (ends - bounds)


def _slow(watts: Floats, total: Floats, scatter: float) -> Ints:
    """Where means of a few readings before and after differ most."""
    if len(watts) < 2 * WIDE + 1:
        return np.empty(0, np.int64)
    at = np.arange(WIDE, len(watts) - WIDE + 1)
    apart = np.abs((total[at + WIDE] - 2 * total[at] + total[at - WIDE]) / WIDE)
    top = np.ones(apart.size, bool)
    for shift in range(1, WIDE // 2 + 1):
        top[shift:] &= apart[shift:] >= apart[:-shift]
        top[:-shift] &= apart[:-shift] >= apart[shift:]
    sure = apart > max(LEAST_W, 3.5 * scatter * np.sqrt(2 / WIDE))
    found: Ints = at[top & sure]
    return found


def _prune(cuts: list[int], total: Floats, length: int, scatter: float) -> list[int]:
    """Take out the cut that means least, again and again."""
    count = len(cuts)
    ends = [*cuts[1:], length]
    before, after = list(range(-1, count - 1)), [*range(1, count), -1]
    alive = [True] * count
    sums = total.tolist()
    least, variance = LEAST_W, scatter**2

    def meaning(n: int) -> float:
        """How sure the cut at the begin of stretch n is; small where it is not a step at all."""
        p = before[n]
        n1, n2 = ends[p] - cuts[p], ends[n] - cuts[n]
        apart = (sums[ends[n]] - sums[cuts[n]]) / n2 - (sums[ends[p]] - sums[cuts[p]]) / n1
        z2 = apart * apart / (variance * (1 / n1 + 1 / n2))
        return float(z2) if abs(apart) >= least else min(float(z2), SURE_Z2 * abs(apart) / least * 0.99)

    heap = [(meaning(n), n) for n in range(1, count)]
    heapify(heap)
    while heap and heap[0][0] < SURE_Z2:
        value, n = heappop(heap)
        if not alive[n] or value != meaning(n):
            continue
        alive[n] = False
        p, after_n = before[n], after[n]
        ends[p], after[p] = ends[n], after_n
        if after_n >= 0:
            before[after_n] = p
            heappush(heap, (meaning(after_n), after_n))
        if p > 0:
            heappush(heap, (meaning(p), p))
    return [cut for cut, still in zip(cuts, alive, strict=True) if still]


def _edges(watts: Floats, bounds: Ints, offset: int, scatter: float, step_s: float) -> Floats:
    """Steps between the levels of one stretch: where, watts, and their scatter."""
    ends = np.append(bounds[1:], len(watts))
    first = [float(watts[a : min(b, a + NEAR)].mean()) for a, b in zip(bounds, ends, strict=True)]
    last = [float(watts[max(a, b - NEAR) : b].mean()) for a, b in zip(bounds, ends, strict=True)]
    size = np.minimum(ends - bounds, NEAR)
    begins_s = max(START_S, min(START_STEPS * step_s, LONGEST_START_S))
    found: list[list[float]] = []
    n = 1
    while n < len(bounds):
        began, m = n, n
        # Level n may be the middle of a change, or a motor's start: then the step ends at a later one.
        while m + 1 < len(bounds):
            short_s = (ends[m] - bounds[m]) * step_s
            so_far, more = first[m] - last[began - 1], first[m + 1] - last[m]
            if (short_s < SAME_S and so_far * more > 0) or (
                short_s < begins_s and so_far > 0 > more and so_far + more > START_LEFT * so_far
            ):
                m += 1
            else:
                break
        apart = first[m] - last[began - 1]
        sd = scatter * np.sqrt(1 / size[m] + 1 / size[began - 1])
        if abs(apart) >= LEAST_W:
            found.append([bounds[began] + offset, apart, float(sd)])
        n = m + 1
    return np.array(found).reshape(-1, 3).T
