"""What the sun can give: the gain of the boat's own array, and how clear the coming days will be.

    made = clear sky x gain(hour of day) x clearness(day)

The clear sky is known (`monitor.estimation.sun`). The gain absorbs panels, wiring and what shades them
hour by hour: the 95th percentile of made over clear sky in the hours of the last thirty days. An hour
in which the bank took no more tells what was taken, not what could have been made: it teaches neither
gain nor clearness, except that they cannot have been lower.

The clearness of the coming days falls back from today's to the mean, as its autocorrelation has it
(persistence and climatology weighted by it: D. Yang, Solar Energy 193:981, 2019), and each day brings
news drawn from the past.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.use import Days

GAIN_DAYS = 30
GAIN_QUANTILE = 0.95
HALF_LIFE_DAYS = 14.0
USUAL_MEMORY = 0.3
"""How like today's clearness is to tomorrow's until the boat's own days say better."""
_MEMORY_WEIGHS_DAYS = 20
_LEAST_CLEAR = 20.0
"""W/m²: under a lower sun than that the ratio says nothing."""
_TAKES_ALL = 0.05
"""A larger share of an hour in which the bank took no more makes it a bound only."""
_LEAST_HOURS = 5
_LEAST_SHARE = 0.1
"""A day is as clear as the hours that could be measured say, if so much of its clear sky fell in them."""
_LEAST_DAYS = 3
DARKEST, CLEAREST = 0.05, 1.05
_FEW_DAYS_SD = 0.15

Floats = npt.NDArray[np.float64]


class Array(NamedTuple):
    """What was learned of the array and of the sky.

    `gain` by hour, counted from the hour at which the days end [m², what it makes of 1 W/m²]; `age` and
    `clearness` of the days of which it is known, the newest first; `mean` of them, `mean_sd` how far
    that may be off, `memory` their autocorrelation from day to day.
    """

    gain: Floats
    age: npt.NDArray[np.int64]
    clearness: Floats
    mean: float
    mean_sd: float
    memory: float


def learn(days: Days, clear: Floats) -> Array | None:
    """The array by its past days and the clear sky of the same hours; None where too little is known.

    Args:
        days: `UseHistory.days`; `sun` in Wh an hour.
        clear: Clear-sky irradiance of each of their hours, a row a day. [W/m²]
    """
    lit = ~np.isnan(days.sun) & (clear >= _LEAST_CLEAR)
    ratio = np.divide(days.sun, clear, out=np.full(clear.shape, np.nan), where=lit)
    free = lit & (days.full <= _TAKES_ALL)
    gain = _gain(ratio[days.age <= GAIN_DAYS], free[days.age <= GAIN_DAYS])
    if gain is None:
        return None
    clearness = _clearness(days.sun, gain * clear, lit, free)
    known = ~np.isnan(clearness)
    if known.sum() < _LEAST_DAYS:
        return None
    age, clearness = days.age[known], clearness[known]
    weight = 0.5 ** (age / HALF_LIFE_DAYS)
    mean = float(np.average(clearness, weights=weight))
    memory = _memory(age, clearness - mean)
    spread = float(np.average((clearness - mean) ** 2, weights=weight)) ** 0.5
    if len(age) < 14:
        spread = max(spread, _FEW_DAYS_SD)
    alone = float(weight.sum() ** 2 / (weight**2).sum())
    mean_sd = spread * float(np.sqrt((1 + memory) / (1 - memory) / alone))
    return Array(gain, age, clearness, mean, mean_sd, memory)


def coming(array: Array, clear: Floats, paths: int, rng: np.random.Generator) -> Floats:
    """Sun that could be made, by future and hour. [Wh]

    Args:
        array: As learned.
        clear: Clear-sky irradiance of the coming hours, a row for each 24. [W/m²]
        paths: How many futures.
        rng: Draws them.

    Day by day k' = mean + r (k - mean) + news, from the newest day's k, clipped to what skies do.
    """
    mean = array.mean + array.mean_sd * rng.standard_normal(paths)
    off = array.clearness - array.mean
    weight = 0.5 ** (array.age / HALF_LIFE_DAYS)
    news, news_weight = _news(array.age, off, weight, array.memory)
    drawn = rng.choice(news, (paths, len(clear)), p=news_weight / news_weight.sum())
    now = np.full(paths, off[0]) if array.age[0] == 1 else rng.choice(off, paths, p=weight / weight.sum())
    potential = clear * array.gain
    made = np.empty((paths, len(clear), 24))
    for day in range(len(clear)):
        now = array.memory * now + drawn[:, day]
        made[:, day] = np.clip(mean + now, DARKEST, CLEAREST)[:, None] * potential[day]
    return made.reshape(paths, -1)


def _gain(ratio: Floats, free: npt.NDArray[np.bool_]) -> Floats | None:
    """By hour of day; hours that were never free take after the others, but not below what was made."""
    if free.sum() < _LEAST_HOURS:
        return None
    whole = float(np.quantile(ratio[free], GAIN_QUANTILE))
    gain = np.full(ratio.shape[1], whole)
    for hour in np.flatnonzero(~np.isnan(ratio).all(axis=0)):
        told = ratio[free[:, hour], hour]
        if len(told) >= _LEAST_HOURS:
            gain[hour] = np.quantile(told, GAIN_QUANTILE)
        else:
            gain[hour] = max(whole, float(np.nanmax(ratio[:, hour])))
    return gain


def _clearness(
    sun: Floats, potential: Floats, lit: npt.NDArray[np.bool_], free: npt.NDArray[np.bool_]
) -> Floats:
    """Of each day, by its free hours; a bound where it lies above the mean; NaN where unknown."""
    whole = potential.sum(axis=1)
    seen = np.where(free, potential, 0.0).sum(axis=1)
    told = (seen >= _LEAST_SHARE * whole) & (seen > 0)
    made = np.where(free, sun, 0.0).sum(axis=1)
    clearness = np.divide(made, seen, out=np.full(len(sun), np.nan), where=told)
    heard = np.where(lit, potential, 0.0).sum(axis=1)
    enough = (heard >= 0.5 * whole) & (heard > 0)
    took = np.where(lit, sun, 0.0).sum(axis=1)
    least = np.divide(took, heard, out=np.full(len(sun), np.nan), where=enough)
    mean = np.nanmean(clearness) if told.any() else np.nan
    above = (least > clearness) | (~told & (least > mean))
    bounded: Floats = np.minimum(np.where(above, least, clearness), CLEAREST)
    return bounded


def _memory(age: npt.NDArray[np.int64], off: Floats) -> float:
    """Autocorrelation from day to day, drawn towards the usual one where there are few pairs."""
    older = np.flatnonzero(np.diff(age) == 1)
    variance = float((off**2).mean())
    if not len(older) or variance <= 0:
        return USUAL_MEMORY
    seen = float((off[older] * off[older + 1]).mean()) / variance
    memory = (len(older) * seen + _MEMORY_WEIGHS_DAYS * USUAL_MEMORY) / (len(older) + _MEMORY_WEIGHS_DAYS)
    return min(max(memory, 0.0), 0.9)


def _news(age: npt.NDArray[np.int64], off: Floats, weight: Floats, memory: float) -> tuple[Floats, Floats]:
    """What each day brought beyond its memory of the day before, and how much it weighs."""
    older = np.flatnonzero(np.diff(age) == 1)
    if len(older) >= 5:
        news: Floats = off[older] - memory * off[older + 1]
        return news - np.average(news, weights=weight[older]), weight[older]
    few: Floats = off * (1 - memory**2) ** 0.5
    return few, weight
