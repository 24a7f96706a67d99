"""Which step up belongs to which step down, where nothing is known of the loads yet."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.steps import Steps
from monitor.estimation.loads.trace import Floats

LONGEST_S = 15 * 3600.0
ALIKE, ALIKE_W = 0.13, 2.0
"""So far may a step down differ from its step up: a motor sinks, a voltage falls."""
MOTOR_W, MOTOR_S, MOTOR_SINKS = 40.0, (240.0, 5400.0), 1.06
"""A compressor begins its minutes with some 6 % more than it ends them with."""
LASTING = 0.12
"""What a longer run costs against a shorter one, by its logarithm: of two that fit, the shorter."""
VAGUE = 0.1
"""What each watt of doubt in a step costs."""
DIPS, BEGIN_STEPS = 0.72, 2
"""While a load runs, the power never falls below what stands and so much of it."""


class Run(NamedTuple):
    """A load that ran: its steps' places in `Steps`, and what they say."""

    up: int
    down: int
    up_W: float
    down_W: float
    seconds: float


def allowed_W(up_W: Floats, down_W: Floats) -> Floats:
    """By how much two steps of one load may differ. [W]"""
    limit: Floats = ALIKE_W + ALIKE * np.minimum(up_W, down_W)
    return limit


def pairs(found: Steps, step_s: float, free: npt.NDArray[np.bool_] | None = None) -> list[Run]:
    """Steps that belong together, the surest first taken: alike in size, and near. `free` are those that
    may be taken."""
    free = np.ones(len(found.watts), bool) if free is None else free
    ups, downs = np.flatnonzero(free & (found.watts > 0)), np.flatnonzero(free & (found.watts < 0))
    if not ups.size or not downs.size:
        return []
    up_W, down_W = found.watts[ups][:, None], -found.watts[downs][None, :]
    apart_s = (found.where[downs][None, :] - found.where[ups][:, None]) * step_s
    limit = allowed_W(up_W, down_W)
    stretch = found.stretch()
    fits = (apart_s > 0) & (apart_s <= LONGEST_S) & (np.abs(up_W - down_W) <= limit)
    fits &= stretch[ups][:, None] == stretch[downs][None, :]
    a, b = np.nonzero(fits)
    motors = (up_W >= MOTOR_W) & (apart_s >= MOTOR_S[0]) & (apart_s <= MOTOR_S[1])
    off_W = np.abs(up_W - np.where(motors, MOTOR_SINKS, 1.0) * down_W)
    cost = (off_W / limit)[a, b] + LASTING * np.log1p(apart_s[a, b] / 10.0)
    cost += VAGUE * (found.sd_W[ups][a] + found.sd_W[downs][b])
    taken_up, taken_down = np.zeros(ups.size, bool), np.zeros(downs.size, bool)
    runs = []
    for n in np.argsort(cost, kind="stable"):
        u, d = int(a[n]), int(b[n])
        if taken_up[u] or taken_down[d]:
            continue
        i, j = int(ups[u]), int(downs[d])
        if not stays_up(found, i, j, float(min(up_W[u, 0], down_W[0, d]))):
            continue
        taken_up[u] = taken_down[d] = True
        runs.append(Run(i, j, float(up_W[u, 0]), float(down_W[0, d]), float(apart_s[u, d])))
    return sorted(runs)


def stays_up(found: Steps, up: int, down: int, watts: float) -> bool:
    """Whether the power between two steps never fell below what the load takes; readings in the midst of
    its begin are no dip."""
    first, last = np.searchsorted(found.bounds, (found.where[up], found.where[down])).tolist()
    if last - first > 1 and found.bounds[first + 1] - found.bounds[first] <= BEGIN_STEPS:
        first += 1
    levels = found.levels[first : max(last, first + 1)]
    return bool(levels.min() >= found.least_W + DIPS * watts) if levels.size else True
