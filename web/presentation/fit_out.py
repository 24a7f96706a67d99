"""Fit-out: what is heard of the boat's instruments, how they are, and what the watch reckons with."""

from collections.abc import Sequence
from dataclasses import dataclass

from web.presentation.figures import Reader
from web.presentation.fit_out_figures import FigureRow, figures, wanting
from web.presentation.fit_out_sources import (
    InstrumentRow,
    OpinionRow,
    SourceRow,
    fell_silent,
    instruments,
    opinions,
    silent_names,
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
    opinions: tuple[OpinionRow, ...]
    figures: tuple[FigureRow, ...]
    warnings: tuple[str, ...]
    wizard: WizardView | None


def fit_out(reader: Reader, record: Record | None) -> FitOut:
    week = fell_silent(reader, record)
    return FitOut(
        first=_first(reader),
        sources=sources(reader, week),
        instruments=instruments(reader, week),
        opinions=opinions(reader),
        figures=figures(reader),
        warnings=_warnings(reader),
        wizard=wizard(reader),
    )


def _first(reader: Reader) -> str:
    """What is heard, what is silent, what wants calibrating."""
    quiet, mute = silent_names(reader)
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


def _warnings(reader: Reader) -> tuple[str, ...]:
    """What the settings name and nobody can hear."""
    deaf = [s.name for _, s in reader.settings.subjects() if not s.feeds]
    return tuple(reader.say("fit-out: no feed", subject=name) for name in deaf)
