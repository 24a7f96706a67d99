"""How a night compares with the usual night at the same place, and what was not as usual."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from statistics import median
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.ledger import STANDING
from monitor.records import NightLedger, Reason, Share, Usual

LEAST_NIGHTS, MOST_NIGHTS = 3, 14
"""So many nights make a usual one, and no more count."""
MOST_MISSING = 0.1
"""A night of which more was not heard, as a share, is no example."""
LEAST_Wh, LEAST_SHARE = 10.0, 0.2
"""A load is not as usual from so much on, and so much of its usual."""
UNNAMED, UNEXPLAINED = "unnamed load", "unexplained"
TOLD_SHARE = 0.15
"""More than this share unexplained is worth telling."""
NEW_Wh, NONE_SHARE = 15.0, 0.1
"""From so much on a load is a new one; with so little of its usual it did not run."""


def key(share: Share) -> str:
    """What tells the same load in another night."""
    return share.load or share.what


def usual(night: NightLedger, before: Sequence[NightLedger]) -> Usual | None:
    """The median of the latest nights at the same place, each made as long as this one; None while there
    are too few."""
    alike = [n for n in before if n.end_s <= night.start_s and n.place == night.place and _whole(n)]
    alike = alike[-MOST_NIGHTS:]
    if len(alike) < LEAST_NIGHTS or not night.place:
        return None
    scales = [_heard_h(night) / _heard_h(n) for n in alike]
    by: dict[str, list[float]] = {}
    for n, scale in zip(alike, scales, strict=True):
        for share in n.by:
            by.setdefault(key(share), []).append(scale * share.Wh)
        by.setdefault(UNEXPLAINED, []).append(scale * (n.unexplained_Wh or 0.0))
    water = [scale * n.water_L for n, scale in zip(alike, scales, strict=True) if n.water_L is not None]
    used = [scale * (n.used_Wh or 0.0) for n, scale in zip(alike, scales, strict=True)]
    return Usual(
        round(median(used), 1),
        round(median(water), 2) if len(water) >= LEAST_NIGHTS else None,
        len(alike),
        night.place,
        {what: round(median([*found, *[0.0] * (len(alike) - len(found))]), 1) for what, found in by.items()},
    )


def changes(night: NightLedger, usual: Usual, names: Mapping[str, str]) -> tuple[Reason, ...]:
    """What was not as usual, the heaviest first; `names` are of loads that did not run, by their key."""
    found = sorted(_changes(night, usual.by_Wh, names), key=lambda pair: -pair[0])
    return tuple(reason for _, reason in found)


def compared(night: NightLedger, before: Sequence[NightLedger]) -> NightLedger:
    """The night with its usual one, and what was not as usual."""
    found = usual(night, before)
    if found is None:
        return night
    names = {key(share): share.what for n in before for share in n.by if share.what}
    return replace(night, usual=found, changed=changes(night, found, names))


def _changes(
    night: NightLedger, usual_Wh: Mapping[str, float], names: Mapping[str, str]
) -> Iterator[tuple[float, Reason]]:
    """Each with its weight. [Wh]"""
    here = {key(share): share for share in night.by}
    for what, share in here.items():
        before = usual_Wh.get(what, 0.0)
        more = share.Wh - before
        facts: dict[str, Any] = {"name": share.what or UNNAMED, "load": share.load, "Wh": abs(more)}
        if abs(more) < max(LEAST_Wh, LEAST_SHARE * before):
            continue
        if before < NONE_SHARE * share.Wh:
            if share.Wh >= NEW_Wh:
                yield share.Wh, Reason("changed: new", facts)
        elif what == STANDING:
            way = "more" if more > 0 else "less"
            yield abs(more), Reason(f"changed: standing {way}", {"W": abs(more) / _heard_h(night)})
        elif share.runs:
            which, way = ("ran longer", "more") if more > 0 else ("ran less", "less")
            yield abs(more), Reason(f"changed: {which}", {**facts, way: 100 * abs(more) / before})
        else:
            yield abs(more), Reason("changed: took more" if more > 0 else "changed: took less", facts)
    for what, before in usual_Wh.items():
        if what not in here and before >= NEW_Wh and what != UNEXPLAINED:
            name = names.get(what, UNNAMED)
            yield before, Reason("changed: missing", {"name": name, "load": what, "Wh": before})
    rest, before = night.unexplained_Wh or 0.0, usual_Wh.get(UNEXPLAINED, 0.0)
    if rest - before > max(LEAST_Wh, LEAST_SHARE * before) and rest > TOLD_SHARE * (night.used_Wh or 0.0):
        yield rest - before, Reason("changed: unexplained more", {"Wh": rest - before})


def _whole(night: NightLedger) -> bool:
    seconds = night.end_s - night.start_s
    return night.used_Wh is not None and seconds > 0 and night.missing_s <= MOST_MISSING * seconds


def _heard_h(night: NightLedger) -> float:
    return max(0.1, (night.end_s - night.start_s - night.missing_s) / HOUR_S)
