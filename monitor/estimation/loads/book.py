"""The loads aboard as they were learned: from each night's steps, without being told anything.

Runs that no known load made are kept for some nights; where they crowd along the watts, a load is found.
What the crew calls it is theirs to say, once; its steps may drift, and its name goes with it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import exp, inf, log
from typing import Any, NamedTuple

import numpy as np

from monitor.clock import DAY_S, Interval
from monitor.estimation.loads.clusters import crowds, place
from monitor.estimation.loads.floor import floor, wanders
from monitor.estimation.loads.kinds import LEARN, LONG_S, PULSE_S, describe, learned, sure
from monitor.estimation.loads.naming import strong, switched_kinds, weak
from monitor.estimation.loads.pairs import Run, pairs
from monitor.estimation.loads.peeling import Layer, peel_strong, settle, tame
from monitor.estimation.loads.steps import steps
from monitor.estimation.loads.trace import Trace, believable
from monitor.records import LoadKind

KEPT_NIGHTS = 5
"""So long runs of nothing known wait for others like them."""
LEAST_RUNS, LEAST_NIGHTS = 3, 2
"""Runs in nights that make a load, or `LEAST_AT_ONCE` in one night."""
LEAST_AT_ONCE = 4
FORGOTTEN_S, NAMED_FORGOTTEN_S = 21 * DAY_S, 120 * DAY_S
"""A load not heard for so long is no longer looked for. [s]"""
SORTS_S = (0.0, PULSE_S, LONG_S, inf)
"""Runs of loads of one power that differ so in length are of different loads. [s]"""
WEAK_W = 3.5
"""Below this what is switched is not told from what motors and screens do. [W]"""
STRONG_W = 14.0
"""What cycles or pulses with less is told as what is switched, if at all. [W]"""
SEEN = 1.0
"""What is usually over in fewer steps of the trace is not seen."""
MOST_KINDS = 24
SAME, SAME_LENGTH = 0.03, 1.2
"""Two loads of one sort are one if their steps lie no farther apart, and the logarithms of their lengths."""


class Kept(NamedTuple):
    """A run that waits: the night it was in (UTC begin), its watts and its length."""

    night_s: float
    up_W: float
    down_W: float
    seconds: float


class LoadBook:
    """Loads learned night by night, their names, and how sure each is."""

    def __init__(self) -> None:
        self._kinds: list[LoadKind] = []
        self._waiting: dict[str, list[Kept]] = {}
        """Runs of no known load, by the layer they were found in."""
        self._number = 0

    @property
    def kinds(self) -> tuple[LoadKind, ...]:
        """Every load that is looked for, the surest first."""
        return tuple(sorted(self._kinds, key=lambda k: -k.confidence))

    def learn(self, trace: Trace, during: Interval) -> None:
        """Take a night; the trace may reach beyond it.

        What cycles and pulses is found first; what is switched, in what is left of the night without it.
        """
        self._age(during.end_s)
        trace = believable(trace)
        found = steps(trace)
        layer = peel_strong(trace, strong(self._kinds), found, switched_kinds(self._kinds))
        self._take(layer, during)
        self._find("strong", pairs(found, trace.step_s, layer.free), during, trace.step_s)
        layer = peel_strong(trace, strong(self._kinds), found, switched_kinds(self._kinds))
        layer = settle(layer.rest, weak(self._kinds), tame(layer.rest, steps(layer.rest)))
        self._take(layer, during)
        self._find("weak", pairs(layer.found, trace.step_s, layer.free), during, trace.step_s)
        layer = settle(layer.trace, weak(self._kinds), layer.found)
        self._wandered(layer.rest, during)
        self._join()

    def label(self, load: str, name: str) -> bool:
        """The crew says what a load is; an empty name withdraws. False where no such load is known."""
        for n, kind in enumerate(self._kinds):
            if kind.id == load:
                self._kinds[n] = replace(kind, name=name.strip())
                return True
        return False

    def state(self) -> dict[str, Any]:
        """As JSON values."""
        fields = list(LoadKind.__slots__)
        return {
            "kinds": [[getattr(kind, field) for field in fields] for kind in self._kinds],
            "waiting": {
                layer: [[round(v, 1) for v in run] for run in runs] for layer, runs in self._waiting.items()
            },
            "number": self._number,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        self._kinds = [LoadKind(*row) for row in state["kinds"]]
        self._waiting = {layer: [Kept(*row) for row in rows] for layer, rows in state["waiting"].items()}
        self._number = state["number"]

    def _age(self, now_s: float) -> None:
        self._kinds = [
            k for k in self._kinds if now_s - k.seen_s <= (NAMED_FORGOTTEN_S if k.name else FORGOTTEN_S)
        ]

    def _take(self, layer: Layer, during: Interval) -> None:
        """What a night has taught of the loads that were known."""
        taught = {kind.id: learned(kind, layer, n, during.end_s) for n, kind in enumerate(layer.kinds)}
        self._kinds = [taught.get(kind.id, kind) for kind in self._kinds]

    def _waited(self, layer: str, runs: Sequence[Run], during: Interval) -> list[Kept]:
        """The runs of this and the last nights that no known load made."""
        waiting = self._waiting.setdefault(layer, [])
        least_W = STRONG_W if layer == "strong" else 0.0
        waiting += [
            Kept(during.start_s, r.up_W, r.down_W, r.seconds)
            for r in runs
            if min(r.up_W, r.down_W) >= least_W
        ]
        nights = sorted({run.night_s for run in waiting})[-KEPT_NIGHTS:]
        return [run for run in waiting if run.night_s in nights]

    def _find(self, layer: str, runs: Sequence[Run], during: Interval, step_s: float) -> None:
        """Where runs that wait crowd, there is a load."""
        waiting = self._waited(layer, runs, during)
        rest: list[Kept] = []
        for least_s, most_s in pairwise(SORTS_S):
            sort = [run for run in waiting if least_s <= run.seconds < most_s]
            of = crowds(np.array([(run.up_W + run.down_W) / 2 for run in sort]))
            rest += [run for run, n in zip(sort, of, strict=True) if n < 0]
            for number in range(int(of.max()) + 1 if of.size else 0):
                own = [run for run, n in zip(sort, of, strict=True) if n == number]
                kind = self._described(own, most_s, during, step_s)
                if kind is None or (kind.how == "runs") != (layer == "weak"):
                    rest += own
                else:
                    self._kinds.append(kind)
        self._waiting[layer] = rest

    def _described(self, own: list[Kept], most_s: float, during: Interval, step_s: float) -> LoadKind | None:
        """A load of these runs; None where they are too few, or too small to be told."""
        nights = len({run.night_s for run in own})
        enough = (len(own) >= LEAST_RUNS and nights >= LEAST_NIGHTS) or len(own) >= LEAST_AT_ONCE
        enough = enough or most_s == inf
        if not enough or len(self._kinds) >= MOST_KINDS:
            return None
        pulses = most_s == PULSE_S
        kind = describe(f"load {self._number + 1}", [run[1:] for run in own], nights, pulses, during.end_s)
        least_W = STRONG_W if kind.how != "runs" else WEAK_W if kind.on_s < LONG_S else 0.0
        if kind.watts < least_W or kind.on_s < SEEN * step_s:
            return None
        self._number += 1
        return kind

    def _wandered(self, rest: Trace, during: Interval) -> None:
        """What changes all along is one load at most."""
        found = wanders(rest, floor(rest))
        if not found:
            return
        known = next((n for n, kind in enumerate(self._kinds) if kind.how == "varies"), None)
        watts = float(np.mean([stretch.watts for stretch in found]))
        on_s = float(np.median([(stretch.last - stretch.first) * rest.step_s for stretch in found]))
        if known is None:
            self._number += 1
            kind = LoadKind(
                f"load {self._number}", watts, watts, 5.0, on_s, 1.0, "varies", 0.0, len(found), 1,
                during.end_s,
            )  # fmt: skip
            self._kinds.append(replace(kind, confidence=sure(kind)))
            return
        kind = self._kinds[known]
        kind = replace(
            kind,
            start_W=(1 - LEARN) * kind.start_W + LEARN * watts,
            watts=(1 - LEARN) * kind.watts + LEARN * watts,
            on_s=exp((1 - LEARN) * log(kind.on_s) + LEARN * log(on_s)),
            runs=kind.runs + len(found),
            nights=kind.nights + 1,
            seen_s=during.end_s,
        )
        self._kinds[known] = replace(kind, confidence=sure(kind))

    def _join(self) -> None:
        """Loads of one sort that have come to be the same are one: the named, or the longer known."""
        kept: list[LoadKind] = []
        for kind in sorted(self._kinds, key=lambda k: (not k.name, -k.nights, -k.runs)):
            same = any(
                (k.how == "pulses") == (kind.how == "pulses")
                and abs(float(place(np.array(k.watts)) - place(np.array(kind.watts)))) < SAME
                and abs(float(place(np.array(k.start_W)) - place(np.array(kind.start_W)))) < SAME
                and abs(log(k.on_s / kind.on_s)) < SAME_LENGTH
                and not kind.name
                for k in kept
            )
            if not same:
                kept.append(kind)
        self._kinds = kept
