"""The figures that the watch reckons with: what they are, how well they are known, where they came from."""

from dataclasses import dataclass

from monitor.records import Learned, Measured
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import GAP, date, fine_litres, fixed, flow, milliamps
from web.presentation.figures import Reader

CALLED = {
    "flow": N_("What the {subject} moves"),
    "drawdown": N_("What the accumulator of the {subject} gives"),
    "zero": N_("What the {subject} bank's current sensor is off by"),
    "capacity": N_("What the {subject} bank holds"),
    "sounding": N_("Sounding table of the {subject} tank"),
}
BEGIN = {
    "flow": N_("Measure with a bucket"),
    "drawdown": N_("Measure with a jug"),
    "zero": N_("Listen for its zero"),
    "sounding": N_("Sound by pouring"),
}
FROM = {
    ("flow", "measured"): "fit-out: from repeats",
    ("drawdown", "measured"): "fit-out: from repeats",
    ("zero", "measured"): "fit-out: from minutes",
    ("drawdown", "learned"): "fit-out: from runs",
    ("zero", "learned"): "fit-out: from fulls",
    ("capacity", "learned"): "fit-out: from low ends",
    ("sounding", "learned"): "fit-out: from pieces",
    ("zero", "set"): "fit-out: from practice",
    ("capacity", "set"): "fit-out: from label",
}
HOW = {"set": N_("set"), "learned": N_("learned"), "measured": N_("measured")}


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure. `begin` is what the button says that begins to measure it, empty where nothing does."""

    what: str
    subject: str
    called: str
    value: str
    half: str
    how: str
    came: str
    since: str
    begin: str
    back: bool
    """It was measured and can be made as it was; an offset only until a full charge has taught it anew."""


def figures(reader: Reader) -> tuple[FigureRow, ...]:
    picture = reader.snapshot.fit_out
    taken = {(m.what, m.subject): m for m in picture.taken}
    return tuple(_row(reader, one, taken.get((one.what, one.subject))) for one in picture.learned)


def _row(reader: Reader, one: Learned, taken: Measured | None) -> FigureRow:
    since_s = one.since_utc_s
    called = reader.word(CALLED[one.what], subject=one.subject)
    return FigureRow(
        one.what,
        one.subject,
        named(called),
        amount(reader, one.what, one.value),
        ""
        if one.half is None
        else reader.say("fit-out: give or take", half=amount(reader, one.what, one.half)),
        reader.word(HOW[one.how]),
        _came(reader, one, taken),
        "" if since_s is None else date(since_s, reader.dress),
        reader.word(BEGIN[one.what]) if one.what in BEGIN and heard(reader, one) else "",
        taken is not None and (one.what != "zero" or one.how == "measured"),
    )


def _came(reader: Reader, one: Learned, taken: Measured | None) -> str:
    if one.what == "sounding" and one.how == "measured" and taken is not None and taken.covers is not None:
        low, high = taken.covers
        return reader.say("calibration sounding: taken", count=taken.count, low=low, high=high)
    return reader.say(FROM.get((one.what, one.how), "fit-out: from settings"), count=one.count)


def heard(reader: Reader, one: Learned) -> bool:
    """Whether it could be measured: there is an instrument for it, and of a drawdown an accumulator."""
    if one.what == "drawdown" and not any(
        p.name == one.subject and p.accumulator for p in reader.settings.pumps
    ):
        return False
    quantity = {"flow": "running", "drawdown": "running", "zero": "current", "sounding": "level"}[one.what]
    return reader.reading(one.subject, quantity) is not None


def amount(reader: Reader, what: str, value: float | None) -> str:
    if value is None:
        return ""
    if what == "capacity":
        return f"{fixed(value, 0, reader.dress)}{GAP}Ah"
    return {"flow": flow, "drawdown": fine_litres, "zero": milliamps}[what](value, reader.dress)


PROPOSED = ("flow", "drawdown", "sounding")
"""A sensor's zero is not: nobody is told to isolate a bank."""


def wanting(reader: Reader) -> tuple[str, ...]:
    """What is worth calibrating: a flow, a drawdown or a table that nobody and nothing has borne out."""
    return tuple(
        reader.say(f"fit-out: {one.what} of", subject=one.subject)
        for one in reader.snapshot.fit_out.learned
        if one.what in PROPOSED and one.how == "set" and heard(reader, one) and not _given(reader, one)
    )


def _given(reader: Reader, one: Learned) -> bool:
    """The settings have it as it was measured before."""
    settings = reader.settings
    if one.what == "drawdown":
        return any(p.name == one.subject and p.drawdown_L for p in settings.pumps)
    return one.what == "sounding" and any(t.name == one.subject and t.sounding for t in settings.tanks)
