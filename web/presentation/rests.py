"""What a number rests on: its reason in words, its band, the readings behind it and their ages."""

from dataclasses import dataclass

from monitor.records import Estimate
from monitor.settings import Feed, Subject
from monitor.words.say import named
from monitor.words.tongues import N_
from web.presentation.figures import (
    BY_ESTIMATE,
    Figure,
    Reader,
    called,
    from_estimate,
    quantity_of,
    reading_figure,
    rests_href,
)

STANDS_ON: dict[str, tuple[str, ...]] = {
    "charge_pct": (),
    "left_Wh": ("charge_pct",),
    "energy_days": ("left_Wh", "charge_pct"),
    "autonomy_days": ("left_Wh", "charge_pct"),
    "dawn_pct": ("left_Wh", "energy_days"),
    "lowest_pct": ("left_Wh", "energy_days"),
    "buffer_pct": ("rested_V",),
    "hours_to_live": ("buffer_pct", "rested_V"),
    "help_hours": ("shore_load_pct",),
    "supply_most_A": ("supply_open_V", "supply_ohm"),
    "water_days": ("left_L", "tank_L"),
    "left_L": ("tank_L",),
}
"""The estimates that another one is made from; the rest is made from readings."""

HOW: dict[str, str] = {
    "charge_pct": N_(
        "Ampere-hours counted in and out since the last full charge; the band widens with time."
    ),
    "left_Wh": N_("The charge times the bank's capacity, from empty: the reserve is in it."),
    "energy_days": N_(
        "When the bank first meets its reserve, over days like these, charging as usual. "
        "The cautious day comes first: nine times in ten it lasts at least that long."
    ),
    "autonomy_days": N_("The same with no charging at all, what the sizing standards call autonomy."),
    "dawn_pct": N_("Where the courses of the forecast with the usual charging stand at the next dawn."),
    "lowest_pct": N_("The lowest of the same courses within a day."),
    "forecast_hits": N_(
        "Of the forecasts kept every six hours, those that outlived their cautious day by what "
        "was used since. Nine in ten are promised."
    ),
    "forecast_hits_charging": N_("The same with the usual charging, by what the bank then held."),
    "wasted_Wh": N_(
        "What the panels would have given by the height of the sun and what they gave before, less "
        "what the full bank took."
    ),
    "cut_minutes": N_(
        "The highest and lowest cell, the temperatures and the battery's own limits, drawn on to "
        "where it cuts itself off: the earliest counts."
    ),
    "cell_spread_mV": N_("The highest cell less the lowest."),
    "rested_V": N_("The voltage after four hours with hardly any current and no charger holding it up."),
    "buffer_pct": N_("That voltage in the table for lead batteries at rest: 12.6 V full, 12.2 V half."),
    "buffer_mohm": N_("How far the voltage gives way when the current steps, while no charger holds it up."),
    "lowest_night_V": N_("The lowest reading between dusk and dawn."),
    "hours_to_live": N_(
        "What the battery holds, weakened by age and by a quick discharge (Peukert), over what "
        "hangs on it now, down to where it is harmed."
    ),
    "opinion_offset_A": N_("Hourly ampere-hours of both instruments, a line through them: where it starts."),
    "opinion_gain": N_("The same line: how steep it is."),
    "shore_load_pct": N_("The current, not the watts, against the smaller of breaker and setting."),
    "generator_load_pct": N_("What it gives against what it carries for hours."),
    "supply_ohm": N_("How far the voltage gives way for each ampere taken."),
    "supply_open_V": N_("Where that line stands with nothing taken."),
    "supply_most_A": N_("The current at which that line reaches 8 % under the nominal voltage."),
    "help_hours": N_("The energy above the reserve over what the bank adds to the supply."),
    "water_days": N_(
        "When the tanks first meet the reserve, over days like these. "
        "The cautious day comes first: nine times in ten it lasts at least that long."
    ),
    "tank_L": N_("The sender's reading through the tank's sounding table, calmed over minutes."),
    "left_L": N_("All tanks that count, above what the pump cannot reach."),
    "water_L_a_head": N_("What went out of the tanks in seven days, over those aboard; leaks are in it."),
    "water_heat_pct": N_(
        "The boat's own days against the warmth of their air, drawn towards none while few."
    ),
    "water_hits": N_(
        "Of the forecasts kept, those that outlived their cautious day. Nine in ten are promised."
    ),
    "made_L": N_(
        "What the watermaker says it gives, or its rating while it runs, since the ship's midnight."
    ),
    "make_Wh_per_L": N_("Its watt-hours of a week over the litres of the same minutes."),
    "coldest_C": N_("The lowest of the thermometers near the plumbing."),
    "run_hours": N_("Counted while it is heard running, since the watch began."),
    "run_litres": N_("The litres of its runs, since the watch began."),
    "run_starts": N_("Its starts, since the watch began."),
    "tank_share": N_("Whether its level falls while its pump runs, and what the crew said of its valve."),
    "tank_table_off_L": N_("Litres pumped and filled against what the sounding table makes of the sender."),
    "tank_pump_ratio": N_("Litres pumped over what the tank fell by its table: one where both are right."),
    "leak_explained_pct": N_("The chances of all the plumbing's verdicts in which no water is lost."),
    "leak_L_per_h": N_("Pump runs of exactly one accumulator refill, while nobody draws water."),
    "tight_below_L_per_h": N_("A leak greater than this would have started the pump in the longest rest."),
}


