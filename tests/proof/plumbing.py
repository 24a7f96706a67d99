"""The plumbing's watch on an independent pipework: is what it names what is wrong?

Boats of two to four people, pumps of 8 to 14 L/min, accumulators of 0.75 to 2 L, tanks of 260 to 600 L,
heaters of 20 to 60 L whose temperature is known on half of the boats. They live four days in health; then
each fault begins at midnight, in one of three sizes, and is judged within a day, a cooling heater and a tight
system at seven in the morning. Bursts, dry pumps, stuck switches and wires that are off are judged within a
minute of their first tell-tale, by current, by pressure, or by both, awake, asleep, under way and away.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from random import Random
from typing import Any

from monitor.estimation.plumbing_verdicts import (
    ABOVE,
    BURST,
    CHECK_VALVE,
    COOLING,
    DOWNSTREAM,
    DRY,
    FLAT,
    RELIEF,
    SILENT,
    STRAINER,
    STUCK,
    TAP,
    TIGHT,
    UNKNOWN,
)
from tests.estimation.water.pipework_watch import MODES, PipeWatch
from tests.proof.harness import Case, Row, outside

CODE = (
    "monitor/estimation/plumbing*.py",
    "monitor/estimation/leak*.py",
    "monitor/estimation/suspicion.py",
    "monitor/estimation/innocents.py",
    "monitor/estimation/evidence.py",
    "monitor/estimation/resting.py",
    "monitor/estimation/poisson.py",
    "monitor/estimation/bouts.py",
    "monitor/estimation/rests.py",
    "monitor/estimation/heater.py",
    "monitor/estimation/density.py",
    "monitor/estimation/pump.py",
    "monitor/estimation/accumulator.py",
    "tests/estimation/water/pipework.py",
    "tests/estimation/water/pipework_watch.py",
    "tests/proof/plumbing.py",
)
INSTRUMENTS = (("current",), ("pressure",), ("current", "pressure"))
HEALTHY_DAYS = 4
LEAST_RIGHT = 0.95
WITHIN_S = 60.0
JUDGED_AT_H = {TIGHT: 7.0, COOLING: 7.0, TAP: 6.0, FLAT: 12.0, DOWNSTREAM: 16.0, CHECK_VALVE: 16.0}
"""Hours after midnight at which the verdict is read; a day where none is named."""
CLEAN_DAYS = 365
MOST_FALSE = 1
"""Alerts that none deserved, in all clean years together; an alarm there must not be at all."""
MOST_GONE = {"free": 0.15, "guarded": 0.08}
INNOCENT = (TIGHT, COOLING, UNKNOWN)
AT_ONCE = {BURST: "burst", DRY: "dry", STUCK: "stuck", SILENT: "signal"}


def _faults(drawdown_L: float, tank_L: float) -> dict[str, tuple[dict[str, Any], ...]]:
    """What changes in the pipework, in three sizes: leaks in refills an hour, one before the pump in shares
    of the tank an hour. What the tank must tell is at least a quarter of a per cent of it an hour: less hides
    in a sender's drift."""
    return {
        DOWNSTREAM: tuple({"leak_L_per_h": n * drawdown_L} for n in (1, 3, 8)),
        CHECK_VALVE: tuple({"back_L_per_h": max(n * drawdown_L, 0.0025 * tank_L)} for n in (2, 4, 8)),
        ABOVE: tuple({"above_L_per_h": s * tank_L} for s in (0.0025, 0.006, 0.015)),
        FLAT: tuple({"drawdown_share": s} for s in (0.35, 0.15, 0.05)),
        RELIEF: tuple({"weep_L_per_h": n * drawdown_L, "hot_days": 1.0} for n in (6, 10, 15)),
        TAP: tuple({"leak_L_per_h": q} for q in (20.0, 60.0, 250.0)),
        STRAINER: tuple({"flow_share": s} for s in (0.7, 0.6, 0.5)),
        SILENT: ({}, {}, {}),
        COOLING: ({"hot_days": 1.0},) * 3,
        TIGHT: ({}, {}, {}),
    }


def verdicts(seed: int) -> Row:
    """By fault: what was told a day after its onset; by fault and mode: what was told within a minute."""
    rng, row = Random(seed + 1_000_000), dict[str, Any]()
    instruments = INSTRUMENTS[seed % 3]
    slow = PipeWatch(seed, instruments, seed % 2 == 0, rng.choice((20.0, 40.0, 60.0)))
    slow.listens = False
    for _ in range(HEALTHY_DAYS):
        slow.day()
    for fault, sizes in _faults(slow.pipes.drawdown_L, slow.pipes.capacity_L).items():
        ill, size = slow.another(), rng.randrange(3)
        for what, value in sizes[size].items():
            setattr(ill.pipes, what, value)
        if fault == SILENT:
            ill.signal = ("dead", "on")[seed % 2]
        if fault == COOLING:  # The evening's heating is the onset.
            ill.day()
        ill.day(JUDGED_AT_H.get(fault, 24.0))
        row[fault] = ill.verdict().verdict
        row[f"{fault}, size"] = size
    return row | _status_alone(seed, slow.another(*INSTRUMENTS[2])) | _at_once(seed, slow, instruments)


