"""How long an amount lasts: the first hour at which it falls to its reserve, over many likely futures.

A future is a chain of past days of the same place, drawn with more weight on the recent ones and in
pairs, since one day is like the next. Use and charging of an hour stay together. Every future has a
level of its own, because next week is not last week. The whole is simulated by the hour, which sees
"gone by five in the morning" although the day's balance is positive.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S
from monitor.estimation.use import Days, UseHistory, mean_of_heard
from monitor.records import Course, Estimate, Reason

SHAPE_HALF_LIFE_DAYS = 14.0
LEVEL_HALF_LIFE_DAYS = 7.0
LEVEL_SD = 0.10
"""How far, in the logarithm, the coming days' level may be from the recent one's."""
FEW_DAYS_SD = 0.25
NO_DAYS_SD = 0.35
_DAYS_TO_BEGIN = 3
_DAYS_TO_TRUST = 14
_DAYS_OF_A_PLACE = 4
CAUTIOUS = 0.10

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the reserve is met, in days from now.

    `cautious_days` comes true or is outlived nine times in ten. `beyond`: more than half of the
    futures do not meet the reserve within the horizon; `likely_days` is then the horizon itself.
    `late_days` is outlived one time in ten, None beyond the horizon.
    """

    likely_days: float
    cautious_days: float
    late_days: float | None
    beyond: bool
    course: Course
    reason: Reason


class _Basis(NamedTuple):
    """What the futures are made of: days beginning at now's hour, used and made by the hour, how the
    level of use may differ (factor, standard deviation of its logarithm), and the reason told."""

    days: Days
    used: Floats
    made: Floats
    level: float
    level_sd: float
    reason: Reason