@dataclass(frozen=True, slots=True)
class Rests:
    title: str
    figure: Figure
    how: str
    stands_on: tuple[Figure, ...]
    inputs: tuple[Figure, ...]
    feeds: tuple[str, ...]
    history: str


def rests(reader: Reader, name: str, subject: str) -> Rests | None:
    """None where no such figure is known."""
    if name == "reading":
        return _of_reading(reader, subject)
    if name not in BY_ESTIMATE and reader.estimate(name, subject) is None:
        return None
    figure = from_estimate(reader, name, subject)
    below = _below(reader, name, subject)
    subjects = dict.fromkeys([subject, *(e.subject for e in below)])
    label = reader.word(BY_ESTIMATE.get(name, (name.replace("_", " "), None))[0])
    return Rests(
        title=_of(reader, named(subject), label),
        figure=figure,
        how=reader.word(HOW.get(name, "")),
        stands_on=tuple(
            from_estimate(
                reader, e.name, e.subject, _of(reader, e.subject, reader.word(BY_ESTIMATE[e.name][0]))
            )
            for e in below
        ),
        inputs=tuple(f for one in subjects for f in readings_of(reader, one)),
        feeds=tuple(f for one in subjects for f in feeds_of(reader, one)),
        history="",
    )


def _below(reader: Reader, name: str, subject: str) -> list[Estimate]:
    tanks = {t.name for t in reader.settings.tanks}
    return [
        e
        for (n, of), e in reader.snapshot.estimates.items()
        if n in STANDS_ON.get(name, ()) and (of == subject or (n == "tank_L" and of in tanks))
    ]


def _of_reading(reader: Reader, channel: str) -> Rests | None:
    reading = reader.snapshot.values.get(channel)
    if reading is None:
        return None
    subject = channel.removesuffix(f" {quantity_of(channel)}") if quantity_of(channel) else channel
    return Rests(
        title=named(called(channel, reader.dress)),
        figure=reading_figure(reader, channel, reading, called(channel, reader.dress)),
        how=reader.say("rests on reading"),
        stands_on=(),
        inputs=tuple(f for f in readings_of(reader, subject) if f.href != rests_href("reading", channel)),
        feeds=tuple(feeds_of(reader, subject)),
        history=channel,
    )


def readings_of(reader: Reader, subject: str) -> list[Figure]:
    return [
        reading_figure(reader, channel, reading, called(channel, reader.dress))
        for channel, reading in reader.snapshot.values.items()
        if channel.startswith(f"{subject} ") and quantity_of(channel) == _tail(channel, subject)
    ]


def _tail(channel: str, subject: str) -> str:
    return channel.removeprefix(f"{subject} ").partition(" (opinion")[0]


def feeds_of(reader: Reader, subject: str) -> list[str]:
    bound = [s for _, s in reader.settings.subjects() if s.name == subject]
    return [_feed(s, feed) for s in bound for feed in s.feeds]


def _of(reader: Reader, subject: str, label: str) -> str:
    return reader.word("{subject}: {label}", subject=subject, label=label[:1].lower() + label[1:])


def _feed(subject: Subject, feed: Feed) -> str:
    parts = [
        f"instance {feed.instance}" if feed.instance is not None else "",
        f"message {feed.message}" if feed.message else "",
        f"signal {feed.signal}" if feed.signal else "",
        f"topic {feed.topic} {feed.pointer}".strip() if feed.topic else "",
        f"indicator {feed.indicator}" if feed.indicator is not None else "",
    ]
    what = ", ".join(p for p in parts if p)
    return f"{subject.name}: {feed.source}" + (f", {what}" if what else "")
