"""A number as a page shows it: its words, its band, its age, and where it says what it rests on."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from urllib.parse import quote

from starlette.requests import Request

from monitor.channels import QUANTITIES
from monitor.records import Estimate, Reading, Reason, Snapshot
from monitor.settings import Settings
from monitor.words.say import fill, say
from monitor.words.tongues import N_
from monitor.words.units import (
    GAP,
    Dress,
    amps,
    bar,
    between,
    days_between,
    fixed,
    known,
    litres,
    number,
    pct,
    rate,
    span,
    temp,
    unknown,
    volts,
    watts,
    wh,
)
from web.choices import dress_for
from web.watch import Watch

Format = Callable[[float, Dress], str]


def milliamps(value: float, dress: Dress) -> str:
    """What two sensors differ by is small."""
    return f"{number(round(1000 * value), dress)}{GAP}mA"


BY_ESTIMATE: dict[str, tuple[str, Format]] = {
    "charge_pct": (N_("Charge"), pct),
    "left_Wh": (N_("Left"), wh),
    "energy_days": (N_("Days left, charging as usual"), number),
    "autonomy_days": (N_("Days left, with no charging"), number),
    "tank_L": (N_("In the tank"), litres),
    "left_L": (N_("Left"), litres),
    "water_days": (N_("Days left"), number),
    "water_L_a_head": (N_("A head and day, last seven days"), litres),
    "water_heat_pct": (
        N_("More used for each degree warmer"),
        lambda v, d: f"{number(round(v, 1), d)}{GAP}%",
    ),
    "water_hits": (N_("Cautious days of water that held"), lambda v, d: pct(100 * v, d)),
    "made_L": (N_("Made today"), litres),
    "make_Wh_per_L": (N_("Takes for each litre"), lambda v, d: f"{fixed(v, 1, d)}{GAP}Wh"),
    "coldest_C": (N_("Coldest place near the plumbing"), temp),
    "run_hours": (N_("Run in all"), lambda v, d: span(3600 * v, d)),
    "run_litres": (N_("Moved in all"), litres),
    "run_starts": (N_("Starts in all"), lambda v, d: fixed(v, 0, d)),
    "tank_share": (N_("Of what its pump draws"), lambda v, d: pct(100 * v, d)),
    "tank_table_off_L": (N_("Holds more than its table says by"), litres),
    "tank_pump_ratio": (N_("Pumped for each litre it fell"), number),
    "leak_L_per_h": (N_("Leak"), rate),
    "leak_explained_pct": (N_("Refills that are no loss of water"), pct),
    "tight_below_L_per_h": (N_("Leak shows from"), rate),
    "dawn_pct": (N_("At the next dawn"), pct),
    "lowest_pct": (N_("Lowest until the next noon"), pct),
    "forecast_hits": (N_("Cautious days that held, nothing charging"), lambda v, d: pct(100 * v, d)),
    "forecast_hits_charging": (
        N_("Cautious days that held, charging as usual"),
        lambda v, d: pct(100 * v, d),
    ),
    "wasted_Wh": (N_("Sun turned down today"), wh),
    "cut_minutes": (N_("Until the bank cuts off"), lambda v, d: span(v * 60, d)),
    "cell_spread_mV": (N_("Cells apart"), lambda v, d: f"{fixed(v, 0, d)}{GAP}mV"),
    "rested_V": (N_("At rest"), volts),
    "buffer_pct": (N_("Charge at rest"), pct),
    "buffer_mohm": (N_("Resistance"), lambda v, d: f"{fixed(v, 1, d)}{GAP}m\u03a9"),
    "lowest_night_V": (N_("Lowest last night"), volts),
    "hours_to_live": (N_("It would live alone"), lambda v, d: span(v * 3600, d)),
    "opinion_offset_A": (N_("The second instrument reads more by"), milliamps),
    "opinion_gain": (N_("The second instrument's share of the first"), number),
    "shore_load_pct": (N_("Of its limit"), pct),
    "generator_load_pct": (N_("Of what it carries for hours"), pct),
    "supply_ohm": (N_("Resistance of the supply"), lambda v, d: f"{fixed(v, 2, d)}{GAP}\u03a9"),
    "supply_open_V": (N_("Without load"), volts),
    "supply_most_A": (N_("Voltage holds up to"), amps),
    "help_hours": (N_("The bank can help for"), lambda v, d: span(v * 3600, d)),
}
"""What an estimate is called on a page and how it is told."""

BY_UNIT: dict[str, Format] = {
    "V": volts, "A": amps, "W": watts, "%": pct, "°C": temp, "bar": bar, "L": litres, "L/h": rate,
}  # fmt: skip
IN_DAYS = ("energy_days", "autonomy_days", "water_days")


@dataclass(frozen=True, slots=True)
class Reader:
    """Everything a page is made for: the moment, the boat, the reader."""

    snapshot: Snapshot
    settings: Settings
    dress: Dress

    def say(self, id: str, **facts: object) -> str:
        return say(Reason(id, facts), self.dress)

    def word(self, text: str, **facts: object) -> str:
        """An English text of ours in the reader's language, its gaps filled as a sentence's are."""
        return fill(text, facts, self.dress) if facts else self.dress.text(text)

    def titled(self, what: str, more: str) -> str:
        """ "What: more", with the space that a language has before the colon."""
        return self.dress.text("{what}: {more}").format(what=what, more=more)

    def estimate(self, name: str, subject: str) -> Estimate | None:
        return self.snapshot.estimates.get((name, subject))

    def reading(self, subject: str, quantity: str) -> Reading | None:
        return self.snapshot.values.get(f"{subject} {quantity}")


def reader_of(watch: Watch, request: Request | None = None) -> Reader:
    """This moment, as the ship's clock tells it, for whoever asks."""
    settings = watch.settings
    return Reader(watch.latest(), settings, dress_for(settings, request))


