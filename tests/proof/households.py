"""Whether the cautious day keeps its promise: rolling forecasts for made-up households.

Each household-year is drawn from a generator that shares nothing with the estimator: daily use is
log-normal with a slow wander, a day-to-day memory and weekends, spread over the hours by habits that
shift; sun is clear-sky times a two-state weather chain. Three kinds of household, with and without
charging. Every day after the first thirty a forecast is made from a bank that holds three usual
days, and compared with what the same household then did. "Usual" is the common practice it is
compared with: the mean of the last seven days, and 1.28 standard deviations of it.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.forecast import forecast
from monitor.estimation.use import UseHistory
from tests.proof.harness import Case, Row, outside

Floats = npt.NDArray[np.float64]

DAYS = 365
LEARN_DAYS = 30
BUDGET_DAYS = 3.0
HORIZON_DAYS = 10
START_S = 1_767_225_600.0


class Kind(NamedTuple):
    """Daily use: its mean [Wh], standard deviations of logarithms (day, slow wander), the day's
    memory of the day before, how much more at weekends, and the share of it that the sun makes."""

    mean_Wh: float
    day_sd: float
    wander_sd: float
    memory: float
    weekend: float
    sun_share: float


KINDS = (
    Kind(1500.0, 0.18, 0.10, 0.3, 1.0, 0.0),
    Kind(2600.0, 0.28, 0.18, 0.5, 1.25, 0.0),
    Kind(1200.0, 0.35, 0.25, 0.4, 1.6, 0.0),
    Kind(1800.0, 0.22, 0.12, 0.4, 1.0, 0.55),
    Kind(2200.0, 0.30, 0.15, 0.5, 1.2, 0.65),
)


def run(seed: int) -> Row:
    """One household-year: how often the truth came before the cautious day, and how far off."""
    kind = KINDS[seed % len(KINDS)]
    used, made = _year(kind, np.random.default_rng(1000 + seed))
    net_a_day = float((used - made).mean()) * 24
    reserve, capacity = 1000.0, 1000.0 + 3 * BUDGET_DAYS * net_a_day
    left = reserve + BUDGET_DAYS * net_a_day
    use = UseHistory()
    early = late = seen = 0
    miss, usual_miss, pinball, usual_pinball = [], [], [], []
    for day in range(DAYS - HORIZON_DAYS):
        if day >= LEARN_DAYS:
            now = day * 24
            truth = _passage(left, used[now:], made[now:], reserve, capacity)
            found = forecast(
                START_S + now * 3600.0, left, 0.0, reserve, capacity, use, "at anchor",
                kind.mean_Wh, kind.mean_Wh if kind.sun_share else None, seed=seed * DAYS + day,
            )  # fmt: skip
            usual, usual_low = _usual(used[:now], made[:now], left - reserve)
            seen += 1
            early += truth < found.cautious_days
            late += found.late_days is not None and truth > found.late_days
            miss.append(abs(found.likely_days - truth))
            usual_miss.append(abs(usual - truth))
            pinball.append(_pinball(truth, found.cautious_days))
            usual_pinball.append(_pinball(truth, usual_low))
        for hour in range(day * 24, day * 24 + 24):
            use.add(START_S + hour * 3600.0, "at anchor", "awake", used[hour], made[hour], 3600.0)
    means = (float(np.mean(x)) for x in (miss, usual_miss, pinball, usual_pinball))
    names = ("miss_days", "usual_miss_days", "pinball", "usual_pinball")
    return {"forecasts": seen, "early": int(early), "late": int(late)} | {
        name: round(mean, 6) for name, mean in zip(names, means, strict=True)
    }


def _year(kind: Kind, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Used and made by the hour. [Wh]"""
    log_day, log_slow, sunny = np.zeros(DAYS), np.zeros(DAYS), np.zeros(DAYS)
    bright = True
    for day in range(1, DAYS):
        log_day[day] = kind.memory * log_day[day - 1] + rng.normal(
            0, kind.day_sd * np.sqrt(1 - kind.memory**2)
        )
        log_slow[day] = 0.97 * log_slow[day - 1] + rng.normal(0, kind.wander_sd * np.sqrt(1 - 0.97**2))
        bright = rng.random() < (0.75 if bright else 0.35)
        sunny[day] = rng.uniform(0.8, 1.0) if bright else rng.uniform(0.15, 0.6)
    week = np.where(np.arange(DAYS) % 7 >= 5, kind.weekend, 1.0)
    a_day = kind.mean_Wh * np.exp(log_day + log_slow) * week
    hour = np.arange(24)
    habit = 0.5 + np.exp(-(((hour - 8) / 1.5) ** 2)) + 2 * np.exp(-(((hour - 20) / 2.5) ** 2))
    parts = habit * rng.gamma(3.0, 1 / 3.0, (DAYS, 24))
    used = a_day[:, None] * parts / parts.sum(axis=1, keepdims=True)
    arc = np.maximum(0.0, np.sin((hour - 6) / 12 * np.pi))
    made = kind.sun_share * kind.mean_Wh * (sunny / 0.65)[:, None] * arc / arc.sum()
    return used.ravel(), made.ravel()