def forecast(
    now_utc_s: float,
    left: float,
    left_sd: float,
    reserve: float,
    capacity: float,
    use: UseHistory,
    place: str,
    used_a_day: float,
    made_a_day: float | None,
    *,
    sun_shape: Sequence[float] | None = None,
    horizon_days: int = 10,
    paths: int = 400,
    seed: int = 0,
) -> Forecast:
    """First passage of `left` to `reserve` (all amounts in one unit: Wh or L).

    `used_a_day` and `made_a_day` stand in until there is a history; `made_a_day` None means that
    nothing is made, whatever the history says. `sun_shape` spreads what is
    made over the 24 hours of UTC before there is a history. The same seed gives the same futures.
    """
    rng = np.random.default_rng(seed)
    hours = np.arange(horizon_days * 24 + 1)
    hours_to = (hours * HOUR_S - now_utc_s % HOUR_S).clip(min=0.0) / HOUR_S
    shape = np.full(24, 1 / 24) if sun_shape is None else np.asarray(sun_shape, np.float64)
    turned = np.roll(shape, -(int(now_utc_s // HOUR_S) % 24)) * (made_a_day or 0.0)
    basis = _basis(use, now_utc_s, place, np.full(24, used_a_day / 24), turned)
    picks = _chains(basis.days, horizon_days, paths, rng)
    level = basis.level * np.exp(basis.level_sd * _spread_normals(paths, rng))
    net = -basis.used[picks].reshape(paths, -1) * level[:, None]
    if made_a_day is not None:
        sunnier = np.exp(basis.level_sd * _spread_normals(paths, rng))
        net += basis.made[picks].reshape(paths, -1) * sunnier[:, None]
    net *= np.diff(hours_to)
    start = np.clip(left + left_sd * _spread_normals(paths, rng), 0.0, max(capacity, left))
    amount = _bounded(start, net, capacity)
    passage = np.sort(_first_passage(amount, hours_to, reserve)) / 24.0
    likely, cautious, late = (float(passage[int(q * (paths - 1))]) for q in (0.5, CAUTIOUS, 1 - CAUTIOUS))
    horizon = float(horizon_days)
    return Forecast(
        min(likely, horizon),
        min(cautious, horizon),
        late if late <= horizon else None,
        likely > horizon,
        _course(now_utc_s + hours_to * HOUR_S, amount),
        basis.reason,
    )


def as_estimate(what: Forecast, name: str, subject: str, at_s: float) -> Estimate:
    """The forecast as the noun that alerts and screens are handed."""
    return Estimate(
        name, subject, at_s, what.likely_days, what.cautious_days, what.late_days, what.reason, what.beyond
    )


def _basis(use: UseHistory, now_utc_s: float, place: str, usual_used: Floats, usual_made: Floats) -> _Basis:
    """Days of this place, else of any place, else the usual day."""
    days, here = use.days(now_utc_s, place), True
    if len(days.age) < _DAYS_OF_A_PLACE:
        everywhere = use.days(now_utc_s)
        if len(everywhere.age) > len(days.age):
            days, here = everywhere, False
    count = len(days.age)
    facts = {"days": count, "place": place}
    if count < _DAYS_TO_BEGIN:
        usual = Days(np.ones(1, np.int64), usual_used[None, :], usual_made[None, :])
        return _Basis(usual, *usual[1:], 1.0, NO_DAYS_SD, Reason("days from settings", facts))
    used, made = _filled(days.used, usual_used), _filled(days.made, usual_made)
    level = _recent_level(days)
    if not here:
        return _Basis(days, used, made, level, FEW_DAYS_SD, Reason("days from other places", facts))
    if count < _DAYS_TO_TRUST:
        return _Basis(days, used, made, level, FEW_DAYS_SD, Reason("days from few days", facts))
    return _Basis(days, used, made, level, LEVEL_SD, Reason("days from history", facts))


def _filled(rows: Floats, usual: Floats) -> Floats:
    """The same days with hours that were not heard filled: from the other days, else from `usual`."""
    mean = mean_of_heard(rows)
    return np.where(np.isnan(rows), np.where(np.isnan(mean), usual, mean), rows)


def _chains(days: Days, length: int, paths: int, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """Rows of `days` by future and coming day: drawn by weight, each followed by the day that did."""
    weight = 0.5 ** (days.age / SHAPE_HALF_LIFE_DAYS)
    cumulative = np.cumsum(weight / weight.sum())
    drawn = np.minimum(np.searchsorted(cumulative, rng.random((paths, length))), len(days.age) - 1)
    first = drawn[:, ::2][:, : length // 2]
    followed = (first > 0) & (days.age[first] - days.age[first - 1] == 1)
    drawn[:, 1::2] = np.where(followed, first - 1, drawn[:, 1::2])
    return drawn


def _recent_level(days: Days) -> float:
    """Mean use of the last days over that of the days drawn from: who is aboard changes."""
    a_day = mean_of_heard(days.used.T) * 24
    fast, slow = (
        float(np.average(a_day, weights=0.5 ** (days.age / half_life)))
        for half_life in (LEVEL_HALF_LIFE_DAYS, SHAPE_HALF_LIFE_DAYS)
    )
    return fast / slow if slow > 0 and fast > 0 else 1.0


def _bounded(start: Floats, net: Floats, capacity: float) -> Floats:
    """Amounts by future and hour: `start` and the sums of `net`, with what would overflow thrown away."""
    free = np.concatenate([start[:, None], start[:, None] + np.cumsum(net, axis=1)], axis=1)
    lost = np.maximum.accumulate(free - capacity, axis=1)
    np.maximum(lost, 0.0, out=lost)
    return free - lost


def _first_passage(amount: Floats, hours_to: Floats, reserve: float) -> Floats:
    """Hours until each future first stands at the reserve, straight within the hour; inf if never."""
    below = amount <= reserve
    at = below.argmax(axis=1)
    rows = np.arange(len(amount))
    before = np.maximum(at - 1, 0)
    fall = amount[rows, before] - amount[rows, at]
    part = np.divide(amount[rows, before] - reserve, fall, out=np.ones_like(fall), where=fall > 0)
    when = hours_to[before] + part * (hours_to[at] - hours_to[before])
    return np.where(below.any(axis=1), np.where(at == 0, 0.0, when), np.inf)


def _course(utc_s: Floats, amount: Floats) -> Course:
    ordered = np.sort(np.maximum(amount.T, 0.0).astype(np.float32), axis=1)
    last = ordered.shape[1] - 1
    low, likely, high = (
        tuple(ordered[:, int(q * last)].tolist()) for q in (CAUTIOUS, 0.5, 1 - CAUTIOUS)
    )  # fmt: skip
    return Course(tuple(utc_s.tolist()), low, likely, high)


@lru_cache(maxsize=8)
def _normal_grid(count: int) -> Floats:
    return np.array([NormalDist().inv_cdf((n + 0.5) / count) for n in range(count)])


def _spread_normals(count: int, rng: np.random.Generator) -> Floats:
    """Standard normals, one from each of `count` equal slices, shuffled: less noise for the same number."""
    return rng.permutation(_normal_grid(count))
