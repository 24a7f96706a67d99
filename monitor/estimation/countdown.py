"""How many minutes until the BMS may cut the bank off, from its cells, limits and temperatures.

Charging, the highest cell runs up its knee; discharging, the lowest runs down its own. Both steepen,
so their trend is followed with its bend. A charger that holds its voltage stops the climb: where
the whole pack comes to the held voltage before the highest cell comes to its limit, nothing is cut.
The ohmic part of a changing current is taken out first, with the resistance the bank itself shows.
"""

import math
from collections import deque
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.bank_minute import BankMinute, Placed
from monitor.estimation.cold import SENSOR_C
from monitor.estimation.holding import Holding
from monitor.estimation.trend import Fit, Floats, When, fit, meets
from monitor.records import Reason
from monitor.settings import Bank

HORIZON_MIN = 24 * 60.0
KEPT_MIN = 16
LOOKED_AT_MIN = 8
UPPER_KNEE_V = 0.22
"""A cell further than this below its upper limit is on the plateau."""
LOWER_KNEE_V = 3.14
"""A cell that stands above this behind its resistance is on the plateau (laboratory LFP: 9 %)."""
STEADY_SHARE = 1.3
"""A load that is nowhere more than this times its least is steady."""
SETTLED_MIN = 10
"""So long the current must have flowed out before its fall says anything."""
WEAKEST_PART = 2 / 3
"""A cell of less capacity than this part of the bank's is not reckoned with: no fall is faster."""
LESS_OHMIC = 1.5
"""So much of a load's drop is taken out before that: the ohmic part, and what follows within minutes."""
SPARE_V = 0.040
"""What the highest cell must be short of its limit when the pack comes to the held voltage."""
FORESEEN_MIN = 12.0
"""A lead is followed no further than this."""
LEAST_SLOPE_V = 0.0003
"""A minute. Slower is the plateau."""
CHARGING_SHARE = 0.005
"""Of the capacity in Ah: a smaller current is rest."""
RESISTANCE_OHM_AH = 0.2
"""A cell's resistance times its capacity, until the bank's own steps tell. Common practice."""
STEP_SHARE = 0.03
NIL_SHARE = 0.01
"""A limit below this part of the capacity is none at all."""
NEAR_HEAT_C = 10.0
NEAR_COLD_C = 5.0
WARMING_C = 0.05
"""A minute."""
SOONEST_BY_CHARGE_MIN = 60.0
"""While the cells are on the plateau no cut is near, whatever the count says."""

# Charge [%] of a laboratory LFP cell (C/27, 25 °C) by its voltage: the lower knee's shape.
_KNEE_V = (2.0, 3.025, 3.178, 3.245)
_KNEE_PCT = (0.0, 5.0, 10.0, 20.0)
KNEE_STEP_V = 0.02


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


