"""The lowest cell of a bank that is discharged runs down its knee: when does it come to its limit?

The knee's shape is a laboratory cell's; how fast this cell runs down it is seen. On the plateau above
the knee voltages tell nothing: there the count of the charge does.
"""

from collections.abc import Iterator

import numpy as np

from monitor.estimation.bank_minute import Placed
from monitor.estimation.cut import HORIZON_MIN, NOW, Cut, why
from monitor.estimation.recent import AMPS, LOOKED_AT_MIN, LOWEST, PACK, Recent
from monitor.estimation.trend import Floats, When, meets
from monitor.records import Reason
from monitor.settings import Bank

# Charge [%] of a laboratory LFP cell (C/27, 25 °C) by its voltage, from 2.0 V at its end.
_KNEE_V = (2.0, 3.025, 3.178, 3.245)
_KNEE_PCT = (0.0, 5.0, 10.0, 20.0)
STEP_V = 0.02
KNEE_BEGINS_V = 3.14
"""A cell that stands above this behind its resistance is on the plateau (9 %)."""
LESS_OHMIC = 1.5
"""So many times the ohmic part is a load's drop, with what follows it within minutes."""
SETTLED_MIN = 10
"""So long the current must have flowed out before the fall says anything."""
STEADY_SHARE = 1.3
"""A load that is nowhere more than this times its least is steady."""
LEAST_SLOPE_V = 0.0003
"""A minute. Slower is the plateau."""
WEAKEST_PART = 2 / 3
"""A cell of less capacity than this part of the bank's is not reckoned with: no fall is faster."""
CAUTIOUS = 0.6
SOONEST_BY_CHARGE_MIN = 60.0
"""While the cells are on the plateau no cut is near, whatever the count says."""


def runs_down(bank: Bank, lowest: Placed, recent: Recent) -> Iterator[Cut]:
    """The cut that the lowest cell leads to, if it leads to one.

    Loads come and go: what counts is the fall over a quarter of an hour, at its usual load. A steady
    load shows in half the time.
    """
    limit_V = bank.cell_limits_V[0]
    if lowest.value <= limit_V:
        yield Cut("discharge", NOW, _reason(bank, lowest, 0.0))
        return
    rows = recent.same_way()
    drop_ohm = LESS_OHMIC * recent.resistance_ohm
    if recent.direction >= 0 or len(rows) < SETTLED_MIN:
        return
    if lowest.value - rows[-1, AMPS] * drop_ohm > KNEE_BEGINS_V:
        return
    rows = _enough(rows)
    mean_A, usual_A = float(rows[:, AMPS].mean()), float(np.median(rows[:, AMPS]))
    low = recent.at_current(rows, LOWEST, mean_A)
    if low is None or low.slope > -LEAST_SLOPE_V:
        return
    if low.bend > -2 * low.bend_sd:
        low = low._replace(bend=0.0)
    left_pct, pct_a_V = _on_the_knee(low.value - mean_A * drop_ohm, limit_V - mean_A * drop_ohm)
    soonest = left_pct / (100 * -mean_A / 60 / (WEAKEST_PART * bank.capacity_Ah))
    straight, slower = meets(low, limit_V, False), max(1.0, mean_A / usual_A)
    likely = slower * max(soonest, left_pct / (pct_a_V * -low.slope))
    sooner = slower * max(soonest, straight.likely)
    if likely < HORIZON_MIN:
        when = When(likely, min(CAUTIOUS * likely, sooner), max(likely, straight.high))
        yield Cut("discharge", when, _reason(bank, lowest, low.slope))


def by_the_count(bank: Bank, left_Wh: tuple[float | None, float | None], recent: Recent) -> Iterator[Cut]:
    """On the plateau: when the charge left, likely and at the least, is used up at this pace."""
    left, least = left_Wh
    rows = recent.same_way()
    if left is None or least is None or recent.direction >= 0:
        return
    watts = -float((rows[:, AMPS] * rows[:, PACK]).mean())
    if not watts > 0:
        return
    likely, low = (max(SOONEST_BY_CHARGE_MIN, Wh / watts * 60) for Wh in (left, least))
    if likely < HORIZON_MIN:
        when = When(likely, low, max(likely, 2 * likely - low))
        yield Cut("discharge", when, why(bank, "cut: charge left", watts=watts))


def _enough(rows: Floats) -> Floats:
    recent_A = rows[-LOOKED_AT_MIN:, AMPS]
    steady = recent_A.min() > STEADY_SHARE * recent_A.max()  # Both are negative.
    return rows[-LOOKED_AT_MIN:] if steady else rows


def _on_the_knee(cell_V: float, limit_V: float) -> tuple[float, float]:
    """By the knee's shape: the charge above the limit [%], and how much a volt is worth here. [%/V]"""
    volts = [cell_V, limit_V, cell_V + STEP_V, cell_V - STEP_V]
    here, limit, more, less = np.interp(volts, _KNEE_V, _KNEE_PCT)
    return max(0.0, float(here - limit)), max(0.1, float(more - less) / (2 * STEP_V))


def _reason(bank: Bank, cell: Placed, slope_V: float) -> Reason:
    mV_a_min, limit_V = -1000 * slope_V, bank.cell_limits_V[0]
    return why(bank, "cut: low cell", cell=cell.where, cell_V=cell.value, mV_a_min=mV_a_min, limit_V=limit_V)
