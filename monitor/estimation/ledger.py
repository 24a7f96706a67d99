"""What a night used, exact in its sum: made - used = net, whatever came in.

Amounts are kept in steps of 1/64 Wh, so that sums of them are exact in the machine too.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S, Interval
from monitor.estimation.loads.naming import Named, Runs
from monitor.records import LoadKind, NightLedger, Share

Floats = npt.NDArray[np.float64]

STANDING = "standing load"
_FLOOR_PERCENTILE = 5.0
_LEAST_STEPS = 24
"""A floor told from fewer readings would be a guess."""
_UNMETERED_SHARE = 0.02
"""More of what was made than this without a meter, and the figure is called estimated."""
_METERED, _SURE, _LESS_SURE = 1.0, 0.9, 0.6
_LEAST_GAP_S = 60.0
SURE_NAME = 0.8
"""A load less sure than this is told under no name."""


def night(
    interval: Interval,
    utc_s: Floats,
    net_W: Floats,
    made_W: Floats | None,
    *,
    named: Named | None = None,
    kinds: Sequence[LoadKind] = (),
    loads_W: Mapping[str, Floats] | None = None,
    made_by_W: Mapping[str, Floats] | None = None,
    step_s: float = 60.0,
    water_L: float | None = None,
    pump_starts: int | None = None,
    lowest_V: Mapping[str, float] | None = None,
    dusk_pct: float | None = None,
    dawn_pct: float | None = None,
    place: str = "",
) -> NightLedger:
    """The ledger of the night `interval` from means over steps of `step_s` that begin at `utc_s`.

    Args:
        net_W: Mean power into the house bank by step; NaN where nothing was heard. [W]
        made_W: Mean power of all metered chargers by step, NaN where none was heard; None where no
            charger is metered. [W]
        named: The same night shared out among the loads that are known, with `kinds` to say what they are.
        loads_W: Without that: mean power of each load that has a meter of its own, by step, NaN where it
            was not heard. Together they are never more than what was used. [W]
        made_by_W: Mean power of each metered charger by step, NaN where it was not heard. [W]

    Power that flows into the bank past the meters was made by something: where net exceeds made,
    net is what was made, and `made_estimated` says so. Steps not heard are told as `missing_s`, in
    no figure; with none heard every amount is None. Without `named`, "standing load" is the level that the
    use without the metered loads stood above for 95 % of the night; the rest is unexplained.
    """
    there = (utc_s >= interval.start_s) & (utc_s < interval.end_s)
    inside = there & np.isfinite(net_W)
    net = np.asarray(net_W, np.float64)[inside]
    heard_s = min(net.size * step_s, interval.seconds)
    rest: dict[str, Any] = {
        "water_L": water_L, "lowest_V": dict(lowest_V or {}), "pump_starts": pump_starts,
        "dusk_pct": dusk_pct, "dawn_pct": dawn_pct, "missing_s": interval.seconds - heard_s,
        "gaps": gaps(utc_s[inside], step_s, interval), "place": place,
    }  # fmt: skip
    if not net.size:
        return NightLedger(*interval, None, None, None, (), None, made_estimated=made_W is None, **rest)
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
    used = made - net
    if named is not None:
        shares = shared_out(named, kinds, used_Wh)
    else:
        sure = (_LESS_SURE if estimated else _SURE) * heard_s / interval.seconds
        shares = _metered(used, loads_W or {}, inside, to_Wh)
        left_Wh = used_Wh - sum(share.Wh for share in shares)
        shares += _standing(used, made <= at_meters, heard_s / HOUR_S, left_Wh, sure)
    told_Wh = sum(share.Wh for share in shares if share.what)
    return NightLedger(
        *interval, used_Wh, made_Wh, net_Wh, tuple(shares), used_Wh - told_Wh,
        made_estimated=estimated, made_by=_sources(made_by_W or {}, inside, to_Wh), **rest,
    )  # fmt: skip


def shared_out(named: Named, kinds: Sequence[LoadKind], used_Wh: float) -> list[Share]:
    """The lines of a ledger from a night that was shared out: of `used_Wh` each has its part.

    What the crew named and is sure enough stands under its name; what is learned and not named has a line
    with its `load` and no `what`, and is a part of what is unexplained.
    """
    used = np.nan_to_num(named.used_W)
    total = float(np.maximum(used, 0.0).sum())
    of_each = used_Wh / total if total > 0 else 0.0
    by_id = {kind.id: kind for kind in kinds}
    told: dict[str, Share] = {}
    unnamed = []
    for load, watts in named.watts.items():
        Wh, kind = float(watts.sum()) * of_each, by_id.get(load)
        if kind is None:
            told[load] = Share(load, Wh, named.confidence.get(load, _METERED))
        elif kind.name and kind.confidence >= SURE_NAME:
            told[kind.name] = _together(told.get(kind.name), kind, Wh, named.runs[load])
        elif Wh > 0:
            unnamed.append(Share("", _exact(Wh), round(kind.confidence, 2), named.runs[load], load))
    told[STANDING] = Share(STANDING, float(named.standing_W.sum()) * of_each, _SURE)
    shares, left_Wh = [], used_Wh
    for share in told.values():
        exact_Wh = min(left_Wh, _exact(share.Wh))
        left_Wh -= exact_Wh
        if exact_Wh > 0:
            shares.append(replace(share, Wh=exact_Wh))
    return shares + unnamed


def gaps(heard_utc_s: Floats, step_s: float, interval: Interval) -> tuple[tuple[float, float], ...]:
    """Stretches of a minute and longer of which nothing was heard."""
    begins = np.concatenate((heard_utc_s, [interval.end_s]))
    ends = np.concatenate(([interval.start_s], heard_utc_s + step_s))
    silent = begins - ends >= max(step_s, _LEAST_GAP_S) - 1e-6
    return tuple(zip(ends[silent].tolist(), begins[silent].tolist(), strict=True))


def _together(before: Share | None, kind: LoadKind, Wh: float, runs: Runs) -> Share:
    """Loads of one name stand in one line."""
    if before is None:
        return Share(kind.name, Wh, round(kind.confidence, 2), runs, kind.id)
    sure = min(before.confidence, round(kind.confidence, 2))
    return replace(
        before, Wh=before.Wh + Wh, confidence=sure, runs=tuple(sorted((*(before.runs or ()), *runs)))
    )


def _metered(
    used: Floats, loads_W: Mapping[str, Floats], inside: npt.NDArray[np.bool_], to_Wh: float
) -> list[Share]:
    """Loads with a meter of their own, taken out of what was used."""
    shares = []
    for what, watts in loads_W.items():
        taken = np.minimum(np.maximum(np.nan_to_num(np.asarray(watts, np.float64)[inside]), 0.0), used)
        used -= taken
        shares.append(Share(what, _exact(float(taken.sum()) * to_Wh), _METERED))
    return shares


def _sources(
    made_by_W: Mapping[str, Floats], inside: npt.NDArray[np.bool_], to_Wh: float
) -> tuple[Share, ...]:
    """What each charger made by its own meter."""
    found = []
    for what, watts in made_by_W.items():
        Wh = _exact(float(np.nan_to_num(np.asarray(watts, np.float64)[inside]).sum()) * to_Wh)
        if Wh > 0:
            found.append(Share(what, Wh, _METERED))
    return tuple(found)


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
