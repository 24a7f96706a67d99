"""The leak judge on an independent household: three people, an accumulator of one litre, 11 L/min.

Pump edges are seen to 0.1 s. A heater of 40 L is hot on half of the nights and cools by 40 K in
some, its temperature known to half a degree. A leak begins at 22:00; a night ends at 07:00.
"""

from collections.abc import Mapping, Sequence
from statistics import mean, median

from monitor.estimation.leak import TIGHT
from tests.estimation.water.household import DAY, HOUR, Plumbing
from tests.estimation.water.watching import Watch
from tests.proof.harness import Case, Row

MARRAM = Plumbing(heater_L=40.0)
CODE = (
    "monitor/estimation/leak.py",
    "monitor/estimation/poisson.py",
    "monitor/estimation/heater.py",
    "monitor/estimation/pump.py",
    "monitor/estimation/accumulator.py",
    "tests/estimation/water/household.py",
    "tests/estimation/water/watching.py",
    "tests/proof/water.py",
)
CLEAN_DAYS = 122
SIZES_L_PER_H = (0.2, 0.5, 2.0)
BEFORE_DAYS, AFTER_DAYS = 3, 4


def clean(seed: int) -> Row:
    """Four months without a leak: how often one was suspected, and mornings called tight."""
    watch = Watch(seed, MARRAM)
    tight = 0
    for _ in range(CLEAN_DAYS):
        watch.day()
        tight += watch.judge.verdict()[0] == TIGHT
    return {"nights": CLEAN_DAYS, "false": len(watch.suspected), "tight": tight}


def clean_figures(rows: Sequence[Row]) -> dict[str, float]:
    nights = sum(row["nights"] for row in rows)
    return {
        "clean nights": nights,
        "false verdicts": sum(row["false"] for row in rows),
        "share of midnights called tight": sum(row["tight"] for row in rows) / nights,
    }


def clean_misses(found: Mapping[str, float]) -> list[str]:
    wrong = found["false verdicts"]
    return [f"false verdicts: {wrong:g}, wanted none"] if wrong else []


def leaking(seed: int) -> Row:
    """For each size: hours from the leak's begin to the verdict, the rate told, and its band."""
    row: Row = {}
    for size in SIZES_L_PER_H:
        watch = Watch(100_000 + seed, MARRAM)
        for _ in range(BEFORE_DAYS - 1):
            watch.day()
        watch.house.leak, watch.house.leak_from_s = size, BEFORE_DAYS * DAY - 2 * HOUR
        for _ in range(1 + AFTER_DAYS):
            watch.day()
        found = [at_s for at_s in watch.suspected if at_s > watch.house.leak_from_s]
        told = watch.judge.rate_L_per_h()
        row[f"{size:g} hours"] = (found[0] - watch.house.leak_from_s) / HOUR if found else None
        row[f"{size:g} first"] = None if watch.rate is None else list(watch.rate)
        row[f"{size:g} last"] = None if told is None else list(told)
        row[f"{size:g} bound"] = watch.judge.tight_below_L_per_h()
    return row


def leaking_figures(rows: Sequence[Row]) -> dict[str, float]:
    figures: dict[str, float] = {}
    for size in SIZES_L_PER_H:
        hours = [row[f"{size:g} hours"] or float("inf") for row in rows]
        first = [row[f"{size:g} first"] for row in rows if row[f"{size:g} first"]]
        figures |= {
            f"{size:g} L/h: found the first night": mean(h <= 9 for h in hours),
            f"{size:g} L/h: found within two nights": mean(h <= 33 for h in hours),
            f"{size:g} L/h: median hours": median(hours),
            f"{size:g} L/h: median error of the first rate": median(abs(v / size - 1) for v, _, _ in first),
            f"{size:g} L/h: in the first 90 % band": mean(low <= size <= high for _, low, high in first),
            f"{size:g} L/h: bounds below the leak": sum((row[f"{size:g} bound"] or 9) < size for row in rows),
        }
    return figures


def leaking_misses(found: Mapping[str, float]) -> list[str]:
    least = {
        "0.5 L/h: found the first night": 0.95,
        "2 L/h: found the first night": 0.95,
        "0.2 L/h: found within two nights": 0.90,
    }
    least |= {f"{size:g} L/h: in the first 90 % band": 0.85 for size in SIZES_L_PER_H}
    most = {f"{size:g} L/h: median error of the first rate": 0.25 for size in SIZES_L_PER_H}
    most |= {f"{size:g} L/h: bounds below the leak": 0.0 for size in SIZES_L_PER_H}
    return [
        *(
            f"{name}: {found[name]:.3g}, wanted {bar:g} or more"
            for name, bar in least.items()
            if found[name] < bar
        ),
        *(
            f"{name}: {found[name]:.3g}, wanted {bar:g} or less"
            for name, bar in most.items()
            if found[name] > bar
        ),
    ]


CASES = [
    Case(
        name="tight",
        claim="no false leak verdict in thirteen years of clean nights, a heater cooling in half of them",
        code=CODE,
        seeds=range(40),
        run=clean,
        figures=clean_figures,
        misses=clean_misses,
        slice=(7,),
    ),
    Case(
        name="leak",
        claim="0.5 L/h found the first night in 95 % of runs, 0.2 L/h within two in 90 %, within 25 %",
        code=CODE,
        seeds=range(200),
        run=leaking,
        figures=leaking_figures,
        misses=leaking_misses,
        slice=(3, 58),
    ),
]
