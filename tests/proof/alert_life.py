"""False alerts of every watcher in ordinary life: blocks of days at anchor, under way and alongside.

*Marram* lives as her simulator has it, second by second: fridge and freezer, kettle and oven through the
inverter or on shore, heater, showers, cans and hoses, sun and clouds, engine or generator hours, chargers
that end at full, slosh and heel, cold nights; her instruments speak with their own errors every 5 to 60 s.
On top of it instruments fall silent for seconds to minutes, buses restart and the computer reboots. What
her watch hears goes through the real mode keeper, water desk, watchers, findings and book: a look every
quarter of a minute, as in the pipeline, and a judgement at each minute, and at each look while the pump
runs or a tank is filled. Only the charge is told from the truth with an error of some per cent
(`alert_year` says of what kind), and no forecasts are drawn: those rules are proved there.

How truth is judged (`truly`), from the simulator's own truth of the last minutes, never from a reading: in
such a life nothing leaks, bursts, sticks or dies, so every sounding alert is false but one whose limit was
really passed: volts, amperes, temperatures, charge and litres at the wrong side of the rule's clear line.
How much a bank may be charged with is what its BMS says: that is its limit.
"""

from collections.abc import Callable, Mapping, Sequence
from math import ceil

import numpy as np

from monitor.alerts.findings import NEAR_LIMIT_PCT
from monitor.alerts.limits import CHARGE_DEADBAND_PCT
from monitor.records import AlertChange
from tests.proof.alert_boat import ALERTS, DAY_S, Count, rates
from tests.proof.alert_deck import Deck
from tests.proof.alert_minutes import (
    BACKBONE,
    BATTERY_BUS,
    BROKER,
    PLACES,
    SETTINGS,
    SPEAK,
    START_UTC_S,
    Aboard,
    Truth,
    ordinary,
)
from tests.proof.harness import Case, Row, outside

BLOCK_DAYS, BOATS, SHORT_DAYS = 4, 20, 0.1
FIRST_BOAT = 3000
"""Boats 1000 to 1005 and 2000 to 2019 were looked at: what they showed of the generator and the watch is
mended."""
CLEAR_PCT = NEAR_LIMIT_PCT + CHARGE_DEADBAND_PCT
"""So far above its limit, which is another one under way, a charge is clear of it."""
HEALS_S = 600.0
FULL_L = sum(tank.capacity_L - tank.unusable_L for tank in SETTINGS.tanks)


def passing_silence(rng: np.random.Generator, start_s: float) -> list[tuple[float, float, str]]:
    """A day's dropouts, as in `alert_year`."""
    found = []
    for name in (*BACKBONE, *BATTERY_BUS, *BROKER):
        if rng.random() < 0.03:
            at_s = start_s + rng.uniform(0, DAY_S - HEALS_S)
            found.append((at_s, at_s + min(540.0, rng.lognormal(np.log(25), 1.2)), name))
    for source in SPEAK:
        if rng.random() < 1 / 12:
            at_s = start_s + rng.uniform(0, DAY_S - HEALS_S)
            found.append((at_s, at_s + min(300.0, rng.lognormal(np.log(30), 0.8)), source))
    return found


# ---- the truth


def truly(change: AlertChange, truths: Sequence[Truth], limit_A: float = 10.0) -> bool:
    """Whether the truth of the last minutes bears out an alert in ordinary life."""
    near = list(truths)[-8:]
    said_A = change.reason.facts.get("limit_A", 0.0)
    bears: Callable[[Truth], bool] | None = {
        "low voltage": lambda t: t.low_V < 12.2,
        "low charge": lambda t: t.pct < change.reason.facts["limit_pct"] + CLEAR_PCT,
        "cut coming": lambda t: t.highest_V > 3.60 or t.lowest_V < 2.9,
        "cut off": lambda t: not t.closed,
        "cold charging": lambda t: t.coldest_C < 6.0 and t.house_A > 4.6,
        "charge above limit": lambda t: t.house_A > said_A or t.highest_V > 3.65,
        "shore overloaded": lambda t: t.shore_A > limit_A,
        "supply sags": lambda t: t.shore_V < 0.93 * 230,
        "generator overloaded": lambda t: t.generator_W > 2800.0,
        "buffer low": lambda t: t.buffer_V < 12.5,
        "tank nearly full": lambda t: max(t.shares) > 0.92,
        "low water": lambda t: _usable_L(t) < 1.5 * 0.1 * FULL_L + 0.03 * FULL_L,
        "plumbing may freeze": lambda t: t.cabin_C < 4.0,
    }.get(change.rule)
    return bears is not None and any(bears(truth) for truth in near)


def _usable_L(truth: Truth) -> float:
    tanks = zip(SETTINGS.tanks, truth.shares, strict=True)
    return sum(tank.capacity_L * share - tank.unusable_L for tank, share in tanks)


def live(place: str, boat: int, days: float) -> Row:
    """A block of days."""
    deck, count = Deck(boat), Count()
    deck.attach()
    rng = np.random.default_rng([boat, 9])
    dark: list[tuple[float, float, str]] = []
    boots_s = float("inf")
    for minute in Aboard(ordinary(place, boat, ceil(days)), boat, days).minutes():
        if (minute.start_s - START_UTC_S) % DAY_S == 0:
            dark = passing_silence(rng, minute.start_s)
            boots_s = minute.start_s + 60 * int(rng.uniform(30, 1400)) if rng.random() < 0.1 else float("inf")
        if minute.start_s >= boots_s:
            deck.reboot(minute.start_s)
            boots_s = float("inf")
        here = [d for d in dark if d[0] < minute.start_s + 60 and d[1] > minute.start_s - 60]
        called = deck.minute(minute, here)
        count.take(called, lambda change: "true" if truly(change, deck.truths) else "false")
    return {"place": place} | count.row(days)


def run(seed: int) -> Row:
    """One block; the last part is a few hours, for the ordinary tests to repeat."""
    days = BLOCK_DAYS if seed < 3 * BOATS else SHORT_DAYS
    return live(PLACES[seed % 3], FIRST_BOAT + seed // 3, days)


def misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, {"nights": (3.0 * BOATS * BLOCK_DAYS, 1e6), "false in 100 nights": (0.0, 1.0)})


CASES = [
    Case(
        "alert-life",
        "At anchor, under way and alongside all rules and watchers together sound falsely at most once in 100"
        " nights",
        (
            *ALERTS,
            "monitor/estimation/*.py",
            "monitor/pipeline/mode.py",
            "monitor/pipeline/water.py",
            "monitor/pipeline/watchers.py",
            "simulators/*.py",
            "tests/proof/alert_boat.py",
            "tests/proof/alert_deck.py",
            "tests/proof/alert_life.py",
            "tests/proof/alert_minutes.py",
        ),
        range(3 * BOATS + 1),
        run,
        rates,
        misses,
        (3 * BOATS,),
        whole=False,
    )
]
