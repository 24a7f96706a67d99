"""What a crowd of runs says of the load that made them, what a night adds to it, and what it may be."""

from collections.abc import Sequence
from dataclasses import replace
from math import exp, log

import numpy as np

from monitor.estimation.loads.peeling import Layer
from monitor.estimation.loads.trace import Floats
from monitor.records import LoadKind

LEARN = 0.35
"""How much one night weighs against what is known."""
CYCLE_S = (240.0, 5400.0)
REGULAR = 0.55
LEAST_CYCLES = 4
"""A thermostat's runs are minutes long, and much alike."""
PULSE_S = 75.0
"""A run shorter than this is a pulse: pumps, and what somebody switches by mistake. [s]"""
LONG_S = 4 * 3600.0
"""A run longer than this is a light's that burns all night, however small. [s]"""
VARIES_SURE, LONG_SURE = (0.7, 0.85, 0.87), (0.7, 0.9)
"""By the nights it was seen in."""
SHORT_SURE = ((14.0, 0.83), (8.0, 0.75), (0.0, 0.6))
"""By its watts."""
SUGGESTED = (
    ("pump", "pulses", (35.0, 180.0), (1.0, 75.0)),
    ("freezer", "cycles", (58.0, 140.0), (600.0, 5400.0)),
    ("fridge", "cycles", (25.0, 80.0), (240.0, 3600.0)),
    ("lamp", "runs", (2.0, 40.0), (60.0, 60000.0)),
)
"""A name to offer, by how it runs, its watts and its seconds: common practice at 12 V."""


def describe(
    load: str, runs: Sequence[tuple[float, ...]], nights: int, pulses: bool, seen_s: float
) -> LoadKind:
    """A load from its runs of (up W, down W, seconds)."""
    up, down, seconds = (np.array(column) for column in zip(*runs, strict=True))
    logs = np.log(np.maximum(seconds, 1.0))
    spread = float(np.std(logs - np.median(logs)))
    start_W, watts = float(np.median(up)), float(np.median(down))
    scatter = float(np.median(np.abs(np.concatenate((up - start_W, down - watts))))) * 1.48
    on_s = float(np.median(seconds))
    cycles = (
        not pulses
        and len(runs) >= LEAST_CYCLES * nights
        and spread < REGULAR
        and CYCLE_S[0] <= on_s <= CYCLE_S[1]
    )
    kind = LoadKind(
        load, start_W, watts, max(0.5, scatter), max(1.0, on_s), min(1.5, max(0.15, robust(logs))),
        "pulses" if pulses else "cycles" if cycles else "runs",
        round(1 - 0.5 / len(runs), 3), len(runs), nights, seen_s,
    )  # fmt: skip
    return replace(kind, confidence=sure(kind), suggestion=suggest(kind))


def suggest(kind: LoadKind) -> str:
    """A name that may be offered; empty where nothing suits."""
    for name, how, (least_W, most_W), (least_s, most_s) in SUGGESTED:
        if kind.how == how and least_W <= kind.watts <= most_W and least_s <= kind.on_s <= most_s:
            return name
    return ""


def sure(kind: LoadKind) -> float:
    """How much of what it is told to have taken it did take: for what cycles and pulses by how many of its
    steps find their other; else as it was on simulated boats, by nights, length and watts."""
    if kind.how in ("cycles", "pulses"):
        return round(kind.confidence, 3)
    rows = VARIES_SURE if kind.how == "varies" else LONG_SURE if kind.on_s >= LONG_S else ()
    if rows:
        return rows[min(kind.nights, len(rows)) - 1]
    return next(share for least_W, share in SHORT_SURE if kind.watts >= least_W)


def learned(kind: LoadKind, layer: Layer, n: int, seen_s: float) -> LoadKind:
    """What a night has taught of a load that was known."""
    found, step_s = layer.found, layer.trace.step_s
    whole = [run for run in layer.runs if run.kind == n and run.up >= 0 and run.down >= 0]
    if not whole or kind.how == "varies":
        return kind
    ups = np.array([found.watts[run.up] for run in whole])
    downs = np.array([-found.watts[run.down] for run in whole])
    seconds = np.array([(found.where[run.down] - found.where[run.up]) * step_s for run in whole])
    far_W = 4 * kind.sd_W + 4
    alone = (np.abs(ups - kind.start_W) < far_W) & (np.abs(downs - kind.watts) < far_W)
    if not alone.any():
        return replace(kind, seen_s=seen_s)
    share = LEARN * min(1.0, float(alone.sum()) / 6)
    up_W, down_W = float(np.median(ups[alone])), float(np.median(downs[alone]))
    spread_W = float(np.std(np.concatenate((ups[alone] - up_W, downs[alone] - down_W))))
    on_s = float(np.median(seconds[alone]))
    logs = np.log(np.maximum(seconds[alone], 1.0))
    on_spread = robust(logs)
    lost = float(np.sum(layer.free & (np.abs(np.abs(found.watts) - kind.watts) < 2 * kind.sd_W + 2)))
    paired = 2 * len(whole) / (2 * len(whole) + lost)
    known = replace(
        kind,
        start_W=(1 - share) * kind.start_W + share * up_W,
        watts=(1 - share) * kind.watts + share * down_W,
        sd_W=(1 - share) * kind.sd_W + share * max(0.5, spread_W),
        on_s=exp((1 - share) * log(kind.on_s) + share * log(max(on_s, 1.0))),
        on_spread=(1 - share) * kind.on_spread + share * min(1.5, max(0.1, on_spread)),
        confidence=round((1 - share) * kind.confidence + share * paired, 3),
        runs=kind.runs + len(whole),
        nights=kind.nights + 1,
        seen_s=seen_s,
    )
    return replace(known, confidence=sure(known), suggestion=suggest(known))


def robust(values: Floats) -> float:
    """The standard deviation of most of them, by the median of their distances: strangers do not widen it."""
    return 1.48 * float(np.median(np.abs(values - np.median(values))))
