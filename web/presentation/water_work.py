"""What is done about water: the guided test, fills and where they came from, the watermaker, what is due."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.clock import DAY_S, Interval
from monitor.errors import StorageError
from monitor.records import Counter, EventKind, Guided
from monitor.words.say import fill, named, say
from monitor.words.tongues import N_
from monitor.words.units import (
    Dress,
    clock_time,
    date,
    days,
    known,
    litres,
    rate,
    span,
    temp,
    unknown,
)
from web.presentation.figures import Reader, or_unknown, rests_href
from web.presentation.rests_more import used_of
from web.watch import Record

FILLS_S = 60 * DAY_S
SHOWN_FILLS = 8
SCALDS_C = 60.0


@dataclass(frozen=True, slots=True)
class Test:
    """A guided test under way or just concluded."""

    pump: str
    title: str
    say: str
    answers: tuple[tuple[str, str], ...]
    waits: str
    hot: str
    """How warm water scalds in about a second."""
    waited: float | None
    done: bool


@dataclass(frozen=True, slots=True)
class FillRow:
    when: str
    tank: str
    litres: str
    source: str
    treated: str
    confirmed: bool


@dataclass(frozen=True, slots=True)
class MakingRow:
    name: str
    href: str
    state: str
    today: str
    rate: str
    cost: str
    full_in: str


@dataclass(frozen=True, slots=True)
class CounterRow:
    """One service, by every measure that it is counted by, the nearer first; `share` is of the nearer."""

    name: str
    of: str
    href: str
    used: tuple[str, ...]
    share: float
    due: str
    overdue: bool


def guided(reader: Reader) -> Test | None:
    g = reader.snapshot.water.guided
    if g is None:
        return None
    waits, waited = _wait(reader, g)
    return Test(
        pump=g.pump,
        title=reader.say("guided concluded" if g.done else "guided under way", pump=g.pump),
        say=say(g.say, reader.dress),
        answers=tuple((id, say(words, reader.dress)) for id, words in g.answers),
        waits=waits,
        hot=temp(SCALDS_C, reader.dress),
        waited=waited,
        done=g.done,
    )


def _wait(reader: Reader, g: Guided) -> tuple[str, float | None]:
    """How long there is still to wait, and the share that has passed."""
    if g.since_s is None or not g.wait_s or g.done:
        return "", None
    passed_s = max(0.0, reader.snapshot.at_s - g.since_s)
    left_s = max(0.0, g.wait_s - passed_s)
    share = min(1.0, passed_s / g.wait_s)
    if left_s <= 0:
        return reader.say("guided waited", whole=g.wait_s), share
    shown_s = left_s if left_s >= 60 else -(-left_s // 10) * 10
    if reader.snapshot.utc_s is None:
        return reader.say("guided waits", left=shown_s), share
    until = clock_time(reader.snapshot.utc_s + left_s, reader.dress)
    return reader.say("guided waits until", left=shown_s, until=until), share


def fills(reader: Reader, record: Record | None) -> tuple[FillRow, ...]:
    """The newest first; those of a time that is not known are left to the log."""
    now_s = reader.snapshot.utc_s
    if record is None or now_s is None:
        return ()
    try:
        events = record.events(EventKind.FILL, Interval(now_s - FILLS_S, now_s + 1))
    except StorageError:
        return ()
    rows: dict[tuple[int, float, str], FillRow] = {}
    for event, start_s, _ in events:
        if start_s is None:
            continue
        facts = event.facts
        source = str(facts.get("source") or "")
        treated = facts.get("treated")
        amount = facts.get("litres")
        row = FillRow(
            when=reader.word(
                "{date}, {time}", date=date(start_s, reader.dress), time=clock_time(start_s, reader.dress)
            ),
            tank=event.subject,
            litres=litres(float(amount), reader.dress) if known(amount) else unknown(reader.dress),  # type: ignore[arg-type]
            source=source,
            treated=reader.say(f"fill treated {treated}") if isinstance(treated, bool) else "",
            confirmed=bool(source) or isinstance(treated, bool),
        )
        # What the crew said of a fill stands in a later event of the same begin.
        rows[event.boot, round(event.start_s, 1), event.subject] = row
    return tuple(reversed(list(rows.values())))[:SHOWN_FILLS]


def making(reader: Reader) -> tuple[MakingRow, ...]:
    dress = reader.dress

    found = []
    for m in reader.snapshot.water.making:
        state = {True: "watermaker runs", False: "watermaker rests", None: "watermaker unheard"}[m.running]
        found.append(
            MakingRow(
                name=named(m.name),
                href=rests_href("made", m.name),
                state=reader.say(state),
                today=or_unknown(m.today_L, litres, dress),
                rate=or_unknown(m.L_per_h, rate, dress),
                cost=or_unknown(m.Wh_per_L, _cost, dress),
                full_in=or_unknown(m.full_in_s, span, dress),
            )
        )
    return tuple(found)


def _cost(Wh_per_L: float, dress: Dress) -> str:
    facts = {"amount": round(Wh_per_L / dress.volume.per, 1), "unit": dress.volume.symbol}
    return fill(N_("{amount:number}\u00a0Wh a {unit}"), facts, dress)


def counters(reader: Reader) -> tuple[CounterRow, ...]:
    """What is due first stands first, of a service too that is counted by days and by litres; what nobody
    can tell stands last."""
    services: dict[str, list[Counter]] = {}
    for c in sorted(reader.snapshot.water.counters, key=_nearness):
        services.setdefault(c.name, []).append(c)
    return tuple(_counter(reader, measures) for measures in services.values())


def _nearness(c: Counter) -> tuple[bool, bool, float]:
    return not _overdue(c), c.due_in_days is None, c.due_in_days or 0.0


def _overdue(c: Counter) -> bool:
    return c.used >= c.limit or (c.due_in_days is not None and c.due_in_days <= 0)


def _counter(reader: Reader, measures: Sequence[Counter]) -> CounterRow:
    c = measures[0]
    due = reader.say("due unknown")
    if _overdue(c):
        due = reader.say("overdue")
    elif c.due_in_days is not None and known(c.due_in_days):
        due = reader.say("due in", left=_in_days(c.due_in_days, reader))
    return CounterRow(
        name=c.name,
        of="" if c.subject in ("", "boat", c.name) else c.subject,
        href=rests_href("due", c.name),
        used=tuple(used_of(m, reader) for m in measures),
        share=min(1.0, c.used / c.limit) if c.limit > 0 else 1.0,
        due=due,
        overdue=_overdue(c),
    )


def _in_days(left_days: float, reader: Reader) -> str:
    if left_days < 10:
        return days(left_days, reader.dress)
    if left_days < 60:
        return span(left_days * DAY_S, reader.dress)
    return reader.word("{months:count}\u00a0months", months=left_days / 30.44)