def _passage(left: float, used: Floats, made: Floats, reserve: float, capacity: float) -> float:
    """Days until the reserve is met, hour by hour; the horizon if it is not."""
    for hour in range(HORIZON_DAYS * 24):
        after = min(capacity, left + float(made[hour] - used[hour]))
        if after <= reserve:
            return (hour + (left - reserve) / (left - after)) / 24
        left = after
    return float(HORIZON_DAYS)


def _usual(used: Floats, made: Floats, budget: float) -> tuple[float, float]:
    """Days by the 7-day mean, and at its mean + 1.28 sd / sqrt(days to go)."""
    week = (used - made)[-7 * 24 :].reshape(7, 24).sum(axis=1)
    mean = max(float(week.mean()), 1.0)
    days = min(budget / mean, float(HORIZON_DAYS))
    high = mean + 1.28 * float(week.std(ddof=1)) / np.sqrt(max(days, 1.0))
    return days, min(budget / high, float(HORIZON_DAYS))


def _pinball(truth: float, quantile: float) -> float:
    return 0.1 * (truth - quantile) if truth >= quantile else 0.9 * (quantile - truth)


def figures(rows: Sequence[Row]) -> dict[str, float]:
    total = {name: np.array([row[name] for row in rows], dtype=np.float64) for name in rows[0]}
    seen = total["forecasts"].sum()
    return {
        "household-years": float(len(rows)),
        "forecasts": float(seen),
        "truth before the cautious day, share": float(total["early"].sum() / seen),
        "truth after the late day, share": float(total["late"].sum() / seen),
        "lowest household-year": float((total["early"] / total["forecasts"]).min()),
        "highest household-year": float((total["early"] / total["forecasts"]).max()),
        "likely day's mean error, days": float(total["miss_days"].mean()),
        "its ratio to the 7-day mean's": float(total["miss_days"].mean() / total["usual_miss_days"].mean()),
        "pinball loss at 10 %, ratio to the usual band's": float(
            total["pinball"].mean() / total["usual_pinball"].mean()
        ),
    }


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "truth before the cautious day, share": (0.08, 0.12),
        "pinball loss at 10 %, ratio to the usual band's": (0.0, 1.0),
        "its ratio to the 7-day mean's": (0.0, 1.1),
    }
    return outside(found, bars)


CASES = [
    Case(
        name="households",
        claim="nine times in ten the reserve is not met before the cautious day",
        code=("monitor/estimation/forecast.py", "monitor/estimation/use.py", "tests/proof/households.py"),
        seeds=range(30),
        run=run,
        figures=figures,
        misses=misses,
        slice=(3,),
    )
]