class Countdown:
    """Follows one bank."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._low_V, self._high_V = bank.cell_limits_V
        self._rows: deque[tuple[float, ...]] = deque(maxlen=KEPT_MIN)
        self._at_s = -math.inf
        self._resistance_ohm = RESISTANCE_OHM_AH / bank.capacity_Ah
        self.holding = Holding(bank)
        self._minute: BankMinute | None = None

    def take(self, minute: BankMinute) -> None:
        """Take one minute; a gap before it begins the trends anew."""
        if minute.start_s - self._at_s > 90.0 or minute.start_s <= self._at_s:
            self._rows.clear()
        self._at_s, self._minute = minute.start_s, minute
        warmth = minute.warmth
        row = (
            _nan(minute.current_A),
            _value(minute.highest),
            _value(minute.lowest),
            _nan(minute.pack_V),
            _value(warmth.hottest),
            _value(warmth.coldest),
            *(_nan(limit) for limit in minute.bms_limits_A),
        )
        if self._rows:
            self._learn(self._rows[-1], row)
        self._rows.append(row)
        if self.direction > 0:
            recent = self._same_way()[-LOOKED_AT_MIN:]
            self.holding.take(self._by, recent[:, 0], recent[:, 3])
        else:
            self.holding.leave()

    @property
    def direction(self) -> int:
        """1 while the bank is charged, -1 while it is discharged, 0 at rest or unknown."""
        current_A = None if self._minute is None else self._minute.current_A
        if current_A is None or abs(current_A) < CHARGING_SHARE * self._bank.capacity_Ah:
            return 0
        return 1 if current_A > 0 else -1

    @property
    def _by(self) -> str:
        """Whose charge it is. The sun may help the engine, never the other way round."""
        minute = self._minute
        return "engine" if minute is not None and minute.alternator_A else "others"

    def clear(self) -> None:
        self._rows.clear()
        self._at_s, self._minute = -math.inf, None
        self.holding.leave()

    def cut(self, left_Wh: tuple[float | None, float | None] = (None, None)) -> Cut | None:
        """The nearest cut; infinitely far where none is in sight, None where that is not known.

        `left_Wh` is what is left in the bank, likely and with nine chances in ten.
        """
        minute = self._minute
        if minute is None:
            return None
        if minute.closed is False:
            return Cut("either", When(0, 0, 0), self._reason("cut: open"), ("cut off",))
        found = [*self._signals(minute), *self._cells(minute), *self._warmths(minute)]
        if found:
            return min(found, key=lambda cut: cut.minutes)
        if minute.highest is None or minute.lowest is None or minute.current_A is None:
            return None
        by_charge = self._by_charge(left_Wh)
        if by_charge is not None:
            return by_charge
        never = When(math.inf, math.inf, math.inf)
        if self.holding.held:
            facts = {**_placed(minute.highest), "limit_V": self._high_V}
            return Cut("charge", never, self._reason("cut: charger holds", facts))
        return Cut("either", never, self._reason("cut: none in sight"))

    # ---- the parts

    def _reason(self, id: str, facts: Mapping[str, Any] | None = None) -> Reason:
        return Reason(id, {"bank": self._bank.name, **(facts or {})})

    def _same_way(self) -> Floats:
        """The newest rows in which the current flowed as it does now."""
        rows = np.array(self._rows)
        sign = self.direction
        against = np.flatnonzero(~(rows[:, 0] * sign > 0)) if sign else np.empty(0, int)
        return rows[against[-1] + 1 :] if against.size else rows

    def _learn(self, before: tuple[float, ...], now: tuple[float, ...]) -> None:
        """The cells' resistance from a step of the current."""
        step_A, step_V = now[0] - before[0], (now[3] - before[3]) / self._bank.cells
        if abs(step_A) > STEP_SHARE * self._bank.capacity_Ah and math.isfinite(step_V):
            usual = RESISTANCE_OHM_AH / self._bank.capacity_Ah
            seen = min(max(step_V / step_A, 0.2 * usual), 5 * usual)
            self._resistance_ohm += 0.2 * (seen - self._resistance_ohm)

    def _signals(self, minute: BankMinute) -> Iterator[Cut]:
        """What the BMS itself says: the pre-alarm, and limits that run out."""
        sides = {1: "charge", -1: "discharge", 0: "either"}
        if minute.pre_alarm:
            coldest = minute.warmth.coldest
            cold = coldest is not None and coldest.value < self._bank.cold_C + SENSOR_C
            under = ("cold charging",) if cold and self.direction > 0 else ()
            yield Cut(sides[self.direction], When(0, 0, 5), self._reason("cut: pre-alarm"), under)
        current_A = minute.current_A
        if current_A is None or self.direction == 0:
            return
        side, column = ("charge", 6) if self.direction > 0 else ("discharge", 7)
        when = self._limit_runs_out(abs(current_A), column)
        if when is not None:
            limit_A = minute.bms_limits_A[column - 6]
            facts = {"limit_A": limit_A, "current_A": abs(current_A)}
            yield Cut(side, when, self._reason(f"cut: {side} limit", facts))

    def _limit_runs_out(self, amps: float, column: int) -> When | None:
        """When what is allowed falls below what flows, and to nothing; one step down is no fall.

        The limit of charging follows the highest cell: where that is heard, it tells more by itself.
        """
        limits = np.array([row[column] for row in list(self._rows)[-4:]])
        nil_A = NIL_SHARE * self._bank.capacity_Ah
        if not math.isfinite(limits[-1]):
            return None
        if limits[-1] <= nil_A:
            return When(0.0, 0.0, 5.0)
        cells_tell = self.direction > 0 and math.isfinite(self._rows[-1][1])
        if cells_tell or limits.size < 4 or not (np.diff(limits) < -0.01 * limits[:-1]).all():
            return None
        flows = np.array([abs(row[0]) for row in list(self._rows)[-4:]])
        fall_A = (limits[0] - limits[-1]) / 3
        closing_A = fall_A - max(0.0, (flows[0] - flows[-1]) / 3)
        if closing_A <= 0:
            return None
        meets_min = max(0.0, float((limits[-1] - amps) / closing_A))
        nil_min = float(limits[-1] / fall_A)
        return When(max(meets_min, nil_min), meets_min, 2 * max(meets_min, nil_min))

    def _cells(self, minute: BankMinute) -> Iterator[Cut]:
        highest, lowest = minute.highest, minute.lowest
        if highest is not None and highest.value >= self._high_V and self.direction >= 0:
            yield Cut("charge", When(0, 0, 0), self._high_reason(highest, 0.0))
        elif highest is not None and self.direction > 0:
            yield from self._upper(highest)
        if lowest is not None and lowest.value <= self._low_V and self.direction <= 0:
            yield Cut("discharge", When(0, 0, 0), self._low_reason(lowest, 0.0))
        elif lowest is not None and self.direction < 0:
            yield from self._lower(lowest)

    def _upper(self, highest: Placed) -> Iterator[Cut]:
        if highest.value < self._high_V - UPPER_KNEE_V:
            return
        rows = self._same_way()[-LOOKED_AT_MIN:]
        if self.holding.held:
            yield from self._while_held(highest, rows)
            return
        # As it went, and at the present current: what only the current moved is in one of them alone.
        highs = [_no_slower(line) for line in (fit(rows[:, 1]), self._fit(rows, 1)) if line is not None]
        if not highs or min(line.slope for line in highs) < LEAST_SLOPE_V or self._will_be_held(rows):
            return
        when, high = max((meets(line, self._high_V, True), line) for line in highs)
        if when.likely < HORIZON_MIN:
            yield Cut("charge", when, self._high_reason(highest, high.slope))

    def _will_be_held(self, rows: Floats) -> bool:
        """Whether the pack comes to the chargers' voltage with the highest cell still short of its limit.

        There the mean cell stands at a known voltage; how far the highest leads it by then is told by
        the trend of its lead, in which currents and their drops cancel.
        """
        hold_V, cells = self.holding.expected_V(self._by), self._bank.cells
        pack, lead = self._fit(rows, 3, cells), fit(rows[:, 1] - rows[:, 3] / cells)
        if math.isinf(hold_V) or pack is None or lead is None:
            return False
        rising = pack._replace(bend=max(0.0, pack.bend))
        held_min = min(meets(rising, hold_V, True).likely, FORESEEN_MIN) if pack.value < hold_V else 0.0
        lead_V = max(lead.value, _no_slower(lead).at(held_min))
        return hold_V / cells + lead_V < self._high_V - SPARE_V

    def _while_held(self, highest: Placed, rows: Floats) -> Iterator[Cut]:
        """A held pack's current dies away with some time constant, and so does the climb of a cell."""
        high = fit(rows[:, 1])
        if high is None or high.slope < LEAST_SLOPE_V:
            return
        first_A, last_A = rows[0, 0], rows[-1, 0]
        tau_min = min(max(last_A * (len(rows) - 1) / max(first_A - last_A, 1e-6), 5.0), 120.0)
        gap_V, reach_V = self._high_V - high.value, high.slope * tau_min
        if reach_V <= gap_V:
            return
        minutes = -tau_min * math.log1p(-gap_V / reach_V)
        when = When(minutes, gap_V / high.slope, 2 * minutes)
        yield Cut("charge", when, self._high_reason(highest, high.slope), eased=True)

    def _lower(self, lowest: Placed) -> Iterator[Cut]:
        """Loads come and go: what counts is the fall over a quarter of an hour, at its usual load.

        A steady load shows in half the time.
        """
        rows = self._same_way()
        recent_A = rows[-LOOKED_AT_MIN:, 0]
        if recent_A.min() > STEADY_SHARE * recent_A.max():  # Both are negative.
            rows = rows[-LOOKED_AT_MIN:]
        mean_A, usual_A = float(rows[:, 0].mean()), float(np.median(rows[:, 0]))
        behind_V = lowest.value - LESS_OHMIC * rows[-1, 0] * self._resistance_ohm
        if behind_V > LOWER_KNEE_V or len(self._same_way()) < SETTLED_MIN:
            return
        low = fit(rows[:, 2] - (rows[:, 0] - mean_A) * self._resistance_ohm)
        if low is None or low.slope > -LEAST_SLOPE_V:
            return
        if low.bend > -2 * low.bend_sd:
            low = low._replace(bend=0.0)
        straight = meets(low, self._low_V, False)
        share_a_min = -mean_A / 60 / (WEAKEST_PART * self._bank.capacity_Ah)
        drop_V = -LESS_OHMIC * mean_A * self._resistance_ohm
        left_pct, pct_a_V = _on_the_knee(low.value + drop_V, self._low_V + drop_V)
        soonest = left_pct / (100 * share_a_min)
        slower = max(1.0, mean_A / usual_A)
        likely = slower * max(soonest, left_pct / (pct_a_V * -low.slope))
        sooner = slower * max(soonest, straight.likely)
        when = When(likely, min(0.6 * likely, sooner), max(likely, straight.high))
        if likely < HORIZON_MIN:
            yield Cut("discharge", when, self._low_reason(lowest, low.slope))

    def _fit(self, rows: Floats, column: int, cells: int = 1) -> Fit | None:
        """The column's trend at the present current."""
        if not rows.size:
            return None
        ohmic = (rows[:, 0] - rows[-1, 0]) * self._resistance_ohm * cells
        return fit(rows[:, column] - ohmic)

    def _warmths(self, minute: BankMinute) -> Iterator[Cut]:
        if self.direction == 0:
            return
        rows = np.array(self._rows)
        hottest, coldest = minute.warmth.hottest, minute.warmth.coldest
        hot_C, cold_C = self._bank.hot_C, self._bank.cold_C
        if hottest is not None and hottest.value > hot_C - NEAR_HEAT_C:
            when = When(0, 0, 5) if hottest.value >= hot_C else _straight(rows[:, 4], hot_C, WARMING_C)
            if when is not None:
                facts = {"cell": hottest.where, "warmth_C": hottest.value, "limit_C": hot_C}
                yield Cut("either", when, self._reason("cut: heat", facts), ("hot cells",))
        if self.direction > 0 and coldest is not None and coldest.value < cold_C + NEAR_COLD_C:
            when = When(0, 0, 5) if coldest.value <= cold_C else _straight(rows[:, 5], cold_C, -WARMING_C)
            if when is not None:
                facts = {"cell": coldest.where, "warmth_C": coldest.value, "limit_C": cold_C}
                yield Cut("charge", when, self._reason("cut: cold", facts), ("cold charging",))

    def _by_charge(self, left_Wh: tuple[float | None, float | None]) -> Cut | None:
        """On the plateau the count alone tells when the bank is empty at this pace."""
        left, least = left_Wh
        if left is None or least is None or self.direction >= 0:
            return None
        rows = np.array(self._rows)
        watts = -float(np.nanmean(rows[:, 0] * rows[:, 3]))
        if not watts > 0:
            return None
        likely, low = (max(SOONEST_BY_CHARGE_MIN, Wh / watts * 60) for Wh in (left, least))
        if likely >= HORIZON_MIN:
            return None
        reason = self._reason("cut: charge left", {"watts": watts})
        return Cut("discharge", When(likely, low, max(likely, 2 * likely - low)), reason)

    def _high_reason(self, cell: Placed, slope_V: float) -> Reason:
        facts = {**_placed(cell), "mV_a_min": 1000 * slope_V, "limit_V": self._high_V}
        return self._reason("cut: high cell", facts)

    def _low_reason(self, cell: Placed, slope_V: float) -> Reason:
        facts = {**_placed(cell), "mV_a_min": -1000 * slope_V, "limit_V": self._low_V}
        return self._reason("cut: low cell", facts)

    # ---- restarts

    def state(self) -> dict[str, Any]:
        return {"resistance_ohm": self._resistance_ohm, "hold_V": self.holding.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`; trends begin anew."""
        self._resistance_ohm = float(state["resistance_ohm"])
        self.holding.restore(state["hold_V"])


def _no_slower(line: Fit) -> Fit:
    """A line in a knee steepens; where it does not show that plainly it is taken to go straight on."""
    return line if line.bend > 2 * line.bend_sd else line._replace(bend=0.0)


def _on_the_knee(cell_V: float, limit_V: float) -> tuple[float, float]:
    """By the lower knee's shape: the charge above the limit [%], and how much a volt is worth here. [%/V]"""
    volts = [cell_V, limit_V, cell_V + KNEE_STEP_V, cell_V - KNEE_STEP_V]
    here, limit, more, less = np.interp(volts, _KNEE_V, _KNEE_PCT)
    return max(0.0, float(here - limit)), max(0.1, float(more - less) / (2 * KNEE_STEP_V))


def _straight(warmths_C: Floats, limit_C: float, least_C: float) -> When | None:
    """When a temperature comes to its limit at its present pace; None where it hardly moves there."""
    line = fit(warmths_C)
    if line is None or line.slope * math.copysign(1, least_C) < abs(least_C):
        return None
    when = meets(line._replace(bend=0.0), limit_C, least_C > 0)
    return when if when.likely < HORIZON_MIN else None


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def _value(placed: Placed | None) -> float:
    return math.nan if placed is None else placed.value


def _placed(cell: Placed) -> dict[str, Any]:
    return {"cell": cell.where, "cell_V": cell.value}
