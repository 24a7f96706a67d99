"""Whether the cautious day keeps its promise: rolling forecasts over years of differing households.

Every household lives its year with a bank that fills and overflows; the watch hears what was used and
what was taken. Every day after the first thirty a forecast is made and compared with what the same
household then did, beside an oracle that knows the true distribution (`household_oracle`) and beside
common practice: the mean of the last seven days and 1.28 standard deviations of it, and a mean weighted
with a half-life of four days. Forecasts for which even the oracle's cautious day lies past the ten days
cannot miss and are not counted.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.forecast import Forecast, forecast
from monitor.estimation.use import UseHistory
from tests.proof.harness import Case, Row, outside
from tests.proof.household_kinds import PLACE, START_S, YEAR, Floats, beginning, live, recorded
from tests.proof.household_oracle import (
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


class Said(NamedTuple):
    """One way to forecast, over the counted days of a year: likely and cautious days."""

    likely: Floats
    cautious: Floats


def run(seed: int) -> Row:
    """One household-year: how often the truth came before the cautious day, and how far off."""
    year = _year(seed)
    truth = truths(year.budget, (year.sun - year.used)[None], year.holds)[0]
    counts = counted(year.oracle.cautious)
    ours, as_taken, usual, weighted = _lived(year, seed)
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
        "as_taken_early": int(((truth < as_taken.cautious) & counts).sum()),
    }
    for name, said in (("", ours), ("as_taken_", as_taken), ("usual_", usual), ("weighted_", weighted)):
        row[f"{name}miss_days"] = round(float(np.abs(said.likely - truth)[counts].mean()), 6)
        row[f"{name}pinball"] = _loss(truth, said.cautious, counts)
    guests = counts & year.guests
    row["with_guests"] = int(guests.sum())
    for name, said in (("", ours), ("as_taken_", as_taken)):
        row[f"{name}guests_bias_days"] = round(float((said.likely - truth)[guests].sum()), 6)
    return row


def _year(seed: int) -> Year:
    kind = kind_of(seed)
    if kind is None:
        year = recorded(seed - MADE_UP)
        oracle = of_record(seed - MADE_UP)
        nobody = np.zeros(LAST - LEARN, dtype=bool)
        return Year(
            year.name, year.used, year.sun, year.position, year.budget_Wh, year.holds_Wh, oracle, nobody
        )  # fmt: skip
    life = live(kind, np.random.default_rng(1000 + seed), 0, YEAR, beginning(1))
    known = of_kind(kind)
    oracle = Verdict(known.says(life.states)[0], *known[1:])
    aboard = np.array([bool(state.guests[0]) for state in life.states])
    guests = np.array([aboard[day - 5 : day + 1].all() for day in range(LEARN, LAST)])
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
    for day in range(LAST):
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
            said[2].append(_usual(net[-7:], year.budget))
            said[3].append(_weighted(net, year.budget))
        for hour in range(day * 24, day * 24 + 24):
            use.add(
                START_S + hour * 3600.0, "at anchor", "awake", year.used[hour], taken[hour], 3600.0,
                taken[hour] if sunny else None, full[hour] * 3600.0,
            )  # fmt: skip
    ours, as_taken, usual, weighted = (Said(*np.array(which).T) for which in said)
    return ours, as_taken, usual, weighted


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


def _usual(week: Floats, budget: float) -> tuple[float, float]:
    """Days by the 7-day mean, and at its mean + 1.28 sd / sqrt(days to go)."""
    mean = max(float(week.mean()), 1.0)
    days = min(budget / mean, HORIZON)
    high = mean + 1.28 * float(week.std(ddof=1)) / np.sqrt(max(days, 1.0))
    return days, min(budget / high, HORIZON)


def _weighted(net: Floats, budget: float) -> tuple[float, float]:
    """Days by an exponentially weighted mean of net use, half-life four days."""
    weight = 0.5 ** (np.arange(len(net), 0, -1) / 4.0)
    days = min(budget / max(float(np.average(net, weights=weight)), 1.0), HORIZON)
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
        found[f"{kind}: pinball to the oracle's"] = pooled("pinball", here) / pooled("oracle_pinball", here)
        found[f"{kind}: likely error to the half-life mean's"] = (
            pooled("miss_days", here) / pooled("weighted_miss_days", here)
        )  # fmt: skip
        if "sun" in kind:
            found[f"{kind}: share, sun as it was taken"] = float(
                total["as_taken_early"][here].sum() / seen[here].sum()
            )
            for name, what in (("pinball", "pinball"), ("miss_days", "likely error")):
                found[f"{kind}: {what} to that with the sun as it was taken"] = (
                    pooled(name, here) / pooled(f"as_taken_{name}", here)
                )  # fmt: skip
    for name, what in (("guests_bias_days", ""), ("as_taken_guests_bias_days", ", sun as it was taken")):
        found[f"sunny, guests aboard for five days: mean of likely day minus truth, days{what}"] = float(
            total[name].sum() / total["with_guests"].sum()
        )
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "household-years": (30, 1000),
        "truth before the cautious day, share": (0.08, 0.12),
        "household-years outside the oracle's 99 %": (0, 0),
        "pinball loss at 10 %, ratio to the usual band's": (0.0, 0.75),
        "its ratio to the half-life mean's": (0.0, 1.0),
    }
    return outside(found, bars)


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
        ),
        seeds=range(MADE_UP + RECORDED),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0,),
    )
]
