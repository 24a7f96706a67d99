"""Whether the cautious day of water keeps its promise: rolling forecasts over years of differing households.

The watch hears what was used, how warm it was, and how many are aboard where the crew tells it. Every day
after the first thirty a forecast is made and compared with what the same household then used, beside an
oracle that knows the true distribution (`water_oracle`) and beside common practice: the mean of the last
seven days and 1.28 standard deviations of it, and a mean weighted with a half-life of four days. Forecasts
for which even the oracle's cautious day lies past twenty days cannot miss and are not counted.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_reach import reach
from tests.proof.harness import Case, Row, outside
from tests.proof.water_households import START_S, YEAR, Floats, beginning, live, recorded
from tests.proof.water_oracle import (
    HORIZON,
    LAST,
    LEARN,
    Verdict,
    counted,
    kind_of,
    of_kind,
    of_record,
    truths,
    worst,
)  # fmt: skip

MADE_UP = 36
RECORDED = 12


class Year(NamedTuple):
    """A household-year as it went, what the watch is told of it, and what the oracle says of it."""

    name: str
    used: Floats
    told_heads: npt.NDArray[np.int64]
    air_C: Floats
    """By day; NaN where there is no instrument."""
    budget: float
    oracle: Verdict


class Said(NamedTuple):
    """One way to forecast, over the days of a year: likely and cautious days."""

    likely: Floats
    cautious: Floats


def run(seed: int) -> Row:
    """One household-year: how often the truth came before the cautious day, and how far off."""
    year = _year(seed)
    truth = truths(year.budget, year.used[None])[0]
    counts = counted(year.oracle.cautious)
    ours, usual, weighted = _lived(year, seed)
    early = truth < ours.cautious
    row: Row = {
        "kind": year.name,
        "forecasts": int(counts.sum()),
        "early": int((early & counts).sum()),
        "oracle_early": int(((truth < year.oracle.cautious) & counts).sum()),
        "lowest_share": round(year.oracle.lowest_share, 6),
        "highest_share": round(year.oracle.highest_share, 6),
        "worst": round(worst(early, counts), 6),
        "oracle_worst": round(worst(truth < year.oracle.cautious, counts), 6),
        "oracle_worst_of_100": round(year.oracle.worst, 6),
        "oracle_pinball": _loss(truth, year.oracle.cautious, counts),
    }
    for name, said in (("", ours), ("usual_", usual), ("weighted_", weighted)):
        row[f"{name}miss_days"] = round(float(np.abs(said.likely - truth)[counts].mean()), 6)
        row[f"{name}pinball"] = _loss(truth, said.cautious, counts)
    return row


def _year(seed: int) -> Year:
    kind = kind_of(seed)
    if kind is None:
        year = recorded(seed - MADE_UP)
        heads, unknown = np.full(YEAR, year.heads), np.full(YEAR, np.nan)
        return Year(year.name, year.used, heads, unknown, year.budget_L, of_record(seed - MADE_UP))
    life = live(kind, np.random.default_rng(4000 + seed), 0, YEAR, beginning(1))
    known = of_kind(kind)
    oracle = Verdict(known.says(life.states)[0], *known[1:])
    heads = life.heads[0] if kind.told else np.full(YEAR, kind.heads)
    return Year(kind.name, life.used[0], heads, life.air_C[0], kind.budget_L, oracle)


def _lived(year: Year, seed: int) -> tuple[Said, Said, Said]:
    """The year day by day: our forecasts and both usual ones."""
    a_head = float(year.used.sum() / year.told_heads.sum())
    use = WaterUse(int(year.told_heads[0]))
    said: list[list[tuple[float, float]]] = [[], [], []]
    for day in range(LAST):
        now_s = START_S + day * 86400.0
        if day >= LEARN:
            # Whoever was aboard yesterday still is, as far as the crew has told.
            use.heads = int(year.told_heads[day - 1])
            drawn = reach(now_s, 0.0, use, "at anchor", "awake", a_head, seed=seed * YEAR + day)
            likely, cautious = (drawn.days(year.budget, u) for u in (drawn.likely, drawn.cautious))
            said[0].append((min(likely, HORIZON), min(cautious, HORIZON)))
            past = year.used[: day * 24].reshape(day, 24).sum(axis=1)
            said[1].append(_usual(past[-7:], year.budget))
            said[2].append(_weighted(past, year.budget))
        for hour in range(24):
            at_s = now_s + hour * 3600.0
            litres, heads = float(year.used[day * 24 + hour]), int(year.told_heads[day])
            use.used(at_s, "at anchor", "awake", litres, 3600.0, heads)
            use.air(at_s, float(year.air_C[day]), 3600.0)
    ours, usual, weighted = (Said(*np.array(which).T) for which in said)
    return ours, usual, weighted


def _usual(week: Floats, budget: float) -> tuple[float, float]:
    """Days by the 7-day mean, and at its mean + 1.28 sd / sqrt(days to go)."""
    mean = max(float(week.mean()), 0.01)
    days = min(budget / mean, HORIZON)
    high = mean + 1.28 * float(week.std(ddof=1)) / np.sqrt(max(days, 1.0))
    return days, min(budget / high, HORIZON)


def _weighted(past: Floats, budget: float) -> tuple[float, float]:
    """Days by an exponentially weighted mean of use, half-life four days."""
    weight = 0.5 ** (np.arange(len(past), 0, -1) / 4.0)
    days = min(budget / max(float(np.average(past, weights=weight)), 0.01), HORIZON)
    return days, days


def _loss(truth: Floats, quantile: Floats, counts: npt.NDArray[np.bool_]) -> float:
    """Mean pinball loss at 10 %."""
    over = truth - quantile
    return round(float(np.maximum(0.1 * over, -0.9 * over)[counts].mean()), 6)


def figures(rows: Sequence[Row]) -> dict[str, float]:
    total = {n: np.array([row[n] for row in rows], dtype=np.float64) for n in rows[0] if n != "kind"}
    kinds = np.array([row["kind"] for row in rows])
    seen = total["forecasts"]
    share = total["early"] / seen
    inside = (share >= total["lowest_share"]) & (share <= total["highest_share"])
    oracle_share = total["oracle_early"] / seen
    oracle_inside = (oracle_share >= total["lowest_share"]) & (oracle_share <= total["highest_share"])

    def pooled(name: str, which: npt.NDArray[np.bool_] | slice = slice(None)) -> float:
        return float(np.average(total[name][which], weights=seen[which]))

    found = {
        "household-years": float(len(rows)),
        "kinds": float(len(set(kinds))),
        "forecasts": float(seen.sum()),
        "truth before the cautious day, share": float(total["early"].sum() / seen.sum()),
        "the oracle's share": float(total["oracle_early"].sum() / seen.sum()),
        "lowest household-year": float(share.min()),
        "highest household-year": float(share.max()),
        "household-years outside the oracle's 99 %": float((~inside).sum()),
        "the oracle's own years outside": float((~oracle_inside).sum()),
        "worst sixty days, mean over the years": float(total["worst"].mean()),
        "the oracle's worst sixty days, mean": float(total["oracle_worst"].mean()),
        "years whose worst sixty days are worse than the oracle's in 99 of 100": float(
            (total["worst"] > total["oracle_worst_of_100"]).sum()
        ),
        "likely day's mean error, days": pooled("miss_days"),
        "its ratio to the 7-day mean's": pooled("miss_days") / pooled("usual_miss_days"),
        "its ratio to the half-life mean's": pooled("miss_days") / pooled("weighted_miss_days"),
        "pinball loss at 10 %, ratio to the usual band's": pooled("pinball") / pooled("usual_pinball"),
        "pinball loss at 10 %, ratio to the oracle's": pooled("pinball") / pooled("oracle_pinball"),
    }
    for kind in dict.fromkeys(kinds.tolist()):
        here = kinds == kind
        found[f"{kind}: share"] = float(total["early"][here].sum() / seen[here].sum())
        found[f"{kind}: pinball to the usual band's"] = (
            pooled("pinball", here) / pooled("usual_pinball", here)
        )  # fmt: skip
        found[f"{kind}: likely error to the half-life mean's"] = (
            pooled("miss_days", here) / pooled("weighted_miss_days", here)
        )  # fmt: skip
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "household-years": (30, 1000),
        "kinds": (3, 100),
        "truth before the cautious day, share": (0.08, 0.12),
        "household-years outside the oracle's 99 %": (0, 0),
        "pinball loss at 10 %, ratio to the usual band's": (0.0, 0.75),
        "its ratio to the half-life mean's": (0.0, 1.0),
    }
    return outside(found, bars)


CASES = [
    Case(
        name="water_days",
        claim="nine times in ten the water lasts to the cautious day",
        code=(
            "monitor/estimation/forecast.py",
            "monitor/estimation/heat.py",
            "monitor/estimation/passage.py",
            "monitor/estimation/use.py",
            "monitor/estimation/water_history.py",
            "monitor/estimation/water_reach.py",
            "tests/proof/draws/*",
            "tests/proof/water_days.py",
            "tests/proof/water_households.py",
            "tests/proof/water_oracle.py",
        ),
        seeds=range(MADE_UP + RECORDED),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0,),
    )
]