def _status_alone(seed: int, boat: PipeWatch) -> Row:
    """A hose off, only the pump's signal and the tank known: the clause, and what has gone by then."""
    mode = MODES[seed % len(MODES)]
    told = boat.run_on("burst", mode, minutes=14.0)
    at_s, clause = next((t for t in told if t[1].startswith("burst by")), (float("inf"), "none"))
    litres = at_s * 1.1 * boat.pipes.flow_L_per_min / 60
    where = "free" if mode == MODES[0] else "guarded"
    return {f"{where} clause": clause, f"{where} share gone": round(litres / boat.pipes.capacity_L, 4)}


def _at_once(seed: int, boat: PipeWatch, instruments: tuple[str, ...]) -> Row:
    row: Row = {}
    for n, (fault, kind) in enumerate(AT_ONCE.items()):
        if kind == "signal" and "current" not in instruments:
            continue
        mode = MODES[(seed + n) % len(MODES)]
        told = boat.another().run_on(kind, mode, minutes=3.0, bore_mm=(9.0, 11.0, 13.0)[seed // 3 % 3])
        first = next(((s, what.split(" by ")[0]) for s, what in told if s <= WITHIN_S), None)
        row[f"{fault}, at once"] = UNKNOWN if first is None else first[1]
        row[f"{fault}, after s"] = None if first is None else round(first[0], 1)
    return row


def verdict_figures(rows: Sequence[Row]) -> dict[str, float]:
    """The confusion matrix, a figure for each pair that occurred, and the share that was right."""
    pairs: Counter[tuple[str, str]] = Counter()
    for row in rows:
        pairs.update((k, v) for k, v in row.items() if isinstance(v, str) and not k.endswith("clause"))
    found: dict[str, float] = {f"{truth} > {told}": n for (truth, told), n in sorted(pairs.items())}
    for truth in dict.fromkeys(key for key, _ in sorted(pairs)):
        told = {verdict: n for (key, verdict), n in pairs.items() if key == truth}
        right = sum(n for verdict, n in told.items() if verdict in _right(truth))
        what = "share not accused" if truth in INNOCENT else "share right"
        found[f"{what}: {truth}"] = right / sum(told.values())
    for where in MOST_GONE:
        gone = [row[f"{where} share gone"] for row in rows if f"{where} share gone" in row]
        found[f"most of the tank gone at the alarm, status alone: {where}"] = max(gone, default=0.0)
    return found


def _right(truth: str) -> tuple[str, ...]:
    """A heater that cools and a tight system are innocent: they must not be accused of anything."""
    return INNOCENT if truth in INNOCENT else (truth.removesuffix(", at once"),)


def verdict_misses(found: Mapping[str, float]) -> list[str]:
    bars = {name: (LEAST_RIGHT, 1.0) for name in found if name.startswith("share ")}
    for where, most in MOST_GONE.items():
        bars[f"most of the tank gone at the alarm, status alone: {where}"] = (0.0, most)
    return outside(found, bars)


def clean(seed: int) -> Row:
    """A year of showers, washing down, filling, guests and cooling heaters: what was told of the plumbing."""
    boat = PipeWatch(seed + 2_000_000, INSTRUMENTS[seed % 3], thermometer=seed % 2 == 0)
    for _ in range(CLEAN_DAYS):
        boat.day()
    told = Counter(f"{rule}{' ' + grade if grade else ''}" for _, rule, grade, _ in boat.alarms)
    return {"days": CLEAN_DAYS} | dict(sorted(told.items()))


def clean_figures(rows: Sequence[Row]) -> dict[str, float]:
    found: Counter[str] = Counter({"alarms": 0, "all alerts": 0})
    for row in rows:
        found.update(row)
    own = {"days", "alarms", "all alerts"}
    found["all alerts"] = sum(n for what, n in found.items() if what not in own)
    found["alarms"] = sum(found[fault] for fault in (BURST, DRY, STUCK))
    return {what: float(n) for what, n in found.items()}


def clean_misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, {"alarms": (0.0, 0.0), "all alerts": (0.0, MOST_FALSE)})


CASES = [
    Case(
        "plumbing-verdicts",
        "Of each single fault at least 95 % are named right: within a day, or within 60 s of the first"
        " tell-tale for bursts, dry pumps, stuck switches and wires that are off, where current or"
        " pressure is known.",
        CODE,
        range(200),
        verdicts,
        verdict_figures,
        verdict_misses,
        (7,),
    ),
    Case(
        "plumbing-clean",
        "Showers, washing down, filling, guests and cooling heaters raise no alarm in 365 days on any of"
        " eight boats, and at most one false warning on all of them.",
        CODE,
        range(8),
        clean,
        clean_figures,
        clean_misses,
        (),
    ),
]
