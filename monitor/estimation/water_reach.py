"""How far water reaches: what will have been used by any hour of the coming month, cautious and likely.

Water only falls, so the day on which an amount is used follows from the course of what is used: nine
futures in ten have used less before the cautious day. One drawing answers for the tanks as they stand, for
every step of rationing and for the latest day to leave. Water that is not yet made or caught is not in it.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S
from monitor.estimation.forecast import LEVEL_HALF_LIFE_DAYS, forecast
from monitor.estimation.water_history import WaterUse
from monitor.records import Reason

REACH_DAYS = 30
_ENDLESS_L = 1e5
_PACE_HOURS = 7 * 24
_LEAST_DAYS = 7
_WANDER_A_DAY = 0.05
"""How far the level wanders from one day to the next, as a share of it. Common practice: a habit that
moves by some tenth in a week, and guests."""
_Z_CAUTIOUS = 1.2816
"""The normal distribution's nine tenths."""
_BEYOND_HOURS = 10 * 24
"""What lies beyond the month goes on as its last ten days."""

Floats = npt.NDArray[np.float64]


class Reach(NamedTuple):
    """Litres used by each moment (`utc_s`, from now on): more than nine futures in ten (`cautious`), half
    of them, one in ten (`hopeful`), `leak_L_per_h` included."""

    utc_s: Floats
    cautious: Floats
    likely: Floats
    hopeful: Floats
    leak_L_per_h: float
    heads: int
    reason: Reason

    def days(self, above_L: float, used: Floats, *, share: float = 1.0, leak: bool = True) -> float:
        """Days until so much is used by one of the three courses, straight within the hour.

        `share`: of the crew's own use, with the leak as it is; `leak` False: as if there were none.
        Infinite where nothing is used.
        """
        hours = (self.utc_s - self.utc_s[0]) / HOUR_S
        lost = self.leak_L_per_h * hours
        course = used[0] + share * (used - used[0] - lost) + (lost if leak else 0.0)
        course = np.maximum.accumulate(course)
        if above_L <= course[0]:
            return 0.0
        if above_L <= course[-1]:
            return float(np.interp(above_L, course, hours)) / 24
        a_hour = (course[-1] - course[-1 - _BEYOND_HOURS]) / _BEYOND_HOURS
        beyond = (above_L - course[-1]) / a_hour if a_hour > 0 else np.inf
        return float(hours[-1] + beyond) / 24

    @property
    def pace_L_a_head(self) -> float:
        """What each will likely use in a day of the coming week, the leak left out."""
        used = self.likely[_PACE_HOURS] - self.likely[0]
        hours = (self.utc_s[_PACE_HOURS] - self.utc_s[0]) / HOUR_S
        return max(0.0, float(24 * (used / hours - self.leak_L_per_h) / self.heads))


def reach(
    now_utc_s: float,
    left_sd_L: float,
    use: WaterUse,
    place: str,
    people: str,
    usual_L_a_head_a_day: float,
    *,
    seed: int = 0,
) -> Reach:
    """Draw it. `left_sd_L` is how well it is known what stands in the tanks: it widens every course.
    `usual_L_a_head_a_day` stands in until there is a history. The same seed gives the same futures."""
    usual_L = usual_L_a_head_a_day * use.heads + 24 * use.leak_L_per_h
    drawn = forecast(
        now_utc_s, _ENDLESS_L, left_sd_L, 0.0, 2 * _ENDLESS_L, use, place, usual_L, None,
        people=people, horizon_days=REACH_DAYS, seed=seed,
    )  # fmt: skip
    course = drawn.course
    low, middle, high = (_ENDLESS_L - np.array(edge) for edge in (course.low, course.likely, course.high))
    cautious, likely, hopeful = _widened(low, middle, high, _level_sd(use, now_utc_s))
    return Reach(
        np.array(course.utc_s), cautious, likely, hopeful, use.leak_L_per_h, use.heads, drawn.reason
    )  # fmt: skip


def _level_sd(use: WaterUse, now_utc_s: float) -> float:
    """How far the mean of the last days is from the household's own by chance, as a share of it.

    Water is used in lumps: a day differs far more from the next than a day of energy does. The standard
    error of a mean weighted with a half-life of h days, 2 h / ln 2 of which count, is sd / sqrt(2 h / ln 2).
    """
    a_day = np.nansum(use.days(now_utc_s, None, True).used, axis=1)
    if a_day.size < _LEAST_DAYS or a_day.mean() <= 0:
        return 0.0
    counting = min(a_day.size, 2 * LEVEL_HALF_LIFE_DAYS / np.log(2))
    return float(a_day.std(ddof=1) / a_day.mean() / np.sqrt(counting))


def _widened(cautious: Floats, likely: Floats, hopeful: Floats, sd: float) -> tuple[Floats, Floats, Floats]:
    """Both edges with further errors of the level, independent of what was drawn: what is not known of it
    now, and how it wanders. The mean over t days of a walk that steps by w a day has the variance w² t / 3.
    """
    days = np.arange(len(likely)) / 24
    sds = np.sqrt(sd**2 + _WANDER_A_DAY**2 * days / 3)
    further = (_Z_CAUTIOUS * sds * (likely - likely[0])) ** 2
    return (
        likely + np.sqrt((cautious - likely) ** 2 + further),
        likely,
        np.maximum.accumulate(likely - np.sqrt((likely - hopeful) ** 2 + further)),
    )
