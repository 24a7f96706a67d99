"""What can happen to *Marram*, one row each: where she lies, what weather, which faults, and when.

Times are days since the ship's midnight before her first departure: 3.25 is the fourth day, 06:00.
Every voyage begins alongside, on shore power, some hours before that departure.
"""

import math
from typing import Literal, NamedTuple

from simulators.shore import Pedestal


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
    """Something that breaks, is mended or is set wrong on `day`; `subject` names the tank.

    "gauge set": the counting monitor stands `value` per cent too high from then on. "live by the gauge":
    the crew bakes until it says `value` per cent, or runs the engine so long. "input limit set": the inverter
    is told to take up to `value` amperes from the shore. "regulator set": the alternator's holds `value`
    volts from then on and knows no float.
    """

    day: float
    kind: Literal[
        "sender sticks", "sender dies", "pump switched off", "pump switched on", "hand fill",
        "converter dies", "converter mended", "shunt sticks", "shunt freed", "gauge set", "input limit set",
        "regulator set", "live by the gauge",
    ]  # fmt: skip
    subject: str = ""
    value: float = math.nan


class Appliance(NamedTuple):
    """Something on mains that the crew uses every day from about that hour on."""

    what: str
    hour: float
    minutes: float
    watts: float


class Winter(NamedTuple):
    """Laid in ice: the cabin's mean, the sea, the bank at the berth, and then its locker with its daily
    swing and how the days differ. [°C]"""

    cabin: float
    sea: float
    berth: float
    locker: float
    swing: float
    sd: float


class Scenario(NamedTuple):
    """One row of facts. Powers in W, charge in %, litres, degrees."""

    title: str
    legs: tuple[Leg, ...]
    clearness: float = 0.85
    """The mean share of the clear sky's power; day-to-day persistence is drawn around it."""
    clearness_sd: float = 0.15
    dull_days: tuple[tuple[float, float], ...] = ()
    """Spells from day to day, when the clearness is `dull` instead."""
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
    full_every_days: float = math.inf
    """After so long without a full charge the engine runs in the forenoon until the bank is full."""
    cell_spread_pct: float = 0.0
    """Standard deviation of the cells' capacities and charges, in per cent of the capacity."""
    imbalance_pct: tuple[float, float] = (0.0, 0.0)
    """One cell is ahead by something between these, in per cent of the capacity."""
    health: float = 1.0
    """The bank's capacity as a part of its label's."""
    buffer_health: float = 1.0
    alternator_A: tuple[float, float] = (60.0, 60.0)
    """What the warm alternator can give lies between these."""
    absorption_V: float = 14.2
    shunt_offset_A: float | None = None
    """Of the house shunt; drawn with a standard deviation of 0.15 A where it is not given."""
    pedestal: Pedestal = Pedestal()
    appliances: tuple[Appliance, ...] = ()
    winter: Winter | None = None


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
        dull_days=((1.0, 8.0),),
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
    "bms-cut-motoring": Scenario(
        "One cell is ahead: after hours of motoring the BMS opens its contactor under the alternator",
        (*TO_ANCHOR, Leg(2 + 8.5 / 24, "motoring"), Leg(2 + 20.0 / 24, "at anchor")),
        dull_days=((0.0, 3.0),),
        dull=0.3,
        charge_below_pct=25.0,
        urgent_below_pct=25.0,
        cell_spread_pct=0.3,
        imbalance_pct=(2.5, 5.0),
        alternator_A=(58.0, 78.0),
        absorption_V=13.8,
        faults=(Fault(1.5, "regulator set", value=14.4),),
    ),
    "month-at-anchor": Scenario(
        "Weeks of ordinary life at anchor: sun, cloudy spells, the engine now and then, nothing broken",
        TO_ANCHOR,
        clearness=0.75,
        dull_days=tuple((6.0 + 10 * n, 8.0 + 10 * n) for n in range(12)),
        dull=0.25,
        full_every_days=5.0,
        cell_spread_pct=0.12,
    ),
    "converter-dies-at-night": Scenario(
        "Under sail the converter fails half an hour before midnight; a tired buffer carries on alone",
        (Leg(-9, "alongside"), Leg(LEAVING, "motoring"), Leg(ANCHORED, "sailing", "on watch")),
        clearness=0.62,
        charge_below_pct=35.0,
        charge_until_pct=80.0,
        speed_kn=5.2,
        heel_deg=12.0,
        cell_spread_pct=0.15,
        buffer_health=0.70,
        faults=(
            Fault(1 + 23.5 / 24, "converter dies"),
            Fault(2 + 9.0 / 24, "converter mended"),
        ),
    ),
    "lying-gauge": Scenario(
        "The gauge is set wrong and its shunt flatters: 60 % at bedtime, an empty bank at three",
        TO_ANCHOR,
        dull_days=((1.0, 12.0),),
        dull=0.28,
        charge_below_pct=34.0,
        urgent_below_pct=32.0,
        charge_until_pct=48.0,
        cell_spread_pct=0.15,
        shunt_offset_A=0.35,
        faults=(
            Fault(4 + 16.5 / 24, "gauge set", value=55.0),
            Fault(4 + 17.6 / 24, "live by the gauge", value=70.5),
        ),
    ),
    "cold-morning": Scenario(
        "Laid in ice: at dawn the cells are near freezing when sun and engine begin to charge",
        TO_ANCHOR,
        latitude=59.35,
        longitude=18.80,
        clearness=0.8,
        charge_below_pct=80.0,
        charge_until_pct=95.0,
        cell_spread_pct=0.15,
        winter=Winter(cabin=14.0, sea=1.0, berth=12.0, locker=2.0, swing=4.0, sd=1.2),
    ),
    "weak-shore": Scenario(
        "Alongside on a weak pedestal: oven, kettle and heater at once, the bank helps, the breaker trips",
        (Leg(-9, "alongside"),),
        cell_spread_pct=0.15,
        pedestal=Pedestal(idle_V=226.0, ohm=2.0, breaker_A=10.0, power_factor=0.95),
        appliances=(
            Appliance("kettle", 7.9, 4, 2000),
            Appliance("fan heater", 7.5, 90, 1500),
            Appliance("kettle", 12.6, 4, 2000),
            Appliance("kettle", 16.5, 4, 2000),
            Appliance("fan heater", 17.5, 330, 1500),
            Appliance("oven", 19.2, 45, 1800),
            Appliance("kettle", 21.2, 4, 2000),
        ),
        faults=(Fault(2 + 18.0 / 24, "input limit set", value=16.0),),
    ),
    "fading-bank": Scenario(
        "A bank that holds 78 % of its label: weeks between the low knee and full charges alongside",
        (
            Leg(-9, "alongside"),
            *(
                leg
                for n in range(20)
                for leg in (
                    Leg(5 * n + LEAVING, "motoring"),
                    Leg(5 * n + ANCHORED, "at anchor"),
                    Leg(5 * n + 4 + 15.0 / 24, "alongside"),
                )
            ),
        ),
        clearness=0.4,
        charge_below_pct=35.0,
        urgent_below_pct=38.0,
        charge_until_pct=60.0,
        cell_spread_pct=0.2,
        health=0.78,
        shunt_offset_A=0.05,
    ),
}
