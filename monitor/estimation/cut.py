"""A cut that comes: what will open the contactor, and when; and the signs that need no voltage.

The BMS's own word (its pre-alarm, limits that run out) and temperatures on their way to a limit.
"""

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.bank_minute import BankMinute, Placed
from monitor.estimation.cold import CHARGING_SHARE, SENSOR_C
from monitor.estimation.recent import CHARGE_LIMIT, COLDEST, DISCHARGE_LIMIT, HIGHEST, HOTTEST, Recent
from monitor.estimation.trend import Floats, When, fit, meets
from monitor.records import Reason
from monitor.settings import Bank

HORIZON_MIN = 24 * 60.0
NOW = When(0.0, 0.0, 0.0)
ANY_MOMENT = When(0.0, 0.0, 5.0)
NIL_SHARE = 0.01
"""Of the capacity in Ah: a limit below this is none at all, a current below it bears no cut."""
FALL_SHARE = 0.01
"""A limit that falls by this part of itself in each of three minutes runs out."""
FULL_KNEE_V = 0.22
"""A cell further than this below its upper limit is not full."""
EMPTY_CELL_V = 3.10
"""A cell below this while it is charged was empty a moment ago (laboratory LFP: under 10 %)."""
NEAR_HEAT_C, NEAR_COLD_C = 10.0, 5.0
"""So near its limit a temperature is followed,"""
WARMING_C = 0.05
"""where it moves by as much a minute. Common practice."""


class Cut(NamedTuple):
    """What will cut the bank off, and when."""

    side: str
    """ "charge", "discharge" or "either"."""
    minutes: When
    reason: Reason
    under: tuple[str, ...] = ()
    """Rules that tell of the same thing."""
    eased: bool = False
    """The charger holds its voltage and the current falls by itself."""
    relieved: bool = False
    """What would undo it is being done."""


def why(bank: Bank, id: str, **facts: Any) -> Reason:
    return Reason(id, {"bank": bank.name, **facts})


def by_the_bms(bank: Bank, minute: BankMinute, recent: Recent) -> Iterator[Cut]:
    """The pre-alarm, and limits that are nothing, or soon will be, while current flows."""
    direction = recent.direction
    side = {1: "charge", -1: "discharge", 0: "either"}[direction]
    coldest = minute.warmth.coldest
    cold = coldest is not None and coldest.value < bank.cold_C + SENSOR_C and direction > 0
    under = ("cold charging",) if cold else ()
    if minute.pre_alarm and direction > 0 and _is_empty(bank, minute):
        cell_V = None if minute.lowest is None else minute.lowest.value
        reason = why(bank, "cut: pre-alarm, empty", cell_V=cell_V)
        yield Cut("discharge", ANY_MOMENT, reason, relieved=True)
    elif minute.pre_alarm:
        yield Cut(side, ANY_MOMENT, why(bank, "cut: pre-alarm"), under)
    if minute.current_A is None or direction == 0:
        return
    when = _runs_out(bank, minute.current_A, recent)
    if when is not None:
        limit_A = minute.bms_limits_A[0 if direction > 0 else 1]
        reason = why(bank, f"cut: {side} limit", limit_A=limit_A, current_A=abs(minute.current_A))
        yield Cut(side, when, reason, under)


def _is_empty(bank: Bank, minute: BankMinute) -> bool:
    """Whether a cell stands so low, and none so high, that a pre-alarm can only mean the low end."""
    lowest, highest = minute.lowest, minute.highest
    if lowest is None or highest is None:
        return False
    return lowest.value < EMPTY_CELL_V and highest.value < bank.cell_limits_V[1] - FULL_KNEE_V


def _runs_out(bank: Bank, current_A: float, recent: Recent) -> When | None:
    """When what is allowed falls to nothing; one step down is no fall.

    The limit of charging follows the highest cell: where that is heard, it tells more by itself.
    """
    charging, nil_A = current_A > 0, NIL_SHARE * bank.capacity_Ah
    limits = recent.column(CHARGE_LIMIT if charging else DISCHARGE_LIMIT, 4)
    if not math.isfinite(limits[-1]) or abs(current_A) <= nil_A:
        return None
    if limits[-1] <= nil_A:
        return ANY_MOMENT
    cells_tell = charging and math.isfinite(recent.column(HIGHEST, 1)[0])
    if cells_tell or limits.size < 4 or not (np.diff(limits) < -FALL_SHARE * limits[:-1]).all():
        return None
    fall_A = (limits[0] - limits[-1]) / 3
    below_min, nil_min = (
        max(0.0, float(amps / fall_A)) for amps in (limits[-1] - abs(current_A), limits[-1])
    )
    return When(nil_min, below_min, 2 * nil_min)


def by_temperature(bank: Bank, minute: BankMinute, recent: Recent) -> Iterator[Cut]:
    """The hottest cell on its way to the upper limit; the coldest to the lower, while it is charged."""
    hottest, coldest = minute.warmth.hottest, minute.warmth.coldest
    if hottest is not None and recent.direction and hottest.value > bank.hot_C - NEAR_HEAT_C:
        when = _straight(recent.column(HOTTEST), bank.hot_C, upwards=True)
        if when is not None:
            yield Cut("either", when, _warm(bank, "cut: heat", hottest, bank.hot_C), ("hot cells",))
    charging = (minute.current_A or 0.0) > CHARGING_SHARE * bank.capacity_Ah
    if coldest is not None and charging and coldest.value < bank.cold_C + NEAR_COLD_C:
        when = _straight(recent.column(COLDEST), bank.cold_C, upwards=False)
        if when is not None:
            yield Cut("charge", when, _warm(bank, "cut: cold", coldest, bank.cold_C), ("cold charging",))


def _straight(warmths_C: Floats, limit_C: float, *, upwards: bool) -> When | None:
    """When a temperature comes to its limit at its present pace; None where it hardly moves there."""
    beyond = warmths_C[-1] >= limit_C if upwards else warmths_C[-1] <= limit_C
    if beyond:
        return ANY_MOMENT
    line = fit(warmths_C)
    if line is None or (line.slope if upwards else -line.slope) < WARMING_C:
        return None
    when = meets(line._replace(bend=0.0), limit_C, upwards)
    return when if when.likely < HORIZON_MIN else None


def _warm(bank: Bank, id: str, cell: Placed, limit_C: float) -> Reason:
    return why(bank, id, cell=cell.where, warmth_C=cell.value, limit_C=limit_C)
