"""Loads taken out of a trace, one layer after the other: what cycles and what pulses first, then what
somebody switches, whose smaller steps show best in what is left."""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.floor import WANDERS_W, wild_W
from monitor.estimation.loads.following import Found, follow
from monitor.estimation.loads.steps import Steps
from monitor.estimation.loads.switching import MOST, switched
from monitor.estimation.loads.trace import Floats, Trace
from monitor.records import LoadKind

SETTLES_S = 150.0
"""A compressor's power sinks to its own so fast (1/e) after it has started. [s]"""
EDGE_BEFORE_S, EDGE_AFTER_S = 1.0, 3.0
"""About its steps what a load leaves is no level: readings lie beside their time, motors start."""
PROFILE_RUNS, PROFILE_S = 5, 900.0
BEFORE, SMOOTH = 8, 7
"""Readings that are averaged: before a start, and to both sides along a profile."""
BESIDE = 5
"""So many readings on both sides stand in there."""


LEAST_WILD_W, WILD, WILD_SD, MOST_WILD_W = 6.0, 6.0, 1.5, 3.0
"""Where the power wanders, steps are told only from so many watts on, and from so many times what it
wanders from half a minute to the next."""


class Layer(NamedTuple):
    """What one layer of loads makes of a trace."""

    trace: Trace
    """Before they were taken out."""
    found: Steps
    runs: list[Found]
    """`kind` counts in `kinds`."""
    free: npt.NDArray[np.bool_]
    """Steps that none of them made."""
    kinds: tuple[LoadKind, ...]
    watts: tuple[Floats, ...]
    """What each took, by step: together no more than there was."""
    rest: Trace


def peel_strong(
    trace: Trace, kinds: Sequence[LoadKind], found: Steps, others: Sequence[LoadKind] = ()
) -> Layer:
    """Take out what cycles and pulses: once, and again with more patience where something wanders."""
    return peel(trace, kinds, wary(peel(trace, kinds, found, others).rest, found), others)


def peel(trace: Trace, kinds: Sequence[LoadKind], found: Steps, others: Sequence[LoadKind] = ()) -> Layer:
    """Take these loads out of a trace of which these are the steps."""
    kinds = tuple(sorted(kinds, key=lambda kind: -kind.confidence))
    runs, free = follow(found, trace.step_s, kinds, others)
    return _taken_out(trace, kinds, found, runs, free)


def settle(trace: Trace, kinds: Sequence[LoadKind], found: Steps) -> Layer:
    """Take out what somebody switches, of a trace without what cycles and pulses."""
    kinds = tuple(sorted(kinds, key=_weight)[:MOST])
    runs = switched(trace, found, kinds, wild_W(trace), found.least_W)
    free = np.ones(len(found.watts), bool)
    free[[n for run in runs for n in (run.up, run.down) if n >= 0]] = False
    return _taken_out(trace, kinds, found, runs, free)


def _weight(kind: LoadKind) -> float:
    """What matters most a night comes first; what varies before all."""
    return -inf if kind.how == "varies" else -kind.watts * kind.on_s * kind.runs / kind.nights


def _taken_out(
    trace: Trace,
    kinds: tuple[LoadKind, ...],
    found: Steps,
    runs: list[Found],
    free: npt.NDArray[np.bool_],
) -> Layer:
    own = [[run for run in runs if run.kind == n] for n in range(len(kinds))]
    plain = [_power(trace, found, kind, own[n], None) for n, kind in enumerate(kinds)]
    together = np.sum(plain, axis=0) if plain else np.zeros(len(trace.watts))
    left = trace.watts
    watts = []
    for n, kind in enumerate(kinds):
        power = plain[n]
        if kind.how == "cycles":
            alone = trace._replace(watts=trace.watts - together + power)
            profile = _profile(alone, found, own[n])
            power = power if profile is None else _power(trace, found, kind, own[n], profile)
        taken = np.clip(np.nan_to_num(left), 0.0, power)
        watts.append(taken)
        left = left - taken
    edges = sorted(
        {n for run in runs for n in (run.up, run.down) if n >= 0 and kinds[run.kind].how != "varies"}
    )
    rest = Trace(trace.start_s, trace.step_s, _mended(left, found.where[edges], trace.step_s))
    return Layer(trace, found, runs, free, kinds, tuple(watts), rest)


