"""A guided calibration as a page shows it: one thing asked, what is heard, and the result against before."""

from dataclasses import dataclass

from monitor.estimation.sounding import Sounding
from monitor.records import Measured, Reason
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import GAP, fine_litres, number
from web.presentation.figures import Reader
from web.presentation.fit_out_figures import CALLED

ANSWERS = {
    "done": N_("It is done"),
    "again": N_("Do this one again"),
    "enough": N_("That is enough"),
    "zero: read": N_("All sources are off and the bank is isolated"),
    "zero: back": N_("The bank is connected again"),
    "sounding: settle": N_("Wait anew"),
}
AMOUNTS = {
    "flow: say": N_("In the bucket"),
    "drawdown: say": N_("In the jug"),
    "sounding: start": N_("In it now"),
    "sounding: pour": N_("Poured in"),
}
SAME_L = 1.0


@dataclass(frozen=True, slots=True)
class WizardView:
    """Of a result `against` and `covers` say what it replaces, and what it leaves out."""

    subject: str
    title: str
    caution: str
    say: str
    note: str
    heard: tuple[str, ...]
    noted: tuple[str, ...]
    answers: tuple[tuple[str, str], ...]
    litres: str
    """Of what the amount is to be said; empty where none is."""
    unit: str
    result: bool
    against: str
    covers: str
    table: tuple[tuple[str, str, str], ...]
    """Reading, litres measured, litres until now."""
    done: bool
    stops: bool
    """It can be stopped: a bank that is isolated has to be connected again first."""


def wizard(reader: Reader) -> WizardView | None:
    w = reader.snapshot.fit_out.wizard
    if w is None:
        return None
    step = f"{w.what}: {w.step}"
    result = w.found is not None
    told = w.say
    if w.found is not None and w.found.value is not None:
        told = Reason(told.id, {**told.facts, "value": w.found.value, "half": w.found.half})
    return WizardView(
        subject=w.subject,
        title=named(reader.word(CALLED[w.what], subject=w.subject)),
        caution=reader.say("calibration caution: zero")
        if w.what == "zero" and not (w.done or result)
        else "",
        say=say(told, reader.dress),
        note="" if w.note is None else say(w.note, reader.dress),
        heard=tuple(named(say(r, reader.dress)) for r in w.heard),
        noted=() if w.what == "sounding" and result else tuple(say(r, reader.dress) for r in w.noted),
        answers=tuple(
            (id, reader.word(ANSWERS.get(step, ANSWERS.get(id, id)))) for id in w.answers if id != "litres"
        ),
        litres=reader.word(AMOUNTS[step]) if w.asks_litres else "",
        unit=reader.dress.volume.symbol,
        result=result,
        against="" if w.found is None else _against(reader, w.found),
        covers="" if w.found is None else _covers(reader, w.found),
        table=() if w.found is None else _table(reader, w.found),
        done=w.done,
        stops=not result and w.step != "back",
    )


def _against(reader: Reader, found: Measured) -> str:
    if found.what != "sounding":
        facts = {"before": found.before, "half": found.before_half}
        return reader.say(f"calibration against: {found.what}", **facts)
    reading, litres, before = max(_pairs(found), key=lambda pair: abs(pair[1] - pair[2]))
    if abs(litres - before) < SAME_L:
        return reader.say("calibration against: same table")
    return reader.say("calibration against: sounding", reading=reading, litres=litres, before=before)


def _pairs(found: Measured) -> list[tuple[float, float, float]]:
    """Where it was measured: the reading, the litres, and what the earlier table made of it."""
    low, high = found.covers or (0.0, 100.0)
    before = Sounding(found.before_table)
    return [(r, v, before.litres(r)) for r, v in found.table if low <= r <= high]


def _covers(reader: Reader, found: Measured) -> str:
    if found.covers is None:
        return ""
    return reader.say("calibration covers", low=found.covers[0], high=found.covers[1])


def _table(reader: Reader, found: Measured) -> tuple[tuple[str, str, str], ...]:
    if not found.table:
        return ()
    dress = reader.dress
    return tuple(
        (f"{number(r, dress)}{GAP}%", fine_litres(v, dress), fine_litres(b, dress))
        for r, v, b in _pairs(found)
    )
