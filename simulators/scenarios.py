"""What can happen to *Marram*, one row each: where she lies, what weather, which faults, and when.

Times are days since the ship's midnight before her first departure: 3.25 is the fourth day, 06:00.
Every voyage begins alongside, on shore power, some hours before that departure.
"""

import math
from typing import Literal, NamedTuple


class Leg(NamedTuple):
    """From `day` on the boat is at this place; `people` overrules the crew's own rhythm."""

    day: float
    place: str
    people: str = ""


class Leak(NamedTuple):
    """Water lost downstream of the pump from `day` until `until`, whenever there is pressure."""

    day: float
    L_per_h: float
    until: float = math.inf
    event: str = "leak begins"


class Fault(NamedTuple):
    """Something that breaks, or is mended, on `day`; `subject` names the tank."""

    day: float
    kind: Literal["sender sticks", "sender dies", "pump switched off", "pump switched on", "hand fill"]
    subject: str = ""


class Scenario(NamedTuple):
    """One row of facts. Powers in W, charge in %, litres, degrees."""

    title: str
    legs: tuple[Leg, ...]
    clearness: float = 0.85
    """The mean share of the clear sky's power; day-to-day persistence is drawn around it."""
    clearness_sd: float = 0.15
    dull_days: tuple[float, float] = (0.0, 0.0)
    """From day to day, when the clearness is `dull` instead."""
    dull: float = 0.2
    leaks: tuple[Leak, ...] = ()
    faults: tuple[Fault, ...] = ()
    start_charge_pct: float = 76.0
    start_water_pct: float = 62.0
    charges_with: Literal["engine", "generator"] = "engine"
    charge_below_pct: float = 55.0
    """The crew runs engine or generator in the forenoon when their monitor says less than this."""
    urgent_below_pct: float = 46.0
    """The same in the afternoon and before dusk."""
    charge_until_pct: float = 90.0
    fill_below_L: float = 210.0
    """Jerry cans are rowed out the next forenoon when the tanks hold less than this together."""
    latitude: float = 42.55
    longitude: float = -8.90
    course_deg: float = 215.0
    speed_kn: float = 0.0
    heel_deg: float = 0.0


LEAVING = 10.0 / 24
ANCHORED = 11.5 / 24
TO_ANCHOR = (Leg(-9, "alongside"), Leg(LEAVING, "motoring"), Leg(ANCHORED, "at anchor"))

SCENARIOS: dict[str, Scenario] = {
    "quiet-anchorage": Scenario("Nothing goes wrong: ten days in the ría", TO_ANCHOR),
    "slow-leak": Scenario(
        "A fitting begins to weep half a litre an hour in the second night",
        TO_ANCHOR,
        leaks=(Leak(1 + 22.5 / 24, 0.5),),
    ),
    "burst-hose": Scenario(
        "A hose comes off its tail at ten past three in the second night",
        TO_ANCHOR,
        leaks=(Leak(2 + 3.17 / 24, 2400.0, 2 + 9.0 / 24, "burst"),),
        faults=(
            Fault(2 + 4.1 / 24, "pump switched off"),
            Fault(2 + 9.5 / 24, "pump switched on"),
            Fault(2 + 10.0 / 24, "hand fill"),
        ),
    ),
    "cloudy-week": Scenario(
        "Seven days of low cloud: the sun gives a fifth, the crew waits too long with the generator",
        TO_ANCHOR,
        dull_days=(1.0, 8.0),
        charges_with="generator",
        charge_below_pct=32.0,
        urgent_below_pct=30.0,
        charge_until_pct=55.0,
    ),
    "dead-sender": Scenario(
        "The midship sender sticks on the second day and falls silent on the fifth",
        TO_ANCHOR,
        faults=(Fault(1.6, "sender sticks", "midship"), Fault(4.6, "sender dies", "midship")),
    ),
    "passage": Scenario(
        "Under sail to the islands, watch and watch",
        (Leg(-9, "alongside"), Leg(LEAVING, "motoring"), Leg(ANCHORED, "sailing", "on watch")),
        clearness=0.62,
        charge_below_pct=35.0,
        charge_until_pct=80.0,
        speed_kn=5.2,
        heel_deg=12.0,
    ),
}
