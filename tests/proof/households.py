"""Whether the cautious day keeps its promise: rolling forecasts over years of differing households.

Every household lives its year with a bank that fills and overflows; the watch hears what was used and
what was taken. Every day after the first thirty a forecast is made and compared with what the same
household then did, beside an oracle that knows the true distribution (`household_oracle`) and beside
common practice (`rolling`). Forecasts for which even the oracle's cautious day lies past the ten days
cannot miss and are not counted.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.forecast import Forecast, forecast
from monitor.estimation.use import UseHistory
from tests.proof.harness import Case, Row, outside
from tests.proof.household_kinds import AHEAD, KINDS, PLACE, beginning, live, recorded
from tests.proof.household_oracle import HORIZON, of_kind, of_record, truths
from tests.proof.oracle import LEARN, START_S, YEAR, Floats, Verdict, kind_of
from tests.proof.rolling import BARS, MADE_UP, RECORDED, Pool, Said, errors, promises, usual, weighted

_LEAST_WH = 1.0


class Year(NamedTuple):
    """A household-year as it went, and what the oracle says of it. [Wh]"""

    name: str
    used: Floats
    sun: Floats
    position: tuple[float, float]
    budget: float
    holds: float
    oracle: Verdict
    guests: npt.NDArray[np.bool_]
    """By day of a forecast: guests have been aboard for five days or more."""


def run(seed: int) -> Row:
    """One household-year: how often the truth came before the cautious day, and how far off."""
    year = _year(seed)
    truth = truths(year.budget, (year.sun - year.used)[None], year.holds)[0]
    counts = HORIZON.counted(year.oracle.cautious)
    ours, as_taken, by_week, by_half_life = _lived(year, seed)
    row = promises(year.name, truth, ours, year.oracle, counts)
    row["as_taken_early"] = int(((truth < as_taken.cautious) & counts).sum())
    ways = {"": ours, "as_taken_": as_taken, "usual_": by_week, "weighted_": by_half_life}
    row |= errors(ways, truth, counts)
    guests = counts & year.guests
    row["with_guests"] = int(guests.sum())
    for name, said in (("", ours), ("as_taken_", as_taken)):
        row[f"{name}guests_bias_days"] = round(float((said.likely - truth)[guests].sum()), 6)
    return row


def _year(seed: int) -> Year:
    kind = kind_of(KINDS, seed)
    if kind is None:
        year = recorded(seed - MADE_UP)
        oracle = of_record(seed - MADE_UP)
        nobody = np.zeros(HORIZON.last - LEARN, dtype=bool)
        return Year(
            year.name, year.used, year.sun, year.position, year.budget_Wh, year.holds_Wh, oracle, nobody
        )  # fmt: skip
    life = live(kind, np.random.default_rng(1000 + seed), 0, YEAR, beginning(1))
    oracle = of_kind(kind).of(life.states)
    aboard = np.array([bool(state.guests[0]) for state in life.states])
    guests = np.array([aboard[day - 5 : day + 1].all() for day in range(LEARN, HORIZON.last)])
    return Year(
        kind.name, life.used[0], life.sun[0], PLACE, kind.budget_Wh, kind.holds_Wh, oracle, guests
    )  # fmt: skip


def _lived(year: Year, seed: int) -> tuple[Said, Said, Said, Said]:
    """The year day by day: our forecasts, those with the sun as it was taken, and both usual ones."""
    taken, full = _taken(year)
    sunny = bool(year.sun.any())
    mean_Wh = float(year.used.mean()) * 24
    use = UseHistory()
    said: list[list[tuple[float, float]]] = [[], [], [], []]
    for day in range(HORIZON.last):
        if day >= LEARN:
            for which, position in enumerate((year.position, None) if sunny else (None, None)):
                if which and not sunny:
                    said[1].append(said[0][-1])
                    continue
                found = forecast(
                    START_S + day * 86400.0, year.budget, 0.0, 0.0, year.holds, use, "at anchor",
                    mean_Wh, mean_Wh if sunny else None, position=position, seed=seed * YEAR + day,
                )  # fmt: skip
                said[which].append(_days(found))
            net = (year.used - taken)[: day * 24].reshape(day, 24).sum(axis=1)
            said[2].append(usual(net[-7:], year.budget, AHEAD, _LEAST_WH))
            said[3].append(weighted(net, year.budget, AHEAD, _LEAST_WH))
        for hour in range(day * 24, day * 24 + 24):
            use.add(
                START_S + hour * 3600.0, "at anchor", "awake", year.used[hour], taken[hour], 3600.0,
                taken[hour] if sunny else None, full[hour] * 3600.0,
            )  # fmt: skip
    ours, as_taken, by_week, by_half_life = (Said(*np.array(which).T) for which in said)
    return ours, as_taken, by_week, by_half_life


def _days(found: Forecast) -> tuple[float, float]:
    return found.likely_days, found.cautious_days


def _taken(year: Year) -> tuple[Floats, Floats]:
    """What the bank took of the sun, and the share of each hour in which it took no more.

    At the reserve the crew runs the engine for half of the budget.
    """
    level = year.budget
    taken, full = np.empty_like(year.sun), np.zeros_like(year.sun)
    for hour, (used, sun) in enumerate(zip(year.used, year.sun, strict=True)):
        taken[hour] = min(sun, used + year.holds - level)
        full[hour] = 1 - taken[hour] / sun if sun > 0 else float(level >= year.holds)
        level += taken[hour] - used
        if level <= 0:
            level = 0.5 * year.budget
    return taken, full


def figures(rows: Sequence[Row]) -> dict[str, float]:
    pool = Pool(rows)
    found = pool.figures()
    for kind, here in pool.kinds():
        found[f"{kind}: share"] = pool.share("early", here)
        found[f"{kind}: pinball to the oracle's"] = pool.ratio("pinball", "oracle_pinball", here)
        found[f"{kind}: likely error to the half-life mean's"] = pool.ratio(
            "miss_days", "weighted_miss_days", here
        )
        if "sun" in kind:
            found[f"{kind}: share, sun as it was taken"] = pool.share("as_taken_early", here)
            for name, what in (("pinball", "pinball"), ("miss_days", "likely error")):
                found[f"{kind}: {what} to that with the sun as it was taken"] = pool.ratio(
                    name, f"as_taken_{name}", here
                )
    for name, what in (("guests_bias_days", ""), ("as_taken_guests_bias_days", ", sun as it was taken")):
        found[f"sunny, guests aboard for five days: mean of likely day minus truth, days{what}"] = float(
            pool.total[name].sum() / pool.total["with_guests"].sum()
        )
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, BARS)


CASES = [
    Case(
        name="households",
        claim="nine times in ten the reserve is not met before the cautious day",
        code=(
            "monitor/estimation/forecast.py",
            "monitor/estimation/array.py",
            "monitor/estimation/passage.py",
            "monitor/estimation/sun.py",
            "monitor/estimation/use.py",
            "tests/proof/household*.py",
            "tests/proof/loads/*",
            "tests/proof/oracle.py",
            "tests/proof/rolling.py",
        ),
        seeds=range(MADE_UP + RECORDED),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0,),
    )
]