@dataclass(frozen=True, slots=True)
class Figure:
    """`state` is "live", "silent" (old) or "unknown"; `age` is empty where there is no number."""

    label: str
    text: str
    band: str
    age: str
    state: str
    href: str
    why: str = ""


def aged(seconds: float, dress: Dress) -> str:
    """Coarse on purpose: an age that is redrawn each second is noise."""
    if seconds < 10:
        return dress.text("now")
    shown = seconds // 10 * 10 if seconds < 60 else seconds
    return fill(N_("{age:span} ago"), {"age": shown}, dress)


def rests_href(name: str, subject: str) -> str:
    return f"/rests/{quote(name, safe='')}/{quote(subject, safe='')}"


def from_estimate(reader: Reader, name: str, subject: str, label: str = "") -> Figure:
    """The figure of an estimate, unknown where there is none; its reason said as `why`."""
    own, tell = BY_ESTIMATE.get(name, (name.replace("_", " "), number))
    label = label or reader.word(own)
    href = rests_href(name, subject)
    e = reader.estimate(name, subject)
    if e is None:
        return Figure(label, unknown(reader.dress), "", "", "unknown", href, reader.say("not estimated"))
    why = say(e.reason, reader.dress)
    age = aged(reader.snapshot.at_s - e.at_s, reader.dress)
    if name == "leak_L_per_h" and e.reason.id == "tight":
        return Figure(label, reader.say("no leak suspected"), "", age, "live", href, why)
    if e.value is None or not known(e.value):
        return Figure(label, unknown(reader.dress), "", "", "unknown", href, why)
    state = "silent" if reader.snapshot.at_s - e.at_s > 900 else "live"
    if name == "cut_minutes" and e.beyond:
        return Figure(label, reader.say("no cut in sight"), "", age, state, href, why)
    if name in IN_DAYS:
        text = days_between(e.low, e.value, e.beyond, reader.dress)
        return Figure(label, text, "", age, state, href, why)
    return Figure(label, tell(e.value, reader.dress), _band(e, tell, reader.dress), age, state, href, why)


def of_subject(
    reader: Reader, subject: str, apart: Collection[str] = ()
) -> tuple[tuple[Figure, ...], tuple[Figure, ...]]:
    """Its estimates in the order they are made, but for those named in `apart`: the known, the unknown."""
    names = [name for name, of in reader.snapshot.estimates if of == subject and name not in apart]
    found = [from_estimate(reader, name, subject) for name in names]
    return tuple(f for f in found if f.state != "unknown"), tuple(f for f in found if f.state == "unknown")


def or_unknown(value: float | None, tell: Format, dress: Dress) -> str:
    """A number in words, or that it is not known."""
    return tell(value, dress) if value is not None and known(value) else unknown(dress)


def _band(e: Estimate, tell: Format, dress: Dress) -> str:
    if (
        e.name == "tight_below_L_per_h"
        or e.low is None
        or e.high is None
        or not (known(e.low) and known(e.high))
        or e.low == e.high
    ):
        return ""
    return between(tell(e.low, dress), tell(e.high, dress), dress)


def from_reading(reader: Reader, subject: str, quantity: str, label: str = "") -> Figure | None:
    """The figure of an instrument's newest reading; None where it was never heard."""
    r = reader.reading(subject, quantity)
    if r is None:
        return None
    channel = f"{subject} {quantity}"
    return reading_figure(reader, channel, r, label or called(channel, reader.dress))


def reading_figure(reader: Reader, channel: str, reading: Reading, label: str) -> Figure:
    age_s = reader.snapshot.at_s - reading.at_s
    age = aged(age_s, reader.dress)
    text = reader.word("not available")
    if reading.value is not None and known(reading.value):
        text = told(channel, reading.value, reader.dress)
    state = "silent" if reading.silent else "live" if reading.value is not None else "unknown"
    if reading.silent:
        age = reader.word("silent for {age:span}", age=age_s)
    return Figure(label, text, "", age, state, rests_href("reading", channel))


def told(channel: str, value: float, dress: Dress) -> str:
    """A reading of that channel with its unit."""
    quantity = QUANTITIES.get(quantity_of(channel))
    if quantity is None:
        return number(value, dress)
    if quantity.state and quantity.highest == 1:
        return dress.text("yes") if value else dress.text("no")
    tell = BY_UNIT.get(quantity.unit)
    if tell is not None:
        return tell(value, dress)
    return number(value, dress) + (GAP + quantity.unit if quantity.unit else "")


def quantity_of(channel: str) -> str:
    """The quantity at the end of a channel's name, the longest that fits; empty if none does."""
    plain = channel.partition(" (opinion")[0]
    words = plain.split(" ")
    for start in range(1, len(words)):
        if (name := " ".join(words[start:])) in QUANTITIES:
            return name
    return ""


def called(channel: str, dress: Dress) -> str:
    """A channel by its subject's name and, in the reader's language, its quantity."""
    quantity = quantity_of(channel)
    if not quantity:
        return channel
    subject, _, opinion = channel.partition(f" {quantity}")
    facts = {"subject": subject, "quantity": quantity}
    return fill(N_("{subject} {quantity:text}"), facts, dress) + opinion
