"""Fit-out: what is heard of the boat's instruments, how they are, and what the watch reckons with."""

from collections.abc import Sequence
from dataclasses import dataclass

from web.presentation.figures import Reader
from web.presentation.fit_out_figures import FigureRow, figures, wanting
from web.presentation.fit_out_sources import (
    InstrumentRow,
    OpinionRow,
    SourceRow,
    always_on,
    fell_silent,
    instruments,
    opinions,
    sources,
)
from web.presentation.fit_out_wizard import WizardView, wizard
from web.watch import Record

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class FitOut:
    first: str
    sources: tuple[SourceRow, ...]
    instruments: tuple[InstrumentRow, ...]
    never: str
    """Those that were not heard yet, and may be at rest."""
    opinions: tuple[OpinionRow, ...]
    figures: tuple[FigureRow, ...]
    warning: str
    """What the settings name and nobody can hear."""
    wizard: WizardView | None


def fit_out(reader: Reader, record: Record | None) -> FitOut:
    week = fell_silent(reader, record)
    all_of_them = instruments(reader, week)
    at_rest = [i.name for i in all_of_them if not i.heard and i.name not in always_on(reader)]
    deaf = [s.name for _, s in reader.settings.subjects() if not s.feeds]
    return FitOut(
        first=_first(reader, all_of_them),
        sources=sources(reader, week),
        instruments=tuple(i for i in all_of_them if i.name not in at_rest),
        never=reader.say("fit-out: never heard", names=", ".join(at_rest)) if at_rest else "",
        opinions=opinions(reader),
        figures=figures(reader),
        warning=reader.say("fit-out: no feed", names=", ".join(deaf)) if deaf else "",
        wizard=wizard(reader),
    )


def _first(reader: Reader, rows: Sequence[InstrumentRow]) -> str:
    """What is heard, what is silent, what wants calibrating."""
    quiet = [h.name for h in reader.snapshot.sources if not h.up]
    mute = [row.name for row in rows if row.silent and row.name in always_on(reader)]
    if not reader.snapshot.sources:
        said = [reader.say("fit-out: none set")]
    elif quiet:
        said = [reader.say("fit-out: sources silent", names=_row(reader, quiet))]
        if mute:
            said.append(reader.say("fit-out: and instruments", names=_row(reader, mute)))
    elif mute:
        said = [reader.say("fit-out: instruments silent", names=_row(reader, mute))]
    else:
        said = [reader.say("fit-out: all heard")]
    worth = wanting(reader)
    if worth:
        said.append(reader.say("fit-out: worth calibrating", names=_row(reader, worth)))
    elif reader.snapshot.fit_out.learned:
        said.append(reader.say("fit-out: nothing to calibrate"))
    return " ".join(said)


def _row(reader: Reader, names: Sequence[str]) -> str:
    """The first few, and how many more."""
    shown, more = ", ".join(names[:MOST_NAMED]), len(names) - MOST_NAMED
    return reader.say("fit-out: and more", names=shown, more=more) if more > 0 else shown
