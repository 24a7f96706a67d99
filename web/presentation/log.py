"""The page of the Log: everything that happened, newest first, as it was asked for; and notes of the crew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil

from monitor.clock import MINUTE_S
from monitor.records import EventKind
from monitor.storage.brackets import Bracket
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import clock_time, date, span
from web.presentation.figures import Reader
from web.presentation.log_asked import SPANS, Asked
from web.presentation.log_lines import Brackets, Line, told
from web.presentation.log_look import Found
from web.presentation.log_words import KINDS, SUBJECTS, subject_word

FIRST = {
    "week": N_("The last seven days, the newest first."),
    "month": N_("The last thirty days, the newest first."),
    "all": N_("All that is recorded, the newest first."),
    "own": N_("What happened in between, the newest first."),
}
NOTE_MOST = 2000
"""Characters of a note."""


@dataclass(frozen=True, slots=True)
class Entry:
    """`day` is given on the first entry of each day only, as a logbook has it; of a boot whose time is
    uncertain it says between which times that lies."""

    day: str
    time: str
    lasted: str
    what: str
    more: str
    note: bool = False
    """The crew's own words."""


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Note:
    """What stands in the form for a note, where it was not taken."""

    text: str = ""
    at: str = ""
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Log:
    first: str
    only: str
    """What it is narrowed down to; empty for everything."""
    entries: tuple[Entry, ...]
    empty: str
    trouble: str
    reached: str
    kinds: tuple[Choice, ...]
    subjects: tuple[Choice, ...]
    spans: tuple[Choice, ...]
    asked: Asked
    earlier: str
    later: str
    files: str
    """The query of the files that hold the same."""
    note: Note
    note_most: int


def log(reader: Reader, asked: Asked, found: Found, *, trouble: str = "", note: Note | None = None) -> Log:
    """`trouble`: why it could not be told; `note`: one that was not taken."""
    reached = ""
    if found.reached_s is not None:
        reached = reader.word("Looked through back to {reached:date} so far.", reached=found.reached_s)
    return Log(
        first=reader.word(FIRST[asked.span] if asked.placed else N_("What happened last, the newest first.")),
        only=_only(reader, asked),
        entries=_by_day(reader, found),
        empty=reader.word(
            N_("Nothing of that kind is written here.")
            if asked.narrowed
            else N_("Nothing is written here yet.")
        ),
        trouble=trouble,
        reached=reached,
        kinds=tuple(Choice(k, reader.word(words), k in asked.kinds) for k, words in KINDS.items()),
        subjects=tuple(_subjects(reader, asked)),
        spans=tuple(Choice(k, reader.word(words), k == asked.span) for k, words in SPANS.items()),
        asked=asked,
        earlier="" if found.earlier is None else f"/log?{asked.query(before=found.earlier)}",
        later="" if found.later is None else f"/log?{asked.query(after=found.later)}",
        files=asked.query(),
        note=note or Note(),
        note_most=NOTE_MOST,
    )


def _only(reader: Reader, asked: Asked) -> str:
    """ "Only: Alert, Note; about house; with “leak”." """
    said = [", ".join(reader.word(KINDS[k]) for k in asked.kinds)] if asked.kinds else []
    if asked.subject:
        said.append(reader.word("about {subject}", subject=subject_word(reader, asked.subject)))
    if asked.words:
        said.append(reader.word("with “{words}”", words=asked.words))
    if asked.span == "own" and asked.start:
        said.append(reader.word("from {start}", start=asked.start.replace("T", " ")))
    if asked.span == "own" and asked.end:
        said.append(reader.word("to {end}", end=asked.end.replace("T", " ")))
    return reader.word("Only: {what}.", what="; ".join(said)) if said else ""


def _subjects(reader: Reader, asked: Asked) -> Iterable[Choice]:
    """Everything, what the settings name, ours, and what was asked for besides."""
    s = reader.settings
    names = [x.name for x in (*s.banks, *s.tanks, *s.pumps)] + [h.name for h in reader.snapshot.sources]
    yield Choice("", reader.word("everything"), asked.subject == "")
    for name in dict.fromkeys((*names, *SUBJECTS, *([asked.subject] if asked.subject else []))):
        yield Choice(name, subject_word(reader, name), name == asked.subject)


def _by_day(reader: Reader, found: Found) -> tuple[Entry, ...]:
    entries: list[Entry] = []
    for heading, group in groupby(found.lines, key=lambda line: _heading(reader, line, found.brackets or {})):
        entries += _entries(reader, heading[0], list(group))
    return tuple(entries)


def _entries(reader: Reader, day: str, group: Sequence[Line]) -> Iterable[Entry]:
    for nth, line in enumerate(group):
        what, more = told(reader, line)
        time = reader.word("uncertain") if line.utc_s is None else clock_time(line.utc_s, reader.dress)
        lasted = span(line.lasted_s, reader.dress) if line.lasted_s > 0 else ""
        yield Entry("" if nth else day, time, lasted, what, more, line.kind == EventKind.NOTE)


def _heading(reader: Reader, line: Line, brackets: Brackets) -> tuple[str, int]:
    """What stands above it, and the boot where that is what it speaks of."""
    if line.utc_s is not None:
        return date(line.utc_s, reader.dress), 0
    return named(_between(reader, brackets.get(line.boot))), line.boot


def _between(reader: Reader, bracket: Bracket | None) -> str:
    """To the minute, rounded outwards."""
    earliest_s, latest_s = (bracket.earliest_utc_s, bracket.latest_utc_s) if bracket else (None, None)
    until_s = None if latest_s is None else ceil(latest_s / MINUTE_S) * MINUTE_S
    if earliest_s is not None and until_s is not None:
        return reader.say("uncertain: between", earliest_s=earliest_s, latest_s=until_s)
    if earliest_s is not None:
        return reader.say("uncertain: after", earliest_s=earliest_s)
    if until_s is not None:
        return reader.say("uncertain: before", latest_s=until_s)
    return reader.say("uncertain")
