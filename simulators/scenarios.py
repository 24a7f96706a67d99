"""What can happen to *Marram*, one row each.

What breaks in her plumbing stands in `water_scenarios`, what her nights differ by in `night_scenarios`.
"""

from simulators.night_scenarios import NIGHT_SCENARIOS
from simulators.scenario import ANCHORED, LEAVING, TO_ANCHOR, Appliance, Fault, Leak, Leg, Scenario, Winter
from simulators.shore import Pedestal
from simulators.water_scenarios import WATER_SCENARIOS

_OTHERS = WATER_SCENARIOS | NIGHT_SCENARIOS
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
} | _OTHERS
