"""Whether the cautious day of water keeps its promise: rolling forecasts over years of differing households.

The watch hears what was used, how warm it was, and how many are aboard where the crew tells it. Every day
after the first thirty a forecast is made and compared with what the same household then used, beside an
oracle that knows the true distribution (`water_oracle`) and beside common practice (`rolling`). Forecasts
for which even the oracle's cautious day lies past twenty days cannot miss and are not counted.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_reach import reach
from tests.proof.harness import Case, Row, outside
from tests.proof.oracle import LEARN, START_S, YEAR, Floats, Verdict, kind_of
from tests.proof.rolling import BARS, MADE_UP, RECORDED, Pool, Said, errors, promises, usual, weighted
from tests.proof.water_households import AHEAD, KINDS, beginning, live, recorded
from tests.proof.water_oracle import HORIZON, of_kind, of_record, truths

_LEAST_L = 0.01


class Year(NamedTuple):
    """A household-year as it went, what the watch is told of it, and what the oracle says of it."""

    name: str
    used: Floats
    told_heads: npt.NDArray[np.int64]
    air_C: Floats
    """By day; NaN where there is no instrument."""
    budget: float
    oracle: Verdict


def run(seed: int) -> Row:
    """One household-year: how often the truth came before the cautious day, and how far off."""
    year = _year(seed)
    truth = truths(year.budget, year.used[None])[0]
    counts = HORIZON.counted(year.oracle.cautious)
    ours, by_week, by_half_life = _lived(year, seed)
    ways = {"": ours, "usual_": by_week, "weighted_": by_half_life}
    return promises(year.name, truth, ours, year.oracle, counts) | errors(ways, truth, counts)


def _year(seed: int) -> Year:
    kind = kind_of(KINDS, seed)
    if kind is None:
        year = recorded(seed - MADE_UP)
        heads, unknown = np.full(YEAR, year.heads), np.full(YEAR, np.nan)
        return Year(year.name, year.used, heads, unknown, year.budget_L, of_record(seed - MADE_UP))
    life = live(kind, np.random.default_rng(4000 + seed), 0, YEAR, beginning(1))
    heads = life.heads[0] if kind.told else np.full(YEAR, kind.heads)
    return Year(kind.name, life.used[0], heads, life.air_C[0], kind.budget_L, of_kind(kind).of(life.states))


def _lived(year: Year, seed: int) -> tuple[Said, Said, Said]:
    """The year day by day: our forecasts and both usual ones."""
    a_head = float(year.used.sum() / year.told_heads.sum())
    use = WaterUse(int(year.told_heads[0]))
    said: list[list[tuple[float, float]]] = [[], [], []]
    for day in range(HORIZON.last):
        now_s = START_S + day * 86400.0
        if day >= LEARN:
            # Whoever was aboard yesterday still is, as far as the crew has told.
            use.heads = int(year.told_heads[day - 1])
            drawn = reach(now_s, 0.0, use, "at anchor", "awake", a_head, seed=seed * YEAR + day)
            likely, cautious = (drawn.days(year.budget, u) for u in (drawn.likely, drawn.cautious))
            said[0].append((min(likely, AHEAD), min(cautious, AHEAD)))
            past = year.used[: day * 24].reshape(day, 24).sum(axis=1)
            said[1].append(usual(past[-7:], year.budget, AHEAD, _LEAST_L))
            said[2].append(weighted(past, year.budget, AHEAD, _LEAST_L))
        for hour in range(24):
            at_s = now_s + hour * 3600.0
            litres, heads = float(year.used[day * 24 + hour]), int(year.told_heads[day])
            use.used(at_s, "at anchor", "awake", litres, 3600.0, heads)
            use.air(at_s, float(year.air_C[day]), 3600.0)
    ours, by_week, by_half_life = (Said(*np.array(which).T) for which in said)
    return ours, by_week, by_half_life


def figures(rows: Sequence[Row]) -> dict[str, float]:
    pool = Pool(rows)
    found = pool.figures()
    for kind, here in pool.kinds():
        found[f"{kind}: share"] = pool.share("early", here)
        found[f"{kind}: pinball to the usual band's"] = pool.ratio("pinball", "usual_pinball", here)
        found[f"{kind}: likely error to the half-life mean's"] = pool.ratio(
            "miss_days", "weighted_miss_days", here
        )
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, BARS | {"kinds": (3.0, 100.0)})


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
            "tests/proof/oracle.py",
            "tests/proof/rolling.py",
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
