"""How forecasts that are made every day are judged: misses, how far off, beside common practice and oracle.

Common practice is the mean of the last seven days and 1.28 standard deviations of it, and a mean weighted
with a half-life of four days.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tests.proof.harness import Row
from tests.proof.oracle import Floats, Verdict, worst

Which = npt.NDArray[np.bool_] | slice
MADE_UP = 36
RECORDED = 12
BARS = {
    "household-years": (30.0, 1000.0),
    "truth before the cautious day, share": (0.08, 0.12),
    "household-years outside the oracle's 99 %": (0.0, 0.0),
    "pinball loss at 10 %, ratio to the usual band's": (0.0, 0.75),
    "its ratio to the half-life mean's": (0.0, 1.0),
}


class Said(NamedTuple):
    """One way to forecast, over the days of a year: likely and cautious days."""

    likely: Floats
    cautious: Floats


def usual(week: Floats, budget: float, horizon: float, least: float) -> tuple[float, float]:
    """Days by the 7-day mean, and at its mean + 1.28 sd / sqrt(days to go); never by less than `least`."""
    mean = max(float(week.mean()), least)
    days = min(budget / mean, horizon)
    high = mean + 1.28 * float(week.std(ddof=1)) / np.sqrt(max(days, 1.0))
    return days, min(budget / high, horizon)


def weighted(past: Floats, budget: float, horizon: float, least: float) -> tuple[float, float]:
    """Days by an exponentially weighted mean of daily use, half-life four days."""
    weight = 0.5 ** (np.arange(len(past), 0, -1) / 4.0)
    days = min(budget / max(float(np.average(past, weights=weight)), least), horizon)
    return days, days


def loss(truth: Floats, quantile: Floats, counts: npt.NDArray[np.bool_]) -> float:
    """Mean pinball loss at 10 %."""
    over = truth - quantile
    return round(float(np.maximum(0.1 * over, -0.9 * over)[counts].mean()), 6)


# ---- a household-year


def promises(kind: str, truth: Floats, said: Said, oracle: Verdict, counts: npt.NDArray[np.bool_]) -> Row:
    """How often the truth came before the cautious day, and before the oracle's."""
    early, oracle_early = truth < said.cautious, truth < oracle.cautious
    return {
        "kind": kind,
        "forecasts": int(counts.sum()),
        "early": int((early & counts).sum()),
        "oracle_early": int((oracle_early & counts).sum()),
        "lowest_share": round(oracle.lowest_share, 6),
        "highest_share": round(oracle.highest_share, 6),
        "worst": round(worst(early, counts), 6),
        "oracle_worst": round(worst(oracle_early, counts), 6),
        "oracle_worst_of_100": round(oracle.worst, 6),
        "oracle_pinball": loss(truth, oracle.cautious, counts),
    }


def errors(ways: Mapping[str, Said], truth: Floats, counts: npt.NDArray[np.bool_]) -> Row:
    """How far off each way was, by what its figures' names begin with."""
    row: Row = {}
    for name, said in ways.items():
        row[f"{name}miss_days"] = round(float(np.abs(said.likely - truth)[counts].mean()), 6)
        row[f"{name}pinball"] = loss(truth, said.cautious, counts)
    return row


# ---- all of them


class Pool:
    """The rows of all household-years as one, each with the weight of its forecasts."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.total = {n: np.array([row[n] for row in rows], dtype=np.float64) for n in rows[0] if n != "kind"}
        self._kinds = np.array([row["kind"] for row in rows])

    def kinds(self) -> Iterator[tuple[str, npt.NDArray[np.bool_]]]:
        """Each kind and which rows are of it."""
        for kind in dict.fromkeys(self._kinds.tolist()):
            yield kind, self._kinds == kind

    def share(self, name: str, which: Which = slice(None)) -> float:
        return float(self.total[name][which].sum() / self.total["forecasts"][which].sum())

    def mean(self, name: str, which: Which = slice(None)) -> float:
        return float(np.average(self.total[name][which], weights=self.total["forecasts"][which]))

    def ratio(self, name: str, other: str, which: Which = slice(None)) -> float:
        return self.mean(name, which) / self.mean(other, which)

    def figures(self) -> dict[str, float]:
        total = self.total
        share = total["early"] / total["forecasts"]
        return {
            "household-years": float(len(share)),
            "kinds": float(len(set(self._kinds))),
            "forecasts": float(total["forecasts"].sum()),
            "truth before the cautious day, share": self.share("early"),
            "the oracle's share": self.share("oracle_early"),
            "lowest household-year": float(share.min()),
            "highest household-year": float(share.max()),
            "household-years outside the oracle's 99 %": self._outside("early"),
            "the oracle's own years outside": self._outside("oracle_early"),
            "worst sixty days, mean over the years": float(total["worst"].mean()),
            "the oracle's worst sixty days, mean": float(total["oracle_worst"].mean()),
            "years whose worst sixty days are worse than the oracle's in 99 of 100": float(
                (total["worst"] > total["oracle_worst_of_100"]).sum()
            ),
            "likely day's mean error, days": self.mean("miss_days"),
            "its ratio to the 7-day mean's": self.ratio("miss_days", "usual_miss_days"),
            "its ratio to the half-life mean's": self.ratio("miss_days", "weighted_miss_days"),
            "pinball loss at 10 %, ratio to the usual band's": self.ratio("pinball", "usual_pinball"),
            "pinball loss at 10 %, ratio to the oracle's": self.ratio("pinball", "oracle_pinball"),
        }

    def _outside(self, name: str) -> float:
        """Years whose share of misses lies where the oracle's would not in 99 of 100."""
        share = self.total[name] / self.total["forecasts"]
        inside = (share >= self.total["lowest_share"]) & (share <= self.total["highest_share"])
        return float((~inside).sum())
