"""What *Marram*'s nights can differ by, one row each, for the ledger of a night to tell by its loads."""

from simulators.scenario import TO_ANCHOR, Appliance, Fault, Guests, Leg, Scenario

AT_ANCHOR = Scenario("", TO_ANCHOR, clearness=0.75, full_every_days=5.0, cell_spread_pct=0.12)
"""Ordinary life at anchor."""

NIGHT_SCENARIOS: dict[str, Scenario] = {
    "first-night": AT_ANCHOR._replace(
        title="Nothing is known yet: the watch begins at anchor, some hours before its first evening",
        legs=(Leg(-9, "at anchor"),),
    ),
    "new-freezer": AT_ANCHOR._replace(
        title="On the seventh day the freezer is replaced by another, of 82 W where the old one took 58",
        faults=(Fault(6 + 11.0 / 24, "freezer replaced", value=82.0),),
    ),
    "inverter-left-on": AT_ANCHOR._replace(
        title="From the third evening the inverter is left on all night, for a wall adaptor nobody looks at",
        faults=(Fault(2 + 21.5 / 24, "inverter left on", value=7.0),),
    ),
    "busy-evening": AT_ANCHOR._replace(
        title="Guests on the fifth and the eighth evening: many lamps, a hob, a kettle and music at once",
        guests=(Guests(4 + 17.5 / 24, 5.0, 5), Guests(7 + 17.5 / 24, 8.0, 4)),
        with_guests=(
            Appliance("deck lamps", 20.5, 170, 21, "dc"),
            Appliance("cockpit lamps", 20.9, 150, 14, "dc"),
            Appliance("music", 20.4, 190, 26, "dc"),
            Appliance("galley fan", 20.6, 55, 17, "dc"),
            Appliance("hob", 20.8, 35, 540),
            Appliance("kettle", 21.9, 5, 1800),
            Appliance("kettle", 22.7, 4, 1800),
        ),
        fill_below_L=260.0,
    ),
    "alongside-night": AT_ANCHOR._replace(
        title="Four nights at anchor, then alongside: the charger carries the loads, and the bank rests",
        legs=(*TO_ANCHOR, Leg(4 + 9.0 / 24, "motoring"), Leg(4 + 10.5 / 24, "alongside")),
    ),
}
