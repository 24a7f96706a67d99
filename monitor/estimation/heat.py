"""How much more water is used when it is warmer: a slope of the logarithm of a day's use over its air."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

PRIOR_PER_C, PRIOR_SD_PER_C = 0.015, 0.010
"""From memory: a household's demand rises by one to two hundredths a degree in the warm half of a year."""
MOST_PER_C = 0.04
_LEAST_DAYS = 10
_DAY_SD = 0.15
"""No household's days are more alike than this, in the logarithm."""
_ALIKE = 4.0
"""Days on end are alike: so many of them tell as much as one of its own."""

Floats = npt.NDArray[np.float64]


class Slope(NamedTuple):
    """Of the logarithm of use, for each degree C; with its standard deviation."""

    per_C: float
    sd_per_C: float


def slope(air_C: Floats, used: Floats) -> Slope:
    """By weighted least squares with a normal prior, bounded to 0 ... `MOST_PER_C`.

    `air_C` and `used` by day; days without either (NaN, or nothing used) say nothing. With few days the
    prior alone answers. Posterior precision = 1/prior sd² + sum (T - mean T)² / (4 s²), where s is the
    standard deviation of the logarithm about the line.
    """
    known = np.isfinite(air_C) & (np.nan_to_num(used) > 0)
    if known.sum() < _LEAST_DAYS:
        return Slope(PRIOR_PER_C, PRIOR_SD_PER_C)
    warmer = air_C[known] - air_C[known].mean()
    more = np.log(used[known])
    more -= more.mean()
    spread = float(warmer @ warmer)
    line = float(warmer @ more) / spread if spread > 0 else 0.0
    sd = max(_DAY_SD, float(np.std(more - line * warmer)))
    seen, before = spread / (_ALIKE * sd**2), 1 / PRIOR_SD_PER_C**2
    per_C = (before * PRIOR_PER_C + seen * line) / (before + seen)
    return Slope(float(np.clip(per_C, 0.0, MOST_PER_C)), (before + seen) ** -0.5)
