"""How long an amount lasts: the first hour at which it falls to its reserve, over many likely futures.

A future is a chain of past days of the same place and company, drawn with more weight on the recent ones
and in pairs, since one day is like the next. Use and charging of an hour stay together, but for the sun:
what it could make is drawn from the array and the sky (`monitor.estimation.array`), since what a full
bank took yesterday says little of what an emptier one can take tomorrow. Every future has a level of its
own, because next week is not last week. The whole is simulated by the hour, which sees "gone by five in
the morning" although the day's balance is positive.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation import array
from monitor.estimation.passage import CAUTIOUS, bounded, course_of, first_passage
from monitor.estimation.sun import clear_sky_hours
from monitor.estimation.use import KEPT_DAYS, NOBODY, Days, UseHistory, mean_of_heard
from monitor.records import Course, Estimate, Reason

SHAPE_HALF_LIFE_DAYS = 14.0
LEVEL_HALF_LIFE_DAYS = 5.0
LEVEL_SD = 0.10
"""How far, in the logarithm, the coming days' level may be from the recent one's."""
FEW_DAYS_SD = 0.25
NO_DAYS_SD = 0.35
_DAYS_TO_BEGIN = 3
_DAYS_TO_TRUST = 14
_DAYS_OF_A_PLACE = 4

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
    people: str = "awake",
    position: tuple[float, float] | None = None,
    sun_shape: Sequence[float] | None = None,
    horizon_days: int = 10,
    paths: int = 400,
    seed: int = 0,
) -> Forecast:
    """First passage of `left` to `reserve` (all amounts in one unit: Wh or L).

    `used_a_day` and `made_a_day` stand in until there is a history; `made_a_day` None means that
    nothing is made, whatever the history says. `position` (latitude, longitude) lets the sun be drawn
    from the array and the sky once they are known. `sun_shape` spreads what is made over the 24 hours
    of UTC before there is a history. The same seed gives the same futures.
    """
    rng = np.random.default_rng(seed)
    hours = np.arange(horizon_days * 24 + 1)
    hours_to = (hours * HOUR_S - now_utc_s % HOUR_S).clip(min=0.0) / HOUR_S
    shape = np.full(24, 1 / 24) if sun_shape is None else np.asarray(sun_shape, np.float64)
    turned = np.roll(shape, -(int(now_utc_s // HOUR_S) % 24)) * (made_a_day or 0.0)
    basis = _basis(use, now_utc_s, place, people, np.full(24, used_a_day / 24), turned)
    picks = _chains(basis.days, horizon_days, paths, rng)
    level = basis.level * np.exp(basis.level_sd * _spread_normals(paths, rng))
    net = -basis.used[picks].reshape(paths, -1) * level[:, None]
    if made_a_day is not None:
        net += _made(basis, picks, use, now_utc_s, position, rng)
    net *= np.diff(hours_to)
    start = np.clip(left + left_sd * _spread_normals(paths, rng), 0.0, max(capacity, left))
    amount = bounded(start, net, capacity)
    passage = np.sort(first_passage(amount, hours_to, reserve)) / 24.0
    likely, cautious, late = (float(passage[int(q * (paths - 1))]) for q in (0.5, CAUTIOUS, 1 - CAUTIOUS))
    horizon = float(horizon_days)
    return Forecast(
        min(likely, horizon),
        min(cautious, horizon),
        late if late <= horizon else None,
        likely > horizon,
        course_of(now_utc_s + hours_to * HOUR_S, amount),
        basis.reason,
    )


def as_estimate(what: Forecast, name: str, subject: str, at_s: float) -> Estimate:
    """The forecast as the noun that alerts and screens are handed."""
    return Estimate(
        name, subject, at_s, what.likely_days, what.cautious_days, what.late_days, what.reason, what.beyond
    )


def _basis(
    use: UseHistory, now_utc_s: float, place: str, people: str, usual_used: Floats, usual_made: Floats
) -> _Basis:
    """The nearest days of which there are enough: of this place and company, of this company, of this
    place, any; else the usual day."""
    aboard = people not in NOBODY
    found = [
        (use.days(now_utc_s, place, aboard), "days from history"),
        (use.days(now_utc_s, None, aboard), "days from other places"),
        (use.days(now_utc_s, place), "other company" if aboard else "nobody aboard yet"),
        (use.days(now_utc_s), "days from other places"),
    ]
    most = max(len(days.age) for days, _ in found)
    days, why = next((d, w) for d, w in found if len(d.age) >= min(most, _DAYS_OF_A_PLACE))
    count = len(days.age)
    facts = {"days": count, "place": place}
    if count < _DAYS_TO_BEGIN:
        nothing = np.full((1, 24), np.nan)
        usual = Days(np.ones(1, np.int64), usual_used[None, :], usual_made[None, :], nothing, nothing)
        return _Basis(usual, usual.used, usual.made, 1.0, NO_DAYS_SD, Reason("days from settings", facts))
    used, made = _filled(days.used, usual_used), _filled(days.made, usual_made)
    level = _recent_level(days)
    if why != "days from history":
        return _Basis(days, used, made, level, FEW_DAYS_SD, Reason(why, facts))
    if count < _DAYS_TO_TRUST:
        return _Basis(days, used, made, level, FEW_DAYS_SD, Reason("days from few days", facts))
    if not aboard:
        why = "nobody aboard"
    return _Basis(days, used, made, level, LEVEL_SD, Reason(why, facts))


def _made(
    basis: _Basis,
    picks: npt.NDArray[np.int64],
    use: UseHistory,
    now_utc_s: float,
    position: tuple[float, float] | None,
    rng: np.random.Generator,
) -> Floats:
    """What can be made, by future and hour: the sun from array and sky, the rest as on past days.

    As long as the array is not known the sun, too, is what was taken on past days.
    """
    paths, length = picks.shape
    known = None if position is None else _array(use.days(now_utc_s), now_utc_s, *position)
    if known is None:
        sunnier = np.exp(basis.level_sd * _spread_normals(paths, rng))
        taken: Floats = basis.made[picks].reshape(paths, -1) * sunnier[:, None]
        return taken
    assert position is not None
    this_hour = now_utc_s // HOUR_S * HOUR_S
    clear = clear_sky_hours(*position, this_hour, length * 24).reshape(length, 24)
    other = _filled(np.maximum(basis.days.made - basis.days.sun, 0.0), np.zeros(24))
    return array.coming(known, clear, paths, rng) + other[picks].reshape(paths, -1)


def _array(days: Days, now_utc_s: float, latitude: float, longitude: float) -> array.Array | None:
    """The array as its days taught it, at this position."""
    if not len(days.age) or np.isnan(days.sun).all():
        return None
    first_s = now_utc_s // HOUR_S * HOUR_S - KEPT_DAYS * DAY_S
    clear = clear_sky_hours(latitude, longitude, first_s, KEPT_DAYS * 24).reshape(KEPT_DAYS, 24)
    return array.learn(days, clear[KEPT_DAYS - days.age])


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


@lru_cache(maxsize=8)
def _normal_grid(count: int) -> Floats:
    return np.array([NormalDist().inv_cdf((n + 0.5) / count) for n in range(count)])


def _spread_normals(count: int, rng: np.random.Generator) -> Floats:
    """Standard normals, one from each of `count` equal slices, shuffled: less noise for the same number."""
    return rng.permutation(_normal_grid(count))
