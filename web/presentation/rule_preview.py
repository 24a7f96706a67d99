"""What a change of a rule would have brought, drawn over the months that are recorded."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Outlook
from monitor.clock import DAY_S, Interval
from monitor.errors import StorageError
from monitor.records import RuleChange
from monitor.words.say import say
from monitor.words.units import clock, date, known
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, height, path
from web.presentation.figures import Reader
from web.presentation.rules import in_unit
from web.watch import Previewed, Record

LOOK_BACK_S = 92 * DAY_S
POINTS = 700
TICKS = 6
CURVES = {
    "low voltage": ("{} voltage", "low", 1.0),
    "low charge": ("{} counted charge", "mean", 1.0),
    "few energy days": ("{} days left low", "mean", 1.0),
    "low water": ("boat water left", "mean", 1.0),
    "few water days": ("{} days left low", "mean", 1.0),
    "leak suspected": ("{} leak", "mean", 24.0),
    "water old": ("{} water age", "mean", 1.0),
}
"""What is drawn of a rule: the channel of its subject, which edge, what brings it into the rule's unit."""
LEAST_WIDTH = 0.0022


@dataclass(frozen=True, slots=True)
class Line:
    y: float
    told: str
    kind: str


@dataclass(frozen=True, slots=True)
class Row:
    """A row of ticks: x and width of each time it would have been open."""

    title: str
    ticks: tuple[tuple[float, float], ...]
    sounds: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Months:
    curve: str
    lines: tuple[Line, ...]
    rows: tuple[Row, ...]
    days: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Told:
    subject: str
    now: str
    proposed: str
    by: str
    months: Months | None


@dataclass(frozen=True, slots=True)
class Shown:
    about: tuple[Told, ...]
    refused: str
    fields: tuple[tuple[str, str], ...]
    """What the button sends."""
    span: str


def shown(
    reader: Reader,
    record: Record | None,
    change: RuleChange,
    during: Interval,
    now: Sequence[Previewed],
    proposed: Sequence[Previewed],
    fields: Sequence[tuple[str, str]],
) -> Shown:
    stands = {p.subject: p for p in now}
    about = tuple(_told(reader, record, change, during, stands.get(p.subject), p) for p in proposed)
    first, last = (date(s, reader.dress) for s in (during.start_s, during.end_s))
    return Shown(
        about,
        reader.say("preview: is refused") if any(p.refused for p in proposed) else "",
        tuple(fields),
        reader.say("preview: span", first=first, last=last),
    )


def _told(
    reader: Reader, record: Record | None, change: RuleChange, during: Interval,
    now: Previewed | None, proposed: Previewed,
) -> Told:  # fmt: skip
    months, stands = None, None if now is None else now.outlook
    if proposed.outlook is not None:
        months = _months(reader, record, change, during, proposed.subject, stands, proposed.outlook)
    return Told(
        proposed.subject,
        "" if stands is None else _sentence(reader, stands),
        "" if proposed.outlook is None else _sentence(reader, proposed.outlook),
        say(proposed.by, reader.dress),
        months,
    )


def _sentence(reader: Reader, o: Outlook) -> str:
    facts = {
        "heard_s": o.heard_s,
        "sounding_s": o.sounding_s,
        "longest_s": o.longest_s,
        "share_pct": 100 * o.share,
        "sounded": often(reader, len(o.sounded_s)),
        "times": often(reader, o.times),
    }
    if o.for_ever:
        return reader.say("preview: for ever", **facts)
    if not o.times:
        return reader.say("preview: nothing", **facts)
    said = reader.say("preview: told" if o.sounded_s else "preview: silent", **facts)
    if not o.of_nights:
        return said
    a_hundred = 100 * o.nights / o.of_nights
    return (
        f"{said} {reader.say('preview: nights', nights=int(o.nights), of=o.of_nights, a_hundred=a_hundred)}"
    )


def often(reader: Reader, n: int) -> str:
    return reader.word("once") if n == 1 else reader.word("{n:count} times", n=n)


def _months(
    reader: Reader, record: Record | None, change: RuleChange, during: Interval, subject: str,
    now: Outlook | None, proposed: Outlook,
) -> Months:  # fmt: skip
    points = _curve(record, change.rule, subject, during)
    during = _heard(points, during)
    axis = even_axis(during.start_s, during.end_s, reader.dress.zone)
    limits = _lines(reader, change, subject)
    values = [v for _, v in points if known(v)] + [v for v, _, _ in limits]
    curve, lines = "", tuple[Line, ...]()
    if points and values:
        room = 0.06 * (max(values) - min(values) or 1.0)
        y = height(max(values) + room, min(values) - room)
        drawn: list[Point | None] = [(axis.x(t), y(v)) if known(v) else None for t, v in points]
        curve = path(drawn)
        lines = tuple(Line(y(v), told, kind) for v, told, kind in limits)
    rows = [_row(axis, reader.say("preview: row proposed"), proposed)]
    if now is not None:
        rows.insert(0, _row(axis, reader.say("preview: row now"), now))
    every_s = during.seconds / TICKS
    days = [during.start_s + (n + 0.5) * every_s for n in range(TICKS)]
    name = clock if every_s < DAY_S else date
    return Months(curve, lines, tuple(rows), tuple(Tick(axis.x(s), name(s, reader.dress)) for s in days))


def _heard(points: Sequence[tuple[float, float]], during: Interval) -> Interval:
    """From the first that is recorded, a day at least: a watch that is young has no months to draw."""
    first_s = next((t for t, v in points if known(v)), during.start_s)
    return Interval(max(during.start_s, min(first_s, during.end_s - DAY_S)), during.end_s)


def _row(axis: Axis, title: str, o: Outlook) -> Row:
    ticks = tuple((axis.x(s), max(LEAST_WIDTH, axis.x(e) - axis.x(s))) for s, e in o.spans)
    return Row(title, ticks, tuple(axis.x(s) for s in o.sounded_s))


def _lines(reader: Reader, change: RuleChange, subject: str) -> list[tuple[float, str, str]]:
    found = []
    states = [s for s in reader.snapshot.calls.rules if (s.rule, s.subject) == (change.rule, subject)]
    for state in states[:1]:
        if state.limit is not None:
            told = reader.say("preview: limit now", limit=in_unit(reader, change.rule, state.limit))
            found.append((state.limit, told, "pencil"))
    if change.limit is not None and change.rule in LIMITS:
        told = reader.say("preview: limit proposed", limit=in_unit(reader, change.rule, change.limit))
        found.append((change.limit, told, "ink"))
    return found


def _curve(record: Record | None, rule: str, subject: str, during: Interval) -> list[tuple[float, float]]:
    """Empty where nothing is recorded that can be drawn."""
    if record is None or rule not in CURVES:
        return []
    channel, edge, scale = CURVES[rule]
    channel = channel.format(subject)
    try:
        if channel not in record.channels():
            return []
        series = record.series(channel, during, POINTS)
    except StorageError:
        return []
    values = getattr(series, edge)
    return [(float(t), scale * float(v)) for t, v in zip(series.utc_s, values, strict=True)]
