"""One channel over a span: for the plot that zooms and for the still drawing without JavaScript."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from monitor.channels import QUANTITIES
from monitor.clock import DAY_S, Interval
from monitor.words.units import clock_time, date, known
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, area, height, path
from web.presentation.figures import Reader, quantity_of, told
from web.watch import Record, Series

POINTS = 2000
SPANS = {"6 hours": 0.25, "day": 1.0, "week": 7.0, "month": 30.0, "year": 365.0}
"""The spans to choose from, in days."""


@dataclass(frozen=True, slots=True)
class Still:
    axis: Axis
    nights: tuple[tuple[float, float], ...]
    line: str
    band: str
    top_label: str
    bottom_label: str
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class History:
    channels: tuple[str, ...]
    channel: str
    span: str
    spans: tuple[str, ...]
    title: str
    still: Still | None
    note: str
    figures: tuple[tuple[str, str], ...]
    data_url: str
    zone: str


def history(reader: Reader, record: Record | None, channel: str, span: str) -> History:
    known_channels = tuple(sorted(record.channels())) if record else ()
    channel = channel or _first(reader, known_channels)
    interval = interval_of(reader, span)
    title, note = f"{channel}, the last {span}", ""
    still: Still | None = None
    figures: tuple[tuple[str, str], ...] = ()
    if record is None or interval is None:
        note = reader.say("no record" if record is None else "clock not known")
    elif channel not in known_channels:
        note = reader.say("no channel")
    else:
        series = record.series(channel, interval, points=600)
        still, figures = _still(reader, channel, interval, series), _figures(reader, channel, series)
    url = f"/history/data?from={interval.start_s:.0f}&to={interval.end_s:.0f}" if interval else ""
    return History(
        known_channels,
        channel,
        span,
        tuple(SPANS),
        title,
        still,
        note,
        figures,
        url,
        reader.settings.boat.time_zone,
    )


def _first(reader: Reader, channels: tuple[str, ...]) -> str:
    """What is drawn unasked: the charge of the first bank, or its voltage, or whatever there is."""
    banks = [b.name for b in sorted(reader.settings.banks, key=lambda b: b.role != "house")]
    wished = [f"{bank} {quantity}" for bank in banks[:1] for quantity in ("charge", "voltage")]
    return next((c for c in (*wished, *channels) if c in channels), "")


def interval_of(reader: Reader, span: str) -> Interval | None:
    now_s = reader.snapshot.utc_s
    return None if now_s is None else Interval(now_s - SPANS[span] * DAY_S, now_s)


def as_json(channel: str, series: Series) -> dict[str, Any]:
    """Parallel lists, null where nothing was heard; times are UTC seconds."""
    quantity = QUANTITIES.get(quantity_of(channel))
    lists = {
        name: [float(v) if known(float(v)) else None for v in getattr(series, name)]
        for name in ("utc_s", "low", "mean", "high")
    }
    return {"channel": channel, "unit": quantity.unit if quantity else "", "level": series.level, **lists}


def _still(reader: Reader, channel: str, interval: Interval, series: Series) -> Still | None:
    rows = [
        (float(t), float(lo), float(m), float(hi))
        for t, lo, m, hi in zip(series.utc_s, series.low, series.mean, series.high, strict=True)
        if known(float(m))
    ]
    if not rows:
        return None
    axis = even_axis(interval.start_s, interval.end_s, reader.dress.zone)
    top, bottom = max(r[3] for r in rows), min(r[1] for r in rows)
    room = (top - bottom or 1.0) * 0.05
    y = height(top + room, bottom - room)
    step = max(600.0, 4 * interval.seconds / len(rows))
    line: list[Point | None] = []
    bands, run = [], list[tuple[float, float, float, float]]()
    for row in [*rows, (float("inf"), 0.0, 0.0, 0.0)]:
        if run and row[0] - run[-1][0] > step:
            bands.append(area([(axis.x(r[0]), y(r[3])) for r in run], [(axis.x(r[0]), y(r[1])) for r in run]))
            line += [*((axis.x(r[0]), y(r[2])) for r in run), None]
            run = []
        run.append(row)
    labels = told(channel, top, reader.dress), told(channel, bottom, reader.dress)
    nights = axis.spans(reader.snapshot.darkness) if interval.seconds <= 8 * DAY_S else ()
    return Still(axis, nights, path(line), "".join(bands), *labels, _ticks(reader, axis, interval))


def _ticks(reader: Reader, axis: Axis, interval: Interval) -> tuple[Tick, ...]:
    """Hours on a day, dates on more: five at most, so that they never touch."""
    ticks = []
    for n in range(1, 5):
        at_s = interval.start_s + interval.seconds * n / 5
        if interval.seconds <= 2 * DAY_S:
            at_s = round(at_s / 3600) * 3600
            ticks.append(Tick(axis.x(at_s), clock_time(at_s, reader.dress)))
        else:
            ticks.append(Tick(axis.x(at_s), date(at_s, reader.dress)))
    return tuple(ticks)


def _figures(reader: Reader, channel: str, series: Series) -> tuple[tuple[str, str], ...]:
    means = [float(v) for v in series.mean if known(float(v))]
    if not means:
        return ()
    lowest = min(float(v) for v in series.low if known(float(v)))
    highest = max(float(v) for v in series.high if known(float(v)))
    first, last = float(series.utc_s[0]), float(series.utc_s[-1])
    return (
        ("lowest", told(channel, lowest, reader.dress)),
        ("mean", told(channel, sum(means) / len(means), reader.dress)),
        ("highest", told(channel, highest, reader.dress)),
        ("from", _moment(first, reader)),
        ("to", _moment(last, reader)),
    )


def _moment(utc_s: float, reader: Reader) -> str:
    at = datetime.fromtimestamp(utc_s, UTC).astimezone(reader.dress.zone)
    return f"{date(utc_s, reader.dress)} {at.year}, {at:%H:%M}"
