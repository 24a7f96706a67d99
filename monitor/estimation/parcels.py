"""Water in a tank as parcels by the day they came aboard: what is drawn takes of all alike, what is
poured in mixes with them."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.clock import HOUR_S

ONE_FILL_S = 6 * HOUR_S
"""Poured in within this time of each other they are one parcel."""
MOST = 8
TRACE = 0.05
"""Mixed water is never quite gone: a parcel that is less of the tank than this counts as gone."""


class Parcel(NamedTuple):
    """So many litres that came aboard at `born_s` (UTC); `known` False: at the latest then."""

    born_s: float
    litres: float
    treated: bool | None
    known: bool


Parcels = tuple[Parcel, ...]
"""The oldest first."""


def total_L(parcels: Sequence[Parcel]) -> float:
    return sum(p.litres for p in parcels)


def drawn(parcels: Parcels, to_L: float) -> Parcels:
    """What is left when the tank is down to so much: every parcel gave its share."""
    whole = total_L(parcels)
    if whole <= 0:
        return ()
    return tuple(p._replace(litres=p.litres * to_L / whole) for p in parcels if to_L > 0)


def poured(parcels: Parcels, new: Parcel) -> Parcels:
    """A parcel more; cans of one fill are one, and the smallest neighbours become one when there are many."""
    last = parcels[-1] if parcels else None
    if (
        last is not None
        and last.known
        and new.born_s - last.born_s < ONE_FILL_S
        and last.treated == new.treated
    ):
        return (*parcels[:-1], _mixed(last, new))
    found = [*parcels, new]
    while len(found) > MOST:
        n = min(range(len(found) - 1), key=lambda k: found[k].litres + found[k + 1].litres)
        found[n : n + 2] = [_mixed(found[n], found[n + 1])]
    return tuple(found)


def labelled(parcels: Parcels, since_s: float, treated: bool | None) -> Parcels:
    """What came aboard since then was treated, or not."""
    return tuple(p._replace(treated=treated) if p.known and p.born_s >= since_s else p for p in parcels)


def mean_age_s(parcels: Sequence[Parcel], utc_s: float) -> float | None:
    """Weighted by volume; at least, where some are of unknown age. None of an empty tank."""
    whole = total_L(parcels)
    return sum(p.litres * (utc_s - p.born_s) for p in parcels) / whole if whole > 0 else None


def all_treated(parcels: Sequence[Parcel]) -> bool | None:
    """True where all but a trace is known to be, False where more than a trace is known not to be."""
    whole = total_L(parcels)
    shares = {
        kind: sum(p.litres for p in parcels if p.treated is kind) / whole if whole > 0 else 0.0
        for kind in (False, None)
    }
    return False if shares[False] > TRACE else None if shares[None] > TRACE or whole <= 0 else True


def _mixed(a: Parcel, b: Parcel) -> Parcel:
    litres = a.litres + b.litres
    born_s = (a.born_s * a.litres + b.born_s * b.litres) / litres if litres > 0 else b.born_s
    treated = a.treated if a.treated == b.treated else None if None in (a.treated, b.treated) else False
    return Parcel(born_s, litres, treated, a.known and b.known)
