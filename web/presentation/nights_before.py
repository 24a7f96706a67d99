"""The nights before, small and all to one scale, and what each load costs a night and a day."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.clock import DAY_S
from monitor.estimation.ledger import STANDING
from monitor.records import NightLedger
from monitor.words.units import date as told_date
from monitor.words.units import litres, volts, wh
from web.presentation.ahead import house
from web.presentation.figures import Reader, or_unknown
from web.presentation.night_ledger import called, load_href, unit_of, whole
from web.presentation.night_parts import NAMED, parts_of
from web.presentation.spans import night_date

SHOWN = 14
"""How many nights stand in the list."""
LEAST_WH = 0.5


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a night's bar: left edge, width, pattern."""

    x: float
    width: float
    pattern: str


@dataclass(frozen=True, slots=True)
class Before:
    """One of the nights before, small."""

    day: str
    href: str
    here: bool
    used: str
    water: str
    pieces: tuple[Piece, ...]
    told: str
    lowest: str


@dataclass(frozen=True, slots=True)
class Cost:
    name: str
    href: str
    a_night: str
    a_day: str
    """Empty for what nobody can tell of the day: what is switched by hand."""


def before(reader: Reader, nights: Sequence[NightLedger], here: NightLedger) -> tuple[Before, ...]:
    """The newest first: named, standing and unexplained one after the other."""
    bank = house(reader)
    most_Wh = max((n.used_Wh for n in nights if n.used_Wh is not None), default=0.0) or 1.0
    unit_Wh, _ = unit_of(reader.dress)
    rows = []
    for n in reversed(nights):
        lowest = n.lowest_V.get(bank.name) if bank else None
        stacked = _stacked(n)
        told = ", ".join(f"{reader.word(kind)} {wh(Wh, reader.dress)}" for kind, Wh in stacked)
        rows.append(
            Before(
                day=_day(reader, n),
                href=f"/night/{night_date(n, reader):%Y-%m-%d}",
                here=n.start_s == here.start_s,
                used=or_unknown(n.used_Wh, lambda Wh, dress: whole(Wh / unit_Wh, dress), reader.dress),
                water=or_unknown(n.water_L, litres, reader.dress),
                pieces=tuple(_pieces(stacked, most_Wh)),
                told=told,
                lowest="" if lowest is None else volts(lowest, reader.dress),
            )
        )
    return tuple(rows)


def _day(reader: Reader, n: NightLedger) -> str:
    day = told_date(n.start_s, reader.dress)
    return reader.say("before: so far", day=day) if under_way(reader, n) else day


def under_way(reader: Reader, n: NightLedger) -> bool:
    return reader.snapshot.utc_s is not None and n.end_s > reader.snapshot.utc_s


def _stacked(n: NightLedger) -> list[tuple[str, float]]:
    parts = parts_of(n)
    if n.used_Wh is None:
        return []
    found = [
        ("standing", parts.standing.Wh if parts.standing else 0.0),
        (NAMED, sum(p.Wh for p in parts.named)),
        ("unexplained", parts.unexplained.Wh if parts.unexplained else 0.0),
    ]
    return [(kind, Wh) for kind, Wh in found if Wh > LEAST_WH]


def _pieces(stacked: Sequence[tuple[str, float]], most_Wh: float) -> list[Piece]:
    x, pieces = 0.0, []
    for kind, Wh in stacked:
        pieces.append(Piece(x, Wh / most_Wh, kind))
        x += Wh / most_Wh
    return pieces


def costs(reader: Reader, nights: Sequence[NightLedger]) -> tuple[Cost, ...]:
    """What each named load and the standing load took, over those nights that are over, as far as they
    were heard."""
    over = [n for n in nights if n.used_Wh is not None and not under_way(reader, n)]
    known = [n for n in over if n.end_s - n.start_s > n.missing_s]
    heard_s = sum(n.end_s - n.start_s - n.missing_s for n in known)
    total: dict[str, float] = {}
    loads: dict[str, str] = {}
    for n in known:
        parts = parts_of(n)
        for p in (*parts.named, *((parts.standing,) if parts.standing else ())):
            total[p.name] = total.get(p.name, 0.0) + p.Wh
            loads[p.name] = p.load
    unit_Wh, _ = unit_of(reader.dress)
    switched = {k.id for k in reader.snapshot.loads if k.how != "cycles"}
    rows = []
    for name, Wh in sorted(total.items(), key=lambda item: -item[1]):
        if Wh < LEAST_WH * len(known):
            continue
        steady = name == STANDING or (loads[name] and loads[name] not in switched)
        href = load_href(loads[name]) if loads[name] else ""
        a_day = whole(Wh * DAY_S / heard_s / unit_Wh, reader.dress) if steady else ""
        a_night = whole(Wh / len(known) / unit_Wh, reader.dress)
        rows.append(Cost(called(reader, name), href, a_night, a_day))
    return tuple(rows)
