"""What a night used, exact in its sum: made - used = net, whatever came in.

Amounts are kept in steps of 1/64 Wh, so that sums of them are exact in the machine too.
"""

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S, Interval
from monitor.records import NightLedger, Share

Floats = npt.NDArray[np.float64]

STANDING = "standing load"
_FLOOR_PERCENTILE = 5.0
_LEAST_STEPS = 24
"""A floor told from fewer readings would be a guess."""
_UNMETERED_SHARE = 0.02
"""More of what was made than this without a meter, and the figure is called estimated."""
_METERED, _SURE, _LESS_SURE = 1.0, 0.9, 0.6


def night(
    interval: Interval,
    utc_s: Floats,
    net_W: Floats,
    made_W: Floats | None,
    *,
    loads_W: Mapping[str, Floats] | None = None,
    step_s: float = 60.0,
    water_L: float | None = None,
    pump_starts: int | None = None,
    lowest_V: Mapping[str, float] | None = None,
    dusk_pct: float | None = None,
    dawn_pct: float | None = None,
) -> NightLedger:
    """The ledger of the night `interval` from means over steps of `step_s` that begin at `utc_s`.

    Args:
        net_W: Mean power into the house bank by step; NaN where nothing was heard. [W]
        made_W: Mean power of all metered chargers by step, NaN where none was heard; None where no
            charger is metered. [W]
        loads_W: Mean power of each load that has a meter of its own, by step, NaN where it was not
            heard. Together they are never more than what was used. [W]

    Power that flows into the bank past the meters was made by something: where net exceeds made,
    net is what was made, and `made_estimated` says so. Steps not heard are told as `missing_s`, in
    no figure; with none heard every amount is None. "standing load" is the level that the use
    without the metered loads stood above for 95 % of the night; the rest is unexplained.
    """
    inside = (utc_s >= interval.start_s) & (utc_s < interval.end_s) & np.isfinite(net_W)
    net = np.asarray(net_W, np.float64)[inside]
    heard_s = min(net.size * step_s, interval.seconds)
    missing_s = interval.seconds - heard_s
    if not net.size:
        return NightLedger(
            interval.start_s, interval.end_s, None, None, None, (), None, water_L,
            dict(lowest_V or {}), pump_starts, dusk_pct, dawn_pct, missing_s, made_W is None,
        )  # fmt: skip
    metered = np.full(net.size, np.nan) if made_W is None else np.asarray(made_W, np.float64)[inside]
    known = np.isfinite(metered)
    at_meters = np.where(known, np.maximum(metered, 0.0), 0.0)
    made = np.maximum(at_meters, net)
    np.maximum(made, 0.0, out=made)
    to_Wh = step_s / HOUR_S
    net_Wh, made_Wh = _exact(float(net.sum()) * to_Wh), _exact(float(made.sum()) * to_Wh)
    used_Wh = made_Wh - net_Wh
    past_meters = float((made - at_meters).sum())
    estimated = bool(past_meters > _UNMETERED_SHARE * max(float(made.sum()), 1e-9) or not known.all())
    sure = (_LESS_SURE if estimated else _SURE) * heard_s / interval.seconds
    used = made - net
    shares = []
    for what, watts in (loads_W or {}).items():
        taken = np.minimum(np.maximum(np.nan_to_num(np.asarray(watts, np.float64)[inside]), 0.0), used)
        used = used - taken
        shares.append(Share(what, _exact(float(taken.sum()) * to_Wh), _METERED))
    rest_Wh = used_Wh - sum(share.Wh for share in shares)
    shares += _standing(used, made <= at_meters, heard_s / HOUR_S, rest_Wh, sure)
    return NightLedger(
        interval.start_s, interval.end_s, used_Wh, made_Wh, net_Wh, tuple(shares),
        used_Wh - sum(share.Wh for share in shares), water_L, dict(lowest_V or {}), pump_starts,
        dusk_pct, dawn_pct, missing_s, estimated,
    )  # fmt: skip


def _standing(
    used_W: Floats, told: npt.NDArray[np.bool_], hours: float, most_Wh: float, sure: float
) -> tuple[Share, ...]:
    """The load that is always there, from the steps in which use could be told from charging."""
    seen = used_W[told]
    if seen.size < _LEAST_STEPS:
        return ()
    floor_W = max(0.0, float(np.percentile(seen, _FLOOR_PERCENTILE)))
    Wh = _exact(min(floor_W * hours, most_Wh))
    return (Share(STANDING, Wh, round(sure, 2)),) if Wh > 0 else ()


def _exact(Wh: float) -> float:
    return round(Wh * 64) / 64
