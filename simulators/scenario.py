"""What a scenario is made of: where she lies, what weather, which faults, and when.

Times are days since the ship's midnight before her first departure: 3.25 is the fourth day, 06:00.
Every voyage begins alongside, on shore power, some hours before that departure, unless a leg says
otherwise.
"""

import math
from typing import Literal, NamedTuple

from simulators.flows import Where
from simulators.shore import Pedestal


class Leg(NamedTuple):
    """From `day` on the boat is at this place; `people` overrules the crew's own rhythm."""

    day: float
    place: str
    people: str = ""
    """ "on watch" or "nobody"."""


class Leak(NamedTuple):
    """Water gone astray from `day` until `until`: after the pump whenever there is pressure, or elsewhere.

    `tank` is the one whose outlet weeps, "before the pump".
    """

    day: float
    L_per_h: float
    until: float = math.inf
    event: str = "leak begins"
    where: Where = "after the pump"
    tank: str = ""


class Fault(NamedTuple):
    """Something that breaks, is mended or is set wrong on `day`; `subject` names the tank.

    "gauge set": the counting monitor stands `value` per cent too high from then on. "live by the gauge":
    the crew bakes until it says `value` per cent, or runs the engine so long. "input limit set": the inverter
    is told to take up to `value` amperes from the shore. "regulator set": the alternator's holds `value`
    volts from then on and knows no float. "accumulator loses air" and "strainer clogs": `value` is the part
    of the air, or of the flow, that is left. "relief valve weeps": from `value` bar on. "hose left running":
    14 L a minute into `subject` for `value` minutes, whether it is full or not. "pump wire off": its
    indicator says that it runs, whatever it does. "freezer replaced": by another of `value` watts. "inverter
    left on": from then on, also while all sleep, with a wall adaptor of `value` watts plugged in.
    """

    day: float
    kind: Literal[
        "sender sticks", "sender dies", "pump switched off", "pump switched on", "hand fill",
        "converter dies", "converter mended", "shunt sticks", "shunt freed", "gauge set", "input limit set",
        "regulator set", "live by the gauge", "accumulator loses air", "accumulator pumped up",
        "relief valve weeps", "relief valve replaced", "air lock", "air lock cleared",
        "pressure switch sticks", "pressure switch freed", "strainer clogs", "strainer cleaned",
        "hose left running", "pump wire off", "pump wire mended",
        "freezer replaced", "inverter left on",
    ]  # fmt: skip
    subject: str = ""
    value: float = math.nan


class Appliance(NamedTuple):
    """Something that the crew uses every day from about that hour on, on mains or on the house's bus."""

    what: str
    hour: float
    minutes: float
    watts: float
    supply: Literal["ac", "dc"] = "ac"


class Guests(NamedTuple):
    """So many more heads from `day` until `until`."""

    day: float
    until: float
    heads: int


class Maker(NamedTuple):
    """A watermaker that runs every day from that hour on for so long, then is flushed with fresh water."""

    hour: float
    hours: float
    L_per_h: float = 30.0
    watts: float = 340.0
    flush_L: float = 6.0
    tank: str = "midship"


class Winter(NamedTuple):
    """Laid in ice: the cabin's mean, the sea, the bank at the berth, and then its locker with its daily
    swing and how the days differ. A cabin nobody heats cools by so much a day down to `least`. [°C]"""

    cabin: float
    sea: float
    berth: float
    locker: float
    swing: float
    sd: float
    cools_a_day: float = 0.0
    least: float = -6.0


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
    """Used alongside."""
    with_guests: tuple[Appliance, ...] = ()
    """Used on days with guests, wherever she lies."""
    winter: Winter | None = None
    guests: tuple[Guests, ...] = ()
    maker: Maker | None = None


LEAVING = 10.0 / 24
ANCHORED = 11.5 / 24
TO_ANCHOR = (Leg(-9, "alongside"), Leg(LEAVING, "motoring"), Leg(ANCHORED, "at anchor"))