def wary(rest: Trace, found: Steps) -> Steps:
    """The steps, in doubt where what is left without known loads wanders."""
    wild = wild_W(rest)[np.minimum(found.where, len(rest.watts) - 1)]
    return found._replace(sd_W=np.hypot(found.sd_W, WILD_SD * np.minimum(wild, MOST_WILD_W)))


def tame(trace: Trace, found: Steps) -> Steps:
    """And without those that something that wanders makes all along."""
    wild = wild_W(trace)[np.minimum(found.where, len(trace.watts) - 1)]
    kept = (wild < WANDERS_W) | (np.abs(found.watts) >= np.maximum(LEAST_WILD_W, WILD * wild))
    sure = wary(trace, found)
    return sure._replace(where=sure.where[kept], watts=sure.watts[kept], sd_W=sure.sd_W[kept])


def _power(trace: Trace, found: Steps, kind: LoadKind, runs: list[Found], profile: Floats | None) -> Floats:
    """What a load took, by step: a motor from what it begins with sinks to its own."""
    power = np.zeros(len(trace.watts))
    for run in runs:
        first, last = run.first, run.last
        start_W, end_W = kind.start_W, kind.watts
        if run.up >= 0 and _alone(found, run.up, start_W):
            start_W = float(found.watts[run.up])
        if run.down >= 0 and _alone(found, run.down, -end_W):
            end_W = -float(found.watts[run.down])
        if kind.how == "varies":
            continue  # what it took is what is left above what stands
        if kind.how != "cycles":
            power[first:last] += 0.5 * (start_W + end_W)
        elif profile is None or run.up < 0:
            begun_s = trace.step_s * (np.arange(last - first) + 0.5)
            power[first:last] += end_W + (start_W - end_W) * np.exp(-begun_s / SETTLES_S)
        else:
            known = min(last - first, len(profile))
            power[first : first + known] += profile[:known] * end_W / profile[-1]
            power[first + known : last] += end_W
    return power


def _profile(trace: Trace, found: Steps, runs: list[Found]) -> Floats | None:
    """How its power goes after it has started: the median of many runs over what was before each, in a trace
    without the other loads that are known. None where the runs are too few."""
    whole = [run for run in runs if run.up >= 0 and run.down >= 0]
    if len(whole) < PROFILE_RUNS:
        return None
    firsts, lasts = (
        np.array(column) for column in zip(*((run.first, run.last) for run in whole), strict=True)
    )
    length = int(min(PROFILE_S / trace.step_s, np.median(lasts - firsts)))
    whole_enough = (lasts - firsts >= length) & (firsts >= BEFORE) & (firsts + length <= len(trace.watts))
    if whole_enough.sum() < PROFILE_RUNS:
        return None
    firsts = firsts[whole_enough]
    before = np.nanmean(trace.watts[firsts[:, None] - 1 - np.arange(BEFORE)[None, :]], axis=1)
    rows = trace.watts[firsts[:, None] + np.arange(length)[None, :]] - before[:, None]
    middle = np.nanmedian(rows, axis=0)
    settled = max(1, round(EDGE_AFTER_S / trace.step_s))
    wide = 2 * SMOOTH + 1
    smooth = np.convolve(np.pad(middle[settled:], SMOOTH, mode="edge"), np.ones(wide) / wide, mode="valid")
    profile: Floats = np.maximum(0.0, np.concatenate((middle[:settled], smooth)))
    return profile if np.isfinite(profile).all() and profile[-1] > 0 else None


def _alone(found: Steps, n: int, watts: float) -> bool:
    """Whether a step was this load's alone."""
    return bool(abs(found.watts[n] - watts) <= 0.2 * abs(watts) + 2.0)


def _mended(watts: Floats, edges: npt.NDArray[np.int64], step_s: float) -> Floats:
    """With what lies about these steps replaced by what stands before and after."""
    mended = watts.copy()
    before, after = round(EDGE_BEFORE_S / step_s), max(1, round(EDGE_AFTER_S / step_s))
    for edge in edges.tolist():
        first, last = max(0, edge - before), min(len(watts), edge + after)
        sides = (mended[max(0, first - BESIDE) : first], watts[last : last + BESIDE])
        known = [sorted(side[np.isfinite(side)].tolist()) for side in sides]
        levels = [side[len(side) // 2] for side in known if side]
        if levels:
            mended[first:edge], mended[edge:last] = levels[0], levels[-1]
    mended[np.isnan(watts)] = np.nan
    return mended
