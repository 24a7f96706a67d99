"""A number as a page shows it: its words, its band, its age, and where it says what it rests on."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from urllib.parse import quote

from starlette.requests import Request

from monitor.channels import QUANTITIES
from monitor.records import Estimate, Reading, Reason, Snapshot
from monitor.settings import Settings
from monitor.words.say import fill, say
from monitor.words.units import (
    GAP,
    UNKNOWN,
    Dress,
    amps,
    bar,
    days_between,
    known,
    litres,
    number,
    pct,
    rate,
    span,
    temp,
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
    "charge_pct": ("Charge", pct),
    "left_Wh": ("Left", wh),
    "energy_days": ("Days left, charging as usual", number),
    "autonomy_days": ("Days left, with no charging", number),
    "tank_L": ("In the tank", litres),
    "left_L": ("Left", litres),
    "water_days": ("Days left", number),
    "water_L_a_head": ("A head and day, last seven days", litres),
    "water_heat_pct": ("More used for each degree warmer", lambda v, d: f"{number(round(v, 1), d)}{GAP}%"),
    "water_hits": ("Cautious days of water that held", lambda v, d: pct(100 * v, d)),
    "made_L": ("Made today", litres),
    "make_Wh_per_L": ("Takes for each litre", lambda v, d: f"{v:.1f}{GAP}Wh"),
    "coldest_C": ("Coldest place near the plumbing", temp),
    "run_hours": ("Run in all", lambda v, d: span(3600 * v, d)),
    "run_litres": ("Moved in all", litres),
    "run_starts": ("Starts in all", lambda v, d: f"{v:.0f}"),
    "tank_share": ("Of what its pump draws", lambda v, d: pct(100 * v, d)),
    "tank_table_off_L": ("Holds more than its table says by", litres),
    "tank_pump_ratio": ("Pumped for each litre it fell", number),
    "leak_L_per_h": ("Leak", rate),
    "leak_explained_pct": ("Refills that are no loss of water", pct),
    "tight_below_L_per_h": ("Leak shows from", rate),
    "dawn_pct": ("At the next dawn", pct),
    "lowest_pct": ("Lowest until the next noon", pct),
    "forecast_hits": ("Cautious days that held, nothing charging", lambda v, d: pct(100 * v, d)),
    "forecast_hits_charging": ("Cautious days that held, charging as usual", lambda v, d: pct(100 * v, d)),
    "wasted_Wh": ("Sun turned down today", wh),
    "cut_minutes": ("Until the bank cuts off", lambda v, d: span(v * 60, d)),
    "cell_spread_mV": ("Cells apart", lambda v, d: f"{v:.0f}{GAP}mV"),
    "rested_V": ("At rest", volts),
    "buffer_pct": ("Charge at rest", pct),
    "buffer_mohm": ("Resistance", lambda v, d: f"{v:.1f}{GAP}m\u03a9"),
    "lowest_night_V": ("Lowest last night", volts),
    "hours_to_live": ("It would live alone", lambda v, d: span(v * 3600, d)),
    "opinion_offset_A": ("The second instrument reads more by", milliamps),
    "opinion_gain": ("The second instrument's share of the first", number),
    "shore_load_pct": ("Of its limit", pct),
    "generator_load_pct": ("Of what it carries for hours", pct),
    "supply_ohm": ("Resistance of the supply", lambda v, d: f"{v:.2f}{GAP}\u03a9"),
    "supply_open_V": ("Without load", volts),
    "supply_most_A": ("Voltage holds up to", amps),
    "help_hours": ("The bank can help for", lambda v, d: span(v * 3600, d)),
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
        return "now"
    shown = seconds // 10 * 10 if seconds < 60 else seconds
    return f"{span(shown, dress)} ago"


def rests_href(name: str, subject: str) -> str:
    return f"/rests/{quote(name, safe='')}/{quote(subject, safe='')}"


def from_estimate(reader: Reader, name: str, subject: str, label: str = "") -> Figure:
    """The figure of an estimate, unknown where there is none; its reason said as `why`."""
    own_label, tell = BY_ESTIMATE.get(name, (name.replace("_", " "), number))
    href = rests_href(name, subject)
    e = reader.estimate(name, subject)
    if e is None:
        return Figure(label or own_label, UNKNOWN, "", "", "unknown", href, reader.say("not estimated"))
    why = say(e.reason, reader.dress)
    age = aged(reader.snapshot.at_s - e.at_s, reader.dress)
    if name == "leak_L_per_h" and e.reason.id == "tight":
        return Figure(label or own_label, reader.say("no leak suspected"), "", age, "live", href, why)
    if e.value is None or not known(e.value):
        return Figure(label or own_label, UNKNOWN, "", "", "unknown", href, why)
    state = "silent" if reader.snapshot.at_s - e.at_s > 900 else "live"
    if name == "cut_minutes" and e.beyond:
        return Figure(label or own_label, reader.say("no cut in sight"), "", age, state, href, why)
    if name in IN_DAYS:
        text = days_between(e.low, e.value, e.beyond, reader.dress)
        return Figure(label or own_label, text, "", age, state, href, why)
    return Figure(
        label or own_label, tell(e.value, reader.dress), _band(e, tell, reader.dress), age, state, href, why
    )


def of_subject(
    reader: Reader, subject: str, apart: Collection[str] = ()
) -> tuple[tuple[Figure, ...], tuple[Figure, ...]]:
    """Its estimates in the order they are made, but for those named in `apart`: the known, the unknown."""
    names = [name for name, of in reader.snapshot.estimates if of == subject and name not in apart]
    found = [from_estimate(reader, name, subject) for name in names]
    return tuple(f for f in found if f.state != "unknown"), tuple(f for f in found if f.state == "unknown")


def or_unknown(value: float | None, tell: Format, dress: Dress) -> str:
    """A number in words, or that it is not known."""
    return tell(value, dress) if value is not None and known(value) else UNKNOWN


def _band(e: Estimate, tell: Format, dress: Dress) -> str:
    if (
        e.name == "tight_below_L_per_h"
        or e.low is None
        or e.high is None
        or not (known(e.low) and known(e.high))
        or e.low == e.high
    ):
        return ""
    low, high = tell(e.low, dress), tell(e.high, dress)
    (low_figure, _, low_unit), unit = low.partition(GAP), high.rpartition(GAP)[2]
    return f"{low_figure} to {high}" if low_unit == unit else f"{low} to {high}"


def from_reading(reader: Reader, subject: str, quantity: str, label: str = "") -> Figure | None:
    """The figure of an instrument's newest reading; None where it was never heard."""
    r = reader.reading(subject, quantity)
    if r is None:
        return None
    return reading_figure(reader, f"{subject} {quantity}", r, label or f"{subject} {quantity}")


def reading_figure(reader: Reader, channel: str, reading: Reading, label: str) -> Figure:
    age_s = reader.snapshot.at_s - reading.at_s
    age = aged(age_s, reader.dress)
    text = "not available"
    if reading.value is not None and known(reading.value):
        text = told(channel, reading.value, reader.dress)
    state = "silent" if reading.silent else "live" if reading.value is not None else "unknown"
    if reading.silent:
        age = f"silent for {span(age_s, reader.dress)}"
    return Figure(label, text, "", age, state, rests_href("reading", channel))


def told(channel: str, value: float, dress: Dress) -> str:
    """A reading of that channel with its unit."""
    quantity = QUANTITIES.get(quantity_of(channel))
    if quantity is None:
        return number(value, dress)
    if quantity.state and quantity.highest == 1:
        return "yes" if value else "no"
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
