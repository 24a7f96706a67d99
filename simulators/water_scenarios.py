"""What can happen to *Marram*'s fresh water, one row each, for the judge of leaks to tell apart."""

from simulators.scenario import (
    ANCHORED,
    LEAVING,
    TO_ANCHOR,
    Fault,
    Guests,
    Leak,
    Leg,
    Maker,
    Scenario,
    Winter,
)

UNDER_SAIL = (Leg(-9, "alongside"), Leg(LEAVING, "motoring"), Leg(ANCHORED, "sailing", "on watch"))
MOTORING_A_DAY = (*TO_ANCHOR, Leg(2 + 8.5 / 24, "motoring"), Leg(2 + 20.0 / 24, "at anchor"))
ENGINE_LATE = Scenario("", TO_ANCHOR, charge_below_pct=25.0, urgent_below_pct=101.0, charge_until_pct=108.0)
"""The engine runs in the afternoon, so that the heater goes warm into the night."""
ENGINE_DAILY = Scenario("", TO_ANCHOR, charge_below_pct=101.0, charge_until_pct=108.0, fill_below_L=260.0)
"""The engine runs in the forenoon and heats what the night has cooled."""

WATER_SCENARIOS: dict[str, Scenario] = {
    "weeping-fitting": Scenario(
        "A fitting weeps a tenth of a litre an hour, a few drops a minute, from the second evening on",
        TO_ANCHOR,
        leaks=(Leak(1 + 20.0 / 24, 0.1),),
    ),
    "dripping-tap": Scenario(
        "A tap is not quite shut in the second night: a drip a second, one litre an hour",
        TO_ANCHOR,
        leaks=(Leak(1 + 22.7 / 24, 1.0, 3 + 9.0 / 24, "tap drips"),),
    ),
    "tap-left-open": Scenario(
        "A tap is left running at two litres and a half a minute while the crew sits on deck",
        TO_ANCHOR,
        leaks=(Leak(2 + 15.0 / 24, 150.0, 2 + 15.8 / 24, "tap left open"),),
    ),
    "leak-above-pump": Scenario(
        "The midship tank's outlet weeps a litre and a half an hour, before the pump, which keeps silent",
        TO_ANCHOR,
        leaks=(Leak(1 + 21.0 / 24, 1.5, where="before the pump", tank="midship"),),
    ),
    "leaking-check-valve": Scenario(
        "The pump's check valve lets water back into the tank: refills in the night, and nothing is lost",
        TO_ANCHOR,
        leaks=(Leak(1 + 21.0 / 24, 0.6, event="check valve leaks back", where="back through the pump"),),
    ),
    "flat-accumulator": Scenario(
        "The accumulator loses its pre-charge over five days: shorter and shorter runs",
        TO_ANCHOR,
        faults=tuple(
            Fault(1.5 + n / 2, "accumulator loses air", value=round(1 - 0.055 * (n + 1), 3))
            for n in range(10)
        ),
    ),
    "waterlogged-accumulator": Scenario(
        "The accumulator's bladder bursts on the third day: a tenth of the air is left, the pump stutters",
        TO_ANCHOR,
        faults=(Fault(2 + 11.3 / 24, "accumulator loses air", value=0.1),),
    ),
    "weeping-relief-valve": ENGINE_DAILY._replace(
        title="The heater's relief valve lets go at 3.2 bar: it weeps whenever the engine heats the water",
        faults=(Fault(1.2, "relief valve weeps", value=3.2),),
    ),
    "cooling-heater": ENGINE_LATE._replace(
        title="Nothing is wrong: the heater goes hot into every night, and its water shrinks",
    ),
    "heater-and-drip": ENGINE_LATE._replace(
        title="The heater cools every night, and from the third on a fitting drips 0.2 L an hour as well",
        leaks=(Leak(2 + 21.0 / 24, 0.2),),
    ),
    "leak-and-guests": Scenario(
        "Three guests for four days, and in their second night a fitting weeps 0.3 L an hour",
        TO_ANCHOR,
        guests=(Guests(2.4, 6.7, 3),),
        fill_below_L=260.0,
        leaks=(Leak(3 + 22.0 / 24, 0.3),),
    ),
    "leak-under-sail": Scenario(
        "Heeled on passage a pipe chafes: 0.8 L an hour, while the tanks' senders lean",
        UNDER_SAIL,
        clearness=0.62,
        charge_below_pct=35.0,
        charge_until_pct=80.0,
        speed_kn=5.2,
        heel_deg=12.0,
        leaks=(Leak(1 + 20.0 / 24, 0.8),),
    ),
    "air-lock": Scenario(
        "The suction hose draws air: the pump runs on, takes little current and moves no water",
        TO_ANCHOR,
        faults=(
            Fault(2 + 7.0 / 24, "air lock"),
            Fault(2 + 10.9 / 24, "pump switched off"),
            Fault(2 + 11.0 / 24, "air lock cleared"),
            Fault(2 + 11.05 / 24, "pump switched on"),
        ),
    ),
    "stuck-pressure-switch": Scenario(
        "The pressure switch welds shut: the pump labours on at 4.8 bar and moves no water",
        TO_ANCHOR,
        faults=(
            Fault(2 + 9.0 / 24, "pressure switch sticks"),
            Fault(2 + 15.5 / 24, "pump switched off"),
            Fault(2 + 16.0 / 24, "pressure switch freed"),
            Fault(2 + 16.1 / 24, "pump switched on"),
        ),
    ),
    "pump-wire-off": Scenario(
        "The wire of the pump's indicator is off: for nine hours it says running, and the pump lives as ever",
        TO_ANCHOR,
        faults=(Fault(2 + 8.0 / 24, "pump wire off"), Fault(2 + 17.0 / 24, "pump wire mended")),
    ),
    "clogging-strainer": Scenario(
        "Five weeks at anchor: the strainer clogs, and the pump gives a little less every day",
        TO_ANCHOR,
        clearness=0.75,
        full_every_days=5.0,
        faults=(
            *(Fault(5.2 + n, "strainer clogs", value=round(1 - 0.016 * (n + 1), 3)) for n in range(28)),
            Fault(33.4, "strainer cleaned", value=1.0),
        ),
    ),
    "clamp-off-under-way": Scenario(
        "Motoring, a hose clamp lets go: the engine drowns the pump's noise, the tanks empty into the bilge",
        MOTORING_A_DAY,
        leaks=(Leak(2 + 10.2 / 24, 900.0, 2 + 12.6 / 24, "hose off"),),
        faults=(
            Fault(2 + 11.6 / 24, "pump switched off"),
            Fault(2 + 20.2 / 24, "hand fill"),
            Fault(2 + 21.5 / 24, "pump switched on"),
        ),
    ),
    "heater-hose": Scenario(
        "A hose on the heater's hot side drips up to 1.5 L an hour, but only while it is hot",
        (*TO_ANCHOR, Leg(2 + 15.0 / 24, "motoring"), Leg(2 + 20.5 / 24, "at anchor")),
        urgent_below_pct=80.0,
        leaks=(Leak(1 + 12.0 / 24, 1.5, event="hot hose drips", where="hot side"),),
    ),
    "filling-forgotten": Scenario(
        "Alongside, the dock hose is left running into the midship tank until it overflows",
        (*TO_ANCHOR, Leg(4 + 9.0 / 24, "motoring"), Leg(4 + 10.5 / 24, "alongside")),
        faults=(Fault(4 + 11.0 / 24, "hose left running", "midship", value=35.0),),
    ),
    "winter-laid-up": Scenario(
        "Laid up, nobody aboard and the water still in her: within days the cabin falls below freezing",
        (Leg(-9, "alongside"), Leg(0.7, "laid up", "nobody")),
        latitude=59.35,
        longitude=18.80,
        start_charge_pct=80.0,
        winter=Winter(cabin=8.0, sea=2.0, berth=8.0, locker=1.0, swing=2.0, sd=1.2, cools_a_day=2.5),
    ),
    "watermaker": Scenario(
        "A watermaker gives thirty litres an hour every noon and is flushed with six of them",
        TO_ANCHOR,
        clearness=0.95,
        fill_below_L=60.0,
        maker=Maker(11.5, 1.5),
    ),
}
