"""What repeats tell: their mean, and how far it may be off.

The scatter of the repeats is type A of GUM (JCGM 100:2008), s / sqrt(n), with Student's factor for so
few; what all repeats have alike, such as a bucket's mark, is type B, and no repeating lessens it.
"""

from collections.abc import Sequence
from math import hypot, sqrt
from statistics import fmean, stdev
from typing import NamedTuple

from monitor.estimation.bands import BAND_90

STUDENT_90 = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833)
"""t of 95 % one-sided, so 90 % between both sides, by degrees of freedom from one on. GUM, table G.2."""


class Mean(NamedTuple):
    value: float
    half: float
    """Half of the 90 % band."""


def mean_of(values: Sequence[float], least_sd: float = 0.0, alike_sd: float = 0.0) -> Mean:
    """The mean of repeats with its 90 % band.

    Args:
        values: Two or more.
        least_sd: What one of them surely scatters by, by its resolution: few repeats may agree by chance.
        alike_sd: What all of them have alike.
    """
    n = len(values)
    freedom = n - 1
    student = STUDENT_90[min(freedom, len(STUDENT_90)) - 1]
    by_scatter = student * stdev(values) / sqrt(n)
    by_resolution = BAND_90 * least_sd / sqrt(n)
    return Mean(fmean(values), hypot(max(by_scatter, by_resolution), BAND_90 * alike_sd))
