"""Canned nights: loads aboard by the half minute, and the account of any span of them, from a seed.

The figures are made up and plausible. What is used is the sum of the loads by construction, so that a
page's sums can be checked against the steps.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.estimation.unusual import UNNAMED
from monitor.records import Account, LoadKind, NightLedger, Reason, Share, Usual

STEP_S = 30.0
SHIP_S = HOUR_S
"""Marram's clock in winter, ahead of UTC."""
SILENT_H = (3.2, 3.8)
"""By the ship's clock, every night: nothing is heard."""
FREEZER, FRIDGE, LAMPS, HEATER, UNSURE = "load 1", "load 2", "load 3", "load 4", "load 7"


def kinds(now_s: float) -> tuple[LoadKind, ...]:
    """Two named by the crew, one that waits for its name, one that is hardly told."""
    seen_s = now_s - 6.6 * HOUR_S
    return (
        LoadKind(HEATER, 96.0, 93.0, 2.0, 540.0, 0.3, "runs", 0.83, 31, 9, seen_s, "cabin heater", ""),
        LoadKind(UNSURE, 62.0, 61.0, 4.0, 1300.0, 0.7, "runs", 0.55, 7, 3, seen_s - DAY_S, "", ""),
        LoadKind(
            FREEZER, 71.0, 46.0, 1.2, 1020.0, 0.1, "cycles", 0.97, 212, 13, seen_s, "freezer", "freezer"
        ),
        LoadKind(FRIDGE, 44.0, 34.0, 1.1, 660.0, 0.2, "cycles", 0.9, 160, 13, seen_s, "", "fridge"),
        LoadKind(LAMPS, 22.0, 22.0, 0.8, 9000.0, 0.6, "runs", 0.88, 24, 12, seen_s, "cabin lamps", "lamp"),
    )


def _steps(during: Interval, warm: float = 1.0) -> tuple[Any, dict[str, Any]]:
    """Ship's hours and the watts by key; NaN where nothing is heard."""
    n = max(1, round(during.seconds / STEP_S))
    t = during.start_s + STEP_S * np.arange(n)
    hour = (t + SHIP_S) / HOUR_S % 24
    rng = np.random.default_rng(int(during.start_s) % 2**31)
    watts = {
        "standing load": np.full(n, 31.0) + 0.6 * np.sin(t / 7000),
        FREEZER: np.where(t % 2700 < 960 * warm, 46.0, 0.0),
        FRIDGE: np.where((t + 700) % 2400 < 640, 34.0, 0.0),
        LAMPS: np.where((hour > 18.4) & (hour < 22.7), 22.0, 0.0),
        HEATER: np.where((hour > 6.9) & (hour < 7.9) & (t % 1100 < 540), 93.0, 0.0),
        UNSURE: np.where((hour > 20.2) & (hour < 20.6), 61.0, 0.0),
        "navigation lights": np.where((hour > 18.1) | (hour < 8.6), 9.0, 0.0),
        "pressure pump": np.where(rng.random(n) < 0.006 * ((hour > 7) & (hour < 23)), 70.0, 0.0),
        "unexplained": np.abs(3.0 * rng.normal(size=n)) + np.where(abs(hour - 7.6) < 0.05, 900.0, 0.0),
        "made": np.clip(np.sin((hour - 9) / 8.5 * np.pi), 0, None) * 210 * ((hour > 9) & (hour < 17.5)),
    }
    alternator = (t // DAY_S % 3 == 0) & (hour > 10) & (hour < 11.5)
    watts["made"] = watts["made"] + np.where(alternator, 640.0, 0.0)
    silent = (hour > SILENT_H[0]) & (hour < SILENT_H[1])
    return hour, {key: np.where(silent, np.nan, w) for key, w in watts.items()}


def account(during: Interval, now_s: float, warm: float = 1.0) -> Account | None:
    """A span explained by the canned loads; None before and after all that was watched."""
    if during.end_s > now_s + 1 or during.start_s < now_s - 40 * DAY_S or during.seconds < STEP_S:
        return None
    hour, watts = _steps(during, warm)
    names = {kind.id: kind for kind in kinds(now_s)}
    Wh = {key: float(np.nansum(w)) * STEP_S / HOUR_S for key, w in watts.items()}
    by = []
    for key, of_it in Wh.items():
        if key in ("unexplained", "made"):
            continue
        kind = names.get(key)
        sure = kind.confidence if kind else 0.93 if key == "standing load" else 1.0
        runs = None if key == "standing load" else _runs(watts[key], during)
        by.append(Share(kind.name if kind else key, of_it, sure, runs, key if kind else ""))
    used_Wh = sum(v for key, v in Wh.items() if key != "made")
    unnamed_Wh = sum(share.Wh for share in by if not share.what)
    sun_Wh = Wh["made"] - _alternator_Wh(during, hour)
    sources = (Share("panels", sun_Wh, 1.0), Share("alternator", Wh["made"] - sun_Wh, 1.0))
    gaps = _runs(np.isnan(watts["made"]) * 1.0, during)
    ledger = NightLedger(
        during.start_s, during.end_s, used_Wh, Wh["made"], Wh["made"] - used_Wh, tuple(by),
        Wh["unexplained"] + unnamed_Wh, 21.0, {"house": 12.98, "navigation": 12.61}, 4, 78.0, 63.0,
        sum(b - a for a, b in gaps), False, made_by=sources, gaps=gaps, place="at anchor",
    )  # fmt: skip
    return Account(ledger, STEP_S, {key: tuple(float(v) for v in w) for key, w in watts.items()})


def _alternator_Wh(during: Interval, hour: Any) -> float:
    t = during.start_s + STEP_S * np.arange(len(hour))
    return float(np.sum((t // DAY_S % 3 == 0) & (hour > 10) & (hour < 11.5))) * 640.0 * STEP_S / HOUR_S


def _runs(watts: Any, during: Interval) -> tuple[tuple[float, float], ...]:
    on = np.concatenate(([False], np.nan_to_num(watts) > 0, [False]))
    edges = np.flatnonzero(np.diff(on.astype(int)))
    return tuple(
        (during.start_s + STEP_S * float(a), during.start_s + STEP_S * float(b))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def nights(spans: Sequence[tuple[float, float]], now_s: float) -> tuple[NightLedger, ...]:
    """A ledger each, the freezer colder or warmer by the night; the last ones against their usual."""
    found = []
    for n, span in enumerate(spans):
        told = account(Interval(*span), now_s, warmth(n))
        assert told is not None
        found.append(told.ledger)
    by_Wh = {s.load or s.what: s.Wh for s in found[0].by}
    usual = Usual(float(np.median([n.used_Wh for n in found if n.used_Wh])), 23.0, 12, "at anchor", by_Wh)
    return tuple(replace(n, usual=usual) if i >= 3 else n for i, n in enumerate(found))


def warmth(night: int) -> float:
    """How much longer than usual the freezer ran in that night."""
    return 0.72 + 0.07 * (night * 5 % 9)


def changed() -> tuple[Reason, ...]:
    return (
        Reason("changed: ran longer", {"name": "freezer", "load": FREEZER, "more": 40.0, "Wh": 58.0}),
        Reason("changed: took more", {"name": UNNAMED, "load": UNSURE, "Wh": 12.0}),
    )


def current(during: Interval) -> tuple[Any, Any]:
    """UTC seconds and what the house bank takes [A]: the same loads, at some 13.2 V."""
    _, watts = _steps(during)
    used = sum(w for key, w in watts.items() if key != "made")
    t = during.start_s + STEP_S * np.arange(len(watts["made"]))
    return t, (watts["made"] - used) / 13.2
