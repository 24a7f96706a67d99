"""Faults that watchers find, each aboard a boat that has lived three ordinary days."""

from bisect import bisect_right
from collections.abc import Callable
from copy import deepcopy
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from monitor.records import Severity
from simulators.loads import PUMP_DRY_A
from tests.proof import alert_tampers as t
from tests.proof.alert_boat import HOUR_S
from tests.proof.alert_deck import Deck
from tests.proof.alert_fact_faults import Story
from tests.proof.alert_minutes import PUMP, START_UTC_S, Aboard, Minute, ordinary

TAIL_S = 45 * 60.0
LEARN_DAYS, KEPT_DAYS = 3, 2


class Base(NamedTuple):
    """A boat that has lived some ordinary days, and the next two."""

    minutes: list[Minute]
    decks: list[tuple[int, Deck]]
    """As the watch stood before a minute, every hour."""


@lru_cache(maxsize=4)
def _base(place: str, n: int) -> Base:
    deck = Deck(n)
    deck.attach()
    kept: list[Minute] = []
    decks = []
    learn = LEARN_DAYS * 1440
    days = LEARN_DAYS + KEPT_DAYS
    for k, minute in enumerate(Aboard(ordinary(place, 70_000 + n, days), 70_000 + n, days).minutes()):
        if k < learn:
            deck.minute(minute)
            continue
        kept.append(minute)
        if (k - learn) < 1440:
            if (k - learn) % 120 == 0:
                decks.append((k - learn, deepcopy(deck)))
            deck.minute(minute)
    return Base(kept, decks)


class Fault(NamedTuple):
    """A fault that watchers find."""

    rule: str
    subject: str
    place: str
    sizes: tuple[float, float]
    tamper: t.Tamper
    after_s: Callable[[float], float] = lambda size: 0.0
    """From the fault's beginning to where its time runs."""
    hours: tuple[float, float] = (1.0, 23.0)
    """When it may begin."""
    lasts_s: float = 2 * HOUR_S
    grade: Callable[[float], Severity] | None = None
    roots: tuple[tuple[str, str], ...] = ()
    onset: Callable[[Deck], None] | None = None


def watched(fault: Fault, seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    base = _base(fault.place, seed % 2)
    onset = int(60 * rng.uniform(*fault.hours))
    at, deck = base.decks[bisect_right([k for k, _ in base.decks], onset) - 1]
    deck = deepcopy(deck)
    deck.attach()
    size = float(rng.uniform(*fault.sizes))
    begun_s = base.minutes[onset].start_s - START_UTC_S
    told_s = None
    for k in range(at, min(len(base.minutes), onset + int(fault.lasts_s / 60) + 1)):
        minute = base.minutes[k]
        if k >= onset:
            if k == onset and fault.onset is not None:
                fault.onset(deck)
            columns = dict(minute.columns)
            more = fault.tamper(columns, minute.start_s - START_UTC_S - begun_s, size, minute) or {}
            minute = minute._replace(columns=columns, **more)
        called = deck.minute(minute)
        now_s = minute.start_s - START_UTC_S
        keys = ((fault.rule, fault.subject), *fault.roots)
        if told_s is None and k >= onset and any((c.rule, c.subject) in keys for c in called):
            told_s = now_s
        if told_s is not None and now_s > max(told_s, begun_s + fault.after_s(size)) + TAIL_S:
            break
    told = [t for t in deck.bridge.told if t[0] >= begun_s]
    return size, Story(begun_s + fault.after_s(size), told, fault.roots)


def _by(limit: float) -> Callable[[float], Severity]:
    return lambda size: Severity.ALARM if size < limit else Severity.WARNING


def _changed(deck: Deck) -> None:
    deck.changed = True


def _zero(deck: Deck) -> None:
    deck.offset_A = 0.35


_DAY = (8.0, 20.0)


def _caution(size: float) -> Severity:
    return Severity.CAUTION


def _alarm(size: float) -> Severity:
    return Severity.ALARM


WATCHED = (
    Fault(
        "cut coming", "house", "at anchor", (40, 90), t.runs_down, lambda m: 60 * (m - 20), _DAY, 3 * HOUR_S
    ),
    Fault("cut off", "house", "at anchor", (0, 1), t.opens, grade=_alarm),
    Fault("cold charging", "house", "at anchor", (-4, 4), t.cold),
    Fault("hot cells", "house", "at anchor", (8, 40), t.hot, lambda k: 36000 / k, lasts_s=4 * HOUR_S),
    Fault("charge above limit", "house", "at anchor", (1.2, 2.5), t.above, roots=(("cut coming", "house"),)),
    Fault("current reversed", "house current", "at anchor", (0, 1), t.turned, lasts_s=13 * HOUR_S),
    Fault("converter lost", "converter", "at anchor", (2, 8), t.converter_lost),
    Fault(
        "buffer low",
        "navigation",
        "at anchor",
        (11.2, 12.1),
        t.buffer_low,
        grade=_by(11.75),
        lasts_s=3 * HOUR_S,
    ),
    Fault("shore overloaded", "shore", "alongside", (10.4, 16), t.shore),
    Fault(
        "supply sags",
        "shore",
        "alongside",
        (190, 205),
        t.sags,
        grade=lambda s: Severity.WARNING,
        roots=(("shore overloaded", "shore"),),
    ),
    Fault("generator overloaded", "generator supply", "at anchor", (2950, 3800), t.set),
    Fault("burst", PUMP, "at anchor", (0.1, 0.4), t.pump(0.0, 1.0, 1.0), grade=_alarm, after_s=lambda s: 5.0),
    Fault("pump dry", PUMP, "at anchor", (0.0, 0.03), t.pump(PUMP_DRY_A, 1.0, 0.0), grade=_alarm),
    Fault("pump switch stuck", PUMP, "at anchor", (3.4, 4.4), t.pump(0.0, 1.0, 0.0), grade=_alarm),
    Fault(
        "leak above the pump", PUMP, "at anchor", (2.0, 12.0), t.falls, hours=(12, 23), lasts_s=13 * HOUR_S
    ),
    Fault("tap left open", PUMP, "at anchor", (0.6, 4.0), t.tap, hours=_DAY, roots=(("burst", PUMP),)),
    Fault("tank nearly full", "midship", "alongside", (8, 20), t.fills, lambda q: 60 * 0.25 * 260 / q, _DAY),
    Fault(
        "plumbing may freeze",
        "water",
        "alongside",
        (0.8, 5),
        t.freezes,
        lambda k: 18000 / k,
        lasts_s=9 * HOUR_S,
    ),
)
CAUTIONS = (
    Fault(
        "sensor stuck",
        "house current",
        "at anchor",
        (1, 9),
        t.stays,
        hours=_DAY,
        lasts_s=12 * HOUR_S,
        grade=_caution,
    ),
    Fault("charge jumped", "house charge", "at anchor", (15, 40), t.jumps, grade=_caution),
    Fault("bank changed", "house", "at anchor", (0, 1), t.nothing, onset=_changed, grade=_caution),
    Fault("sensor off zero", "house current", "at anchor", (0, 1), t.nothing, onset=_zero, grade=_caution),
    Fault("converter at limit", "converter", "at anchor", (1, 4), t.at_limit, grade=_caution),
    Fault("bank helps shore", "shore", "alongside", (8, 40), t.helps, grade=_caution),
    Fault("generator idles", "generator supply", "at anchor", (150, 750), t.set, grade=_caution),
    Fault(
        "tank sender wrong",
        "midship",
        "alongside",
        (0, 1),
        t.sender,
        grade=_caution,
        roots=(("instrument silent", "midship"),),
    ),
)
