"""A night of one current shared out among the loads that are known, the standing load, and a rest."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from monitor.clock import Interval
from monitor.estimation.loads.floor import floor
from monitor.estimation.loads.peeling import Layer, peel_strong, settle, tame
from monitor.estimation.loads.steps import steps
from monitor.estimation.loads.trace import Floats, Trace, believable
from monitor.records import LoadKind

Runs = tuple[tuple[float, float], ...]


class Named(NamedTuple):
    """Parallel to the trace's steps inside the span; at each, the loads and the standing load together are
    no more than what was used. [W]"""

    trace: Trace
    used_W: Floats
    """NaN where nothing was heard."""
    watts: dict[str, Floats]
    """By the load's id."""
    standing_W: Floats
    runs: dict[str, Runs]
    """UTC intervals; they may begin before the span or end after it."""
    confidence: dict[str, float]

    @property
    def unexplained_W(self) -> Floats:
        """What no load that is known took, and what does not stand."""
        rest: Floats = np.nan_to_num(self.used_W) - self.standing_W
        for watts in self.watts.values():
            rest = rest - watts
        return np.maximum(rest, 0.0)


class Peeled(NamedTuple):
    """A trace, layer by layer."""

    strong: Layer
    weak: Layer
    stands: Floats


def strong(kinds: Sequence[LoadKind]) -> tuple[LoadKind, ...]:
    """Those whose steps show through everything."""
    return tuple(kind for kind in kinds if kind.how in ("cycles", "pulses"))


def weak(kinds: Sequence[LoadKind]) -> tuple[LoadKind, ...]:
    """Those that somebody switches."""
    return tuple(kind for kind in kinds if kind.how in ("runs", "varies"))


def switched_kinds(kinds: Sequence[LoadKind]) -> tuple[LoadKind, ...]:
    """Those of them whose steps are all alike."""
    return tuple(kind for kind in kinds if kind.how == "runs")


def peeled(trace: Trace, kinds: Sequence[LoadKind]) -> Peeled:
    """Take out what cycles and pulses, then what is switched; see what stands below it."""
    first = peel_strong(trace, strong(kinds), steps(trace), switched_kinds(kinds))
    second = settle(first.rest, weak(kinds), tame(first.rest, steps(first.rest)))
    return Peeled(first, second, floor(calm(second)))


def calm(layer: Layer) -> Trace:
    """What is left, unknown while something varies."""
    left = layer.rest.watts.copy()
    for run in layer.runs:
        if layer.kinds[run.kind].how == "varies":
            left[run.first : run.last] = np.nan
    return layer.rest._replace(watts=left)


def name_loads(
    trace: Trace,
    kinds: Sequence[LoadKind],
    during: Interval,
    *,
    known: Sequence[tuple[str, Floats]] = (),
) -> Named:
    """Share out what was used in `during`; the trace should reach some hours beyond, so that runs are whole.

    Args:
        known: Loads whose own state or meter tells their power by step of the trace [W]: they are taken
            out first and told under their names.
    """
    trace = believable(trace)
    part = trace.part(during.start_s, during.end_s)
    first = round((part.start_s - trace.start_s) / trace.step_s)
    inside = slice(first, first + len(part.watts))
    rest = trace.watts.copy()
    watts: dict[str, Floats] = {}
    runs: dict[str, Runs] = {}
    for name, taken in known:
        watts[name] = np.nan_to_num(np.minimum(np.nan_to_num(taken), rest))
        rest = rest - watts[name]
    told = peeled(trace._replace(watts=rest), kinds)
    for layer in (told.strong, told.weak):
        for n, kind in enumerate(layer.kinds):
            watts[kind.id] = np.minimum(layer.watts[n], np.nan_to_num(rest))
            rest = rest - watts[kind.id]
            own = [(run.first, run.last) for run in layer.runs if run.kind == n]
            runs[kind.id] = _intervals(trace, own, during)
    standing = np.minimum(told.stands, np.nan_to_num(rest))
    rest = rest - standing
    for kind in kinds:
        watts.setdefault(kind.id, np.zeros(len(rest)))
        runs.setdefault(kind.id, ())
    for run in told.weak.runs:
        kind = told.weak.kinds[run.kind]
        if kind.how == "varies":
            here = slice(run.first, run.last)
            watts[kind.id][here] = np.nan_to_num(rest)[here]
            rest[here] -= watts[kind.id][here]
    return Named(
        part,
        part.watts,
        {name: column[inside] for name, column in watts.items()},
        standing[inside],
        runs,
        {kind.id: kind.confidence for kind in kinds},
    )


def _intervals(trace: Trace, spans: Sequence[tuple[int, int]], during: Interval) -> Runs:
    told = [tuple(trace.start_s + trace.step_s * n for n in own) for own in spans]
    return tuple((a, b) for a, b in told if a < during.end_s and b > during.start_s)
