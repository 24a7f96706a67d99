"""What the next watch is told, and the card for those who do not know the boat."""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.clock import HOUR_S, Interval
from monitor.errors import StorageError
from monitor.pipeline.lines import guests as guests_lines
from monitor.pipeline.lines import handover as watch_line
from monitor.records import AlertChange
from monitor.words.say import named, say
from monitor.words.units import clock_time
from web.presentation.ahead import ahead
from web.presentation.alert_cards import GRADES, card, in_order, rule_name
from web.presentation.alerts import till
from web.presentation.figures import Reader
from web.presentation.frame import silences
from web.presentation.log_words import did
from web.watch import Record

A_WATCH_S = 4 * HOUR_S
"""How long a watch is. Common practice."""
MOST = 30
OUT = ("shelved", "suppressed")


@dataclass(frozen=True, slots=True)
class Handover:
    line: str
    """The whole of it in one sentence."""
    first: tuple[str, ...]
    amounts: tuple[tuple[str, str, str], ...]
    """Title, days, and what to do by when."""
    alerts: tuple[tuple[str, str], ...]
    """What is open, and what is to be done; without what is out of hearing."""
    kept: tuple[str, ...]
    """What is put aside, and the jobs aboard, until when."""
    silences: tuple[str, ...]
    happened: tuple[tuple[str, str, str], ...]
    """Of the last four hours: time, what, what became of it."""
    mode: str


def handover(reader: Reader, record: Record | None) -> Handover:
    s = reader.snapshot
    told = ahead(reader)
    return Handover(
        line=say(watch_line(s, reader.settings), reader.dress),
        first=(*told.later, *told.first),
        amounts=tuple((reader.word(a.title), a.days, a.todo.sentence) for a in told.amounts),
        alerts=tuple(_alerts(reader)),
        kept=tuple(_kept(reader)),
        silences=silences(reader),
        happened=tuple(_happened(reader, record)),
        mode=named(reader.word("{place:text}, {people:text}", place=s.mode.place, people=s.mode.people)),
    )


def _alerts(reader: Reader) -> Iterable[tuple[str, str]]:
    for a in [a for a in in_order(reader.snapshot.alerts) if a.state not in OUT][:MOST]:
        c = card(reader, a)
        seen = reader.say(f"handover: {a.state}")
        name = rule_name(reader, a.rule, a.subject)
        title = reader.word(
            "{grade}: {name}, {since}, {seen}.", grade=c.grade, name=name, since=c.since, seen=seen
        )
        yield title, "" if a.state == "returned" else " ".join([c.because, c.todo])


def _kept(reader: Reader) -> Iterable[str]:
    calls = reader.snapshot.calls
    for rule, subject, until_s in calls.shelf[:MOST]:
        name, until = rule_name(reader, rule, subject), till(reader, until_s)
        yield reader.say("handover: aside", name=name, until=until)
    for job in calls.jobs:
        yield reader.say("handover: job", name=named(reader.word(job.name)), until=till(reader, job.until_s))


def _happened(reader: Reader, record: Record | None) -> Iterable[tuple[str, str, str]]:
    now_s = reader.snapshot.utc_s
    if record is None or now_s is None:
        return
    try:
        found: list[tuple[AlertChange, float]] = [
            (change, utc_s)
            for change, utc_s in record.alert_changes(Interval(now_s - A_WATCH_S, now_s + 1))
            if utc_s is not None and utc_s >= now_s - A_WATCH_S
        ]
    except StorageError:
        return
    for change, utc_s in sorted(found, key=lambda pair: -pair[1])[:MOST]:
        what = reader.titled(
            reader.word(GRADES[change.severity]), rule_name(reader, change.rule, change.subject)
        )
        yield (
            clock_time(utc_s, reader.dress),
            what,
            reader.word("{did}. {why}", did=named(did(reader, change)), why=say(change.reason, reader.dress)),
        )


GUESTS = ("sounds", "water", "power", "never", "asks")


@dataclass(frozen=True, slots=True)
class GuestsCard:
    now: tuple[str, ...]
    """What holds as the boat stands now: figures, and so with their moment."""
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    """Headings and lines that hold for weeks: without a figure."""


def guests(reader: Reader) -> GuestsCard:
    boat, crew = reader.settings.boat.name, reader.settings.boat.crew
    return GuestsCard(
        tuple(say(line, reader.dress) for line in guests_lines(reader.snapshot, reader.settings, crew)),
        tuple(
            (
                reader.say(f"guests: {part}"),
                tuple(reader.say(f"guests: {part} {n}", boat=boat) for n in (1, 2, 3)),
            )
            for part in GUESTS
        ),
    )
