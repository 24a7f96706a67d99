"""The highest cell of a bank that is charged runs up its knee: when does it come to its limit?

The knee steepens, so its trend is followed with its bend. A charger that holds its voltage stops the
climb: where the whole pack comes to the held voltage before the highest cell comes to its limit,
nothing is cut.
"""

import math
from collections.abc import Iterator

from monitor.estimation.bank_minute import Placed
from monitor.estimation.cut import FULL_KNEE_V, HORIZON_MIN, NOW, Cut, why
from monitor.estimation.holding import Holding
from monitor.estimation.recent import AMPS, HIGHEST, LOOKED_AT_MIN, PACK, Recent
from monitor.estimation.trend import Fit, Floats, When, fit, meets
from monitor.records import Reason
from monitor.settings import Bank

SPARE_V = 0.040
"""What the highest cell must be short of its limit when the pack comes to the held voltage;"""
WARNED_SPARE_V = 0.080
"""and once a cut was told in this charge, before that is taken back."""
SEEN_MIN, AT_ONCE_MIN = 4, 9.0
"""A lead that would grow past what the hold allows is followed for so many minutes before it is told, but
where the cut is nearer than this. Cells enter the knee one by one: the first leads for a few minutes."""
FORESEEN_MIN = 12.0
"""A lead is followed no further than this."""
LEAST_SLOPE_V = 0.0003
"""A minute. Slower is the plateau."""
TAU_MIN = (5.0, 120.0)
"""Between these a held bank's current dies away. Common practice."""


def runs_up(
    bank: Bank, highest: Placed, recent: Recent, holding: Holding, by: str, warned: bool
) -> Iterator[Cut]:
    """The cut that the highest cell leads to, if it leads to one. `by` names whose charge it is."""
    limit_V = bank.cell_limits_V[1]
    if highest.value >= limit_V:
        yield Cut("charge", NOW, _reason(bank, highest, 0.0))
        return
    if recent.direction <= 0 or highest.value < limit_V - FULL_KNEE_V:
        recent.leads_min = 0
        return
    rows = recent.same_way()[-LOOKED_AT_MIN:]
    if holding.held:
        recent.leads_min = 0
        yield from _while_held(bank, highest, rows)
        return
    # As it went, and at the present current: what only the current moved is in one of them alone.
    now_A = float(rows[-1, AMPS])
    lines = (fit(rows[:, HIGHEST]), recent.at_current(rows, HIGHEST, now_A))
    highs = [_no_slower(line) for line in lines if line is not None]
    if not highs or min(line.slope for line in highs) < LEAST_SLOPE_V:
        return
    spare_V = WARNED_SPARE_V if warned else SPARE_V
    if _will_be_held(bank, rows, recent, holding.expected_V(by), spare_V):
        recent.leads_min = 0
        return
    when, high = max((meets(line, limit_V, True), line) for line in highs)
    recent.leads_min += 1
    if when.likely < HORIZON_MIN and (warned or recent.leads_min >= SEEN_MIN or when.likely < AT_ONCE_MIN):
        yield Cut("charge", when, _reason(bank, highest, high.slope))


def _will_be_held(bank: Bank, rows: Floats, recent: Recent, hold_V: float, spare_V: float) -> bool:
    """Whether the pack comes to the chargers' voltage with the highest cell still short of its limit.

    There the mean cell stands at a known voltage; how far the highest leads it by then is told by the
    trend of its lead, in which currents and their drops cancel.
    """
    cells = bank.cells
    pack = recent.at_current(rows, PACK, float(rows[-1, AMPS]), cells)
    lead = fit(rows[:, HIGHEST] - rows[:, PACK] / cells)
    if math.isinf(hold_V) or pack is None or lead is None:
        return False
    rising = pack._replace(bend=max(0.0, pack.bend))
    held_min = min(meets(rising, hold_V, True).likely, FORESEEN_MIN)
    lead_V = max(lead.value, _no_slower(lead).at(held_min))
    return hold_V / cells + lead_V < bank.cell_limits_V[1] - spare_V


def _while_held(bank: Bank, highest: Placed, rows: Floats) -> Iterator[Cut]:
    """A held pack's current dies away with some time constant, and so does the climb of a cell."""
    high = fit(rows[:, HIGHEST])
    if high is None or high.slope < LEAST_SLOPE_V:
        return
    first_A, last_A = float(rows[0, AMPS]), float(rows[-1, AMPS])
    fall_A = max((first_A - last_A) / (len(rows) - 1), 1e-6)
    tau_min = min(max(last_A / fall_A, TAU_MIN[0]), TAU_MIN[1])
    gap_V, reach_V = bank.cell_limits_V[1] - high.value, high.slope * tau_min
    if reach_V <= gap_V:
        return
    minutes = -tau_min * math.log1p(-gap_V / reach_V)
    when = When(minutes, gap_V / high.slope, 2 * minutes)
    yield Cut("charge", when, _reason(bank, highest, high.slope), eased=True)


def _no_slower(line: Fit) -> Fit:
    """A line in a knee steepens; where it does not show that plainly it is taken to go straight on."""
    return line if line.bend > 2 * line.bend_sd else line._replace(bend=0.0)


def _reason(bank: Bank, cell: Placed, slope_V: float) -> Reason:
    mV_a_min, limit_V = 1000 * slope_V, bank.cell_limits_V[1]
    return why(bank, "cut: high cell", cell=cell.where, cell_V=cell.value, mV_a_min=mV_a_min, limit_V=limit_V)
