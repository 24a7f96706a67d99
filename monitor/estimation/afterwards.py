"""What becomes of the charge if a load is run now: at its end, at dawn, and how long one could go on."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from monitor.clock import HOUR_S, MINUTE_S
from monitor.estimation.carrying import Aboard
from monitor.estimation.house_left import HouseLeft
from monitor.estimation.passage import Stand, stand_at
from monitor.records import Course, Estimate

CHARGER_SHARE = 0.9
"""Of its label, for hours. Common practice."""
FULL = 0.995
SUN_SINKS = 0.5
"""Of what a full bank could have taken, as the sun goes lower."""


class Afterwards(NamedTuple):
    """Unknown is None. `hours` down to the reserve, likely and cautious: None where nothing is given."""

    end: Stand | None
    dawn_without: Stand | None
    """As forecast without the load."""
    dawn: Stand | None
    made_up: bool
    """By dawn nothing of it is missing."""
    hours: tuple[float, float] | None


def afterwards(
    aboard: Aboard,
    left: HouseLeft | None,
    estimates: Mapping[tuple[str, str], Estimate],
    ahead: Course | None,
    now_utc_s: float | None,
    bank_W: float,
    minutes: float,
) -> Afterwards:
    """The charge after a load has drawn `bank_W` from the bank for so many minutes.

    The forecast goes on as it would have, less what was used; where there is none, the bank gives what
    it gives now. At dawn as much is missing as neither a full bank's surplus nor the charger on a live
    supply makes up.
    """
    if left is None or aboard.bank is None:
        return Afterwards(None, None, None, False, None)
    drains_W = max(0.0, -(aboard.bank_A or 0.0) * aboard.bank_V)
    used_Wh, end_s = bank_W * minutes / 60, (now_utc_s or 0.0) + minutes * MINUTE_S
    end = None if ahead is None or now_utc_s is None else stand_at(ahead, end_s)
    if end is None:
        gone_Wh = drains_W * minutes / 60
        end = Stand(end_s, left.low_Wh - gone_Wh, left.likely_Wh - gone_Wh, left.high_Wh - gone_Wh)
    hours = None
    if bank_W > 0:
        above_Wh = (max(0.0, Wh - left.reserve_Wh) for Wh in (left.likely_Wh, left.low_Wh))
        likely_h, low_h = (Wh / (bank_W + drains_W) for Wh in above_Wh)
        hours = likely_h, low_h
    end = _less(end, used_Wh, used_Wh)
    known = estimates.get(("dawn_pct", aboard.bank.name))
    dawn_s = None if known is None else known.reason.facts.get("moment_s")
    without = None if ahead is None or dawn_s is None else stand_at(ahead, float(dawn_s))
    if ahead is None or without is None or without.utc_s < end_s:
        return Afterwards(end, None, None, False, hours)
    back_Wh = 0.0 if aboard.supply is None else _refill_W(aboard) * (without.utc_s - end_s) / HOUR_S
    low_Wh, likely_Wh = (
        max(
            0.0, used_Wh - back_Wh - turned_away_Wh(ahead.utc_s, edge, left.capacity_Wh, end_s, without.utc_s)
        )
        for edge in (ahead.low, ahead.likely)
    )
    made_up = used_Wh > 0 and low_Wh == 0.0
    return Afterwards(end, without, _less(without, low_Wh, likely_Wh), made_up, hours)


def turned_away_Wh(
    utc_s: tuple[float, ...], amount_Wh: tuple[float, ...], capacity_Wh: float, from_s: float, until_s: float
) -> float:
    """What a full bank refuses between two moments of a course, and could take after a load. [Wh]

    For each hour that it stands full, half of what it took in the better of the last two hours in which
    it rose; 0 where it does not rise to full within the span.
    """
    times, amounts = np.asarray(utc_s, np.float64), np.asarray(amount_Wh, np.float64)
    spans_h = np.diff(times) / HOUR_S
    inside = (times[:-1] >= from_s - HOUR_S) & (times[1:] <= until_s) & (spans_h > 0)
    full = amounts >= FULL * capacity_Wh
    stands = np.flatnonzero(inside & full[:-1] & full[1:])
    if not stands.size:
        return 0.0
    rises_Wh = np.diff(amounts)
    rising = np.flatnonzero(inside & (rises_Wh > 0) & (np.arange(len(spans_h)) < stands[0]))[-2:]
    if not rising.size:
        return 0.0
    rate_W = float((rises_Wh[rising] / spans_h[rising]).max())
    return SUN_SINKS * rate_W * float(spans_h[stands].sum())


def _refill_W(aboard: Aboard) -> float:
    """What the chargers on a supply can put back."""
    return sum(
        CHARGER_SHARE * (charger.rated_W or (charger.rated_A or 0.0) * aboard.bank_V)
        for charger in aboard.chargers
    )


def _less(stand: Stand, low_Wh: float, likely_Wh: float) -> Stand:
    low, likely, high = stand.low - low_Wh, stand.likely - likely_Wh, stand.high - likely_Wh
    return Stand(stand.utc_s, max(0.0, low), max(0.0, likely), max(0.0, high))
