"""What a thing may be named as, and for each only what cannot be heard, with defaults of common practice."""

from dataclasses import dataclass, field

from monitor.survey.things import CURRENTS, PRESSURES, SWITCHES, TEMPERATURES, VALUES
from monitor.words.tongues import N_

PRACTICE = N_("common practice")
HEARD = N_("as it says itself")
GUESSED = N_("guessed from what is heard")


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing to say. `unit` is of `words.units` where the reader may have chosen another. `among`: values
    and their texts; "banks" and "supplies" stand for what is named so far."""

    key: str
    label: str
    unit: str = ""
    default: str = ""
    mark: str = ""
    """Where the default comes from."""
    note: str = ""
    among: tuple[tuple[str, str], ...] = ()
    of: str = ""
    needed: bool = True


@dataclass(frozen=True, slots=True)
class Kind:
    group: str
    told: str
    note: str
    name: str
    asks: tuple[Ask, ...]
    fixed: dict[str, str] = field(default_factory=dict)
    switch: str = "running"
    """The quantity that a switch of it tells."""


CHEMISTRY = (("lifepo4", N_("Lithium iron phosphate")), ("lead", N_("Lead: flooded, gel or AGM")))
SYSTEM = (("12", "12 V"), ("24", "24 V"), ("48", "48 V"))
CAPACITY = Ask(
    "capacity_Ah", N_("Capacity"), "Ah", note=N_("As it stands on the batteries, all of them together.")
)


def _bank(chemistry: str, *more: Ask) -> tuple[Ask, ...]:
    return (
        Ask("chemistry", N_("Kind of battery"), default=chemistry, among=CHEMISTRY),
        Ask("system", N_("Voltage"), default="12", among=SYSTEM),
        CAPACITY,
        *more,
    )


CHARGERS = (
    ("sun", N_("sun")), ("shore", N_("shore power")), ("alternator", N_("engine's alternator")),
    ("generator", N_("generator")), ("wind", N_("wind")), ("hydro", N_("towed or in the water")),
    ("converter", N_("converter from another bank")),
)  # fmt: skip
KINDS = {
    "house": Kind(
        "banks", N_("the house bank"), N_("What the boat lives from. It has days left."), N_("house"),
        _bank("lifepo4", Ask(
            "reserve_pct", N_("Reserve that days left never touch"), "%", "20", PRACTICE,
        )), {"role": "house"},
    ),
    "buffer": Kind(
        "banks", N_("a buffer bank"), N_("It stands behind a converter and keeps the navigation alive."),
        N_("navigation"), _bank("lead"), {"role": "buffer"},
    ),
    "start": Kind(
        "banks", N_("a starter battery"), N_("It turns an engine."), N_("starter"), _bank("lead"),
        {"role": "start"},
    ),
    "tank": Kind("tanks", N_("a fresh-water tank"), "", N_("tank"), (
        Ask("capacity_L", N_("It holds"), "L"),
        Ask("unusable_L", N_("Of that below the pick-up"), "L", "0",
            note=N_("What stays when the pump draws air.")),
    )),
    "pump": Kind("pumps", N_("the fresh-water pump"),
        N_("It runs when a tap is open: a leak shows by it."),
        N_("pressure pump"), (
        Ask("flow_L_per_min", N_("It moves in a minute"), "L", "10", PRACTICE,
            N_("Its plate says more than it does. The watch learns it.")),
    )),
    "charger": Kind("chargers", N_("a charger"), N_("Sun, shore, alternator, wind or a converter."),
        N_("charger"), (
        Ask("kind", N_("It charges from"), default="sun", among=CHARGERS),
        Ask("into", N_("Into"), of="banks"),
        Ask("rated_A", N_("Rated current"), "A", needed=False),
    )),
    "supply": Kind("supplies", N_("a supply of mains"), N_("The pedestal ashore, or a generator's."),
        N_("shore"), (
        Ask("kind", N_("It comes from"), default="shore", among=(
            ("shore", N_("the shore")), ("generator", N_("the boat's generator")),
        )),
        Ask("limit_A", N_("The pedestal or breaker allows"), "A", "16", PRACTICE),
        Ask("nominal_V", N_("Voltage"), "V", "230", PRACTICE),
    )),
    "inverter": Kind("inverters", N_("an inverter"), N_("It makes mains from a bank."), N_("inverter"), (
        Ask("bank", N_("From"), of="banks"),
        Ask("supply", N_("Behind the supply"), of="supplies", needed=False),
        Ask("rated_W", N_("Rated power"), "W"),
    )),
    "engine": Kind("engines", N_("an engine"), "", N_("engine"), (
        Ask("drives", N_("It drives"), default="propeller", among=(
            ("propeller", N_("the propeller")), ("generator", N_("a generator")),
        )),
    )),
    "heater": Kind("heaters", N_("a water heater"), N_("Its cooling looks like a leak, unless it is known."),
        N_("water heater"), (
        Ask("volume_L", N_("It holds"), "L"),
        Ask("power_W", N_("Its element takes"), "W", "0", needed=False),
    ), switch="on"),
    "load": Kind("loads", N_("a load with a meter of its own"), "", N_("load"), (
        Ask("bank", N_("It hangs on"), of="banks", needed=False),
        Ask("usual_W", N_("It takes while it is on"), "W", needed=False),
    ), switch="on"),
    "watermaker": Kind("watermakers", N_("a watermaker"), "", N_("watermaker"), (
        Ask("rated_L_per_h", N_("It makes in an hour"), "L", needed=False),
    )),
    "instrument": Kind("instruments", N_("something to look at"),
        N_("A temperature, a pressure, the heel, the position."), N_("instrument"), ()),
}  # fmt: skip
FOR = {
    "banks": ("house", "buffer", "start"), "tanks": ("tank",), "pumps": ("pump",),
    SWITCHES: ("pump", "heater", "load"), "chargers": ("charger",),
    CURRENTS: ("charger", "house", "load", "pump"), "supplies": ("supply",), "inverters": ("inverter",),
    "engines": ("engine",), "watermakers": ("watermaker",), TEMPERATURES: ("instrument", "heater"),
    PRESSURES: ("pump", "instrument"), "instruments": ("instrument",), VALUES: tuple(KINDS),
}  # fmt: skip
"""Which of them each group of things is offered as, the likeliest first."""
