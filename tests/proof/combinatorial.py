"""Combinatorial optimisation, the usual yardstick of load monitoring: the combination nearest to the power.

G. W. Hart, "Nonintrusive appliance load monitoring", Proceedings of the IEEE 80 (1992) 1870: at each step
those loads are on whose watts add up to what lies nearest to the total. No step knows of another.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tests.proof.oracle import Floats

MOST = 8


def nearest(total_W: Floats, standing_W: float | Floats, loads_W: Sequence[float]) -> npt.NDArray[np.bool_]:
    """On or off, one row a load, one column a step.

    Of combinations that are equally near the one of fewer loads is taken. A step without a reading (NaN)
    has nothing on. Raises ValueError for more than `MOST` loads.
    """
    if len(loads_W) > MOST:
        raise ValueError(f"{len(loads_W)} loads, at most {MOST}")
    every = np.arange(2 ** len(loads_W))[:, None] >> np.arange(len(loads_W)) & 1
    sums = every @ np.asarray(loads_W, dtype=float)
    order = np.lexsort((every.sum(axis=1), sums))
    sums, first = np.unique(sums[order], return_index=True)
    which = every[order[first]].astype(bool)
    above_W = np.nan_to_num(total_W - standing_W)
    chosen: npt.NDArray[np.bool_] = which[np.searchsorted((sums[:-1] + sums[1:]) / 2, above_W)].T
    return chosen
