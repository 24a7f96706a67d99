"""The load that always stands, and what wanders above it without steps."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from monitor.estimation.loads.trace import Floats, Trace

SMOOTH_S = 30.0
WINDOW_S, PERCENTILE = 1800.0, 25.0
REACH_S = 4 * 3600.0
"""What stands must stand for so long about its hour: a film of three hours does not. [s]"""
LEAST_ABOVE_W, LEAST_S, PAUSE_S = 6.0, 600.0, 120.0
"""What wanders lies so far above what stands, for so long; a shorter pause ends nothing."""
WANDERS_W = 0.5
"""By how much its means of 30 s differ from one to the next: a lamp's do not."""


RIPPLE_W = 1.5
"""What stands lies so near its lower edge, as a rule."""
WIDE = 4
"""So many such means to both sides tell whether it wanders."""


class Wander(NamedTuple):
    """A stretch of a trace in which something of changing power ran: grid steps, and its mean watts."""

    first: int
    last: int
    watts: float


def floor(rest: Trace) -> Floats:
    """What stands, by step of the trace: the lower edge of what is left, which loads of some hours do
    not lift. [W]"""
    smooth = max(1, round(SMOOTH_S / rest.step_s))
    per = max(1, round(WINDOW_S / (smooth * rest.step_s)))
    blocks = means(rest.watts, smooth)
    edges = np.array([_edge(blocks[n : n + per]) for n in range(0, len(blocks), per)])
    if not np.isfinite(edges).any():
        return np.zeros(len(rest.watts))
    reach = round(REACH_S / WINDOW_S)
    level = np.array(
        [_middle(blocks[n * per : (n + 1) * per], _lasting(edges, n, reach)) for n in range(len(edges))]
    )
    return np.repeat(level, per * smooth)[: len(rest.watts)]


def wanders(rest: Trace, stands: Floats) -> list[Wander]:
    """Where something ran whose power changes all along."""
    per = max(1, round(SMOOTH_S / rest.step_s))
    above = means(rest.watts - stands, per)
    high = np.nan_to_num(above) > LEAST_ABOVE_W
    high = _closed(high, round(PAUSE_S / (per * rest.step_s)))
    corners = np.flatnonzero(np.diff(np.concatenate(([0], high.astype(np.int8), [0]))))
    found = []
    for first, last in zip(corners[::2], corners[1::2], strict=True):
        levels = above[first:last]
        levels = levels[np.isfinite(levels)]
        if len(levels) * per * rest.step_s < LEAST_S:
            continue
        if float(np.median(np.abs(np.diff(levels)))) >= WANDERS_W:
            found.append(
                Wander(int(first) * per, min(int(last) * per, len(rest.watts)), float(levels.mean()))
            )
    return found


def wild_W(trace: Trace) -> Floats:
    """By step of the trace, how much its means of half a minute differ from one to the next: a lamp's do
    not, a charger's or a screen's do all along. [W]"""
    if not len(trace.watts):
        return np.empty(0)
    per = max(1, round(SMOOTH_S / trace.step_s))
    apart = np.abs(np.diff(means(trace.watts, per), prepend=np.nan))
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(np.nan_to_num(apart), WIDE, mode="edge"), 2 * WIDE + 1
    )
    found: Floats = np.repeat(np.median(around, axis=1), per)[: len(trace.watts)]
    return found


def means(values: Floats, count: int) -> Floats:
    """Means of `count` neighbours, NaN where none is known."""
    pad = -len(values) % count
    rows = np.concatenate((values, np.full(pad, np.nan))).reshape(-1, count)
    known = np.isfinite(rows)
    sums, counts = np.where(known, rows, 0.0).sum(axis=1), known.sum(axis=1)
    found: Floats = np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
    return found


def _edge(blocks: Floats) -> float:
    known = blocks[np.isfinite(blocks)]
    return float(np.percentile(known, PERCENTILE)) if known.size else np.nan


def _middle(blocks: Floats, level: float) -> float:
    """What ripples about a level is told by its middle, not by its lower edge."""
    about = blocks[np.abs(blocks - level - RIPPLE_W / 2) < RIPPLE_W]
    return float(np.median(about)) if about.size else level


def _lasting(edges: Floats, n: int, reach: int) -> float:
    """The highest level that stands about window n for `reach` windows, or for all there are."""
    long = min(reach, len(edges))
    spans = [edges[first : first + long] for first in range(max(0, n - long + 1), n + 1)]
    lows = [float(np.nanmin(part)) for part in spans if len(part) == long and np.isfinite(part).any()]
    return max(0.0, max(lows, default=0.0))


def _closed(
    high: "np.ndarray[tuple[int], np.dtype[np.bool_]]", pause: int
) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """With short pauses filled."""
    filled = high.copy()
    corners = np.flatnonzero(np.diff(high.astype(np.int8)))
    for end, begin in pairwise(corners):
        if high[end] and not high[end + 1] and begin - end <= pause:
            filled[end + 1 : begin + 1] = True
    return filled
