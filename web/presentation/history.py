"""One channel over a stretch of the record, or two of one unit: for the plot that zooms and the still one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from monitor.channels import QUANTITIES
from monitor.clock import DAY_S, Interval
from monitor.words.units import known
from web.presentation.figures import Reader, called, quantity_of
from web.presentation.spans import SpanError
from web.presentation.still import Still, figures, gaps_in, key_of, rough, rows_of, step_s, still
from web.presentation.stretches import LONG_S, SPANS, Asked, Stretch, stretch
from web.watch import Record, Series

POINTS = 2000
STILL_POINTS = 600


def points_of(during: Interval) -> int:
    """Of a long stretch one a day: swings from day to night would make a line a block of ink."""
    return POINTS if during.seconds <= LONG_S else min(POINTS, round(during.seconds / DAY_S))


Whole = Callable[[str, Interval], Series | None]
"""A long stretch as the worker has read it; None while it has not."""


@dataclass(frozen=True, slots=True)
class Table:
    channel: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """What the plot that zooms goes by: the record's own units times `per` plus `offset` are the reader's."""

    urls: tuple[str, ...]
    names: tuple[str, ...]
    unit: str
    per: float
    offset: float
    zone: str
    long: bool


@dataclass(frozen=True, slots=True)
class History:
    channels: tuple[tuple[str, str], ...]
    """Each as the record and as the reader calls it."""
    asked: Asked
    also: tuple[tuple[str, str], ...]
    """Those that can be laid over it."""
    spans: tuple[str, ...]
    title: str
    note: str
    stretch: Stretch | None = None
    still: Still | None = None
    key: str = ""
    rough: bool = False
    """The still drawing is made of single hours; the worker reads the whole."""
    whole_href: str = ""
    tables: tuple[Table, ...] = ()
    plot: Plot | None = None


def asked_for(reader: Reader, record: Record | None, asked: Asked) -> tuple[Asked, Stretch | None, str]:
    """What is to be drawn, where there is anything, and what there is to be said instead."""
    names = tuple(sorted(record.channels())) if record else ()
    channel = asked.channel or _first(reader, names)
    asked = Asked(channel, asked.also, asked.span, asked.until, asked.day, asked.whole)
    if record is None:
        return asked, None, reader.say("no record")
    if reader.snapshot.utc_s is None:
        return asked, None, reader.say("clock not known")
    if channel not in names or (asked.also and asked.also not in names):
        return asked, None, reader.say("no channel")
    if asked.also and unit_of(asked.also) != unit_of(channel):
        return asked, None, reader.word("Only channels of one unit can be laid over each other.")
    try:
        return asked, stretch(reader, record, asked), ""
    except SpanError as error:
        return asked, None, str(error)


def history(
    reader: Reader, record: Record | None, asked: Asked, found: Stretch | None, note: str, whole: Whole
) -> History:
    """The page; `asked`, `found` and `note` as `asked_for` has answered. Raises StorageError."""
    names = tuple(sorted(record.channels())) if record else ()
    dress = reader.dress
    page = History(
        channels=tuple((name, called(name, dress)) for name in names),
        asked=asked,
        also=tuple((name, called(name, dress)) for name in names if _over(asked.channel, name)),
        spans=tuple(SPANS),
        title=called(asked.channel, dress) if found is None else found.title,
        note=note,
    )
    if record is None or found is None:
        return page
    channels = [c for c in (asked.channel, asked.also) if c]
    drawn = [(c, _series(record, c, found, whole)) for c in channels]
    is_rough = any(s.level == "rough" for _, s in drawn)
    points = points_of(found.during) if found.long else STILL_POINTS
    return History(
        page.channels, asked, page.also, page.spans, page.title, page.note, found,
        still=still(reader, found.during, drawn, points),
        key=key_of(reader, channels),
        rough=is_rough,
        whole_href=_whole_href(asked) if is_rough else "",
        tables=() if is_rough else tuple(Table(called(c, dress), figures(reader, c, s)) for c, s in drawn),
        plot=_plot(reader, found, channels),
    )  # fmt: skip


def _series(record: Record, channel: str, found: Stretch, whole: Whole) -> Series:
    if not found.long:
        return record.series(channel, found.during, points=STILL_POINTS)
    return whole(channel, found.during) or rough(record, channel, found.during)


def _first(reader: Reader, channels: Sequence[str]) -> str:
    """What is drawn unasked: the charge of the first bank, or its voltage, or whatever there is."""
    banks = [b.name for b in sorted(reader.settings.banks, key=lambda b: b.role != "house")]
    wished = [f"{bank} {quantity}" for bank in banks[:1] for quantity in ("charge", "voltage")]
    return next((c for c in (*wished, *channels) if c in channels), "")


def unit_of(channel: str) -> str:
    quantity = QUANTITIES.get(quantity_of(channel))
    return quantity.unit if quantity else ""


def _over(channel: str, other: str) -> bool:
    return other != channel and bool(unit_of(channel)) and unit_of(other) == unit_of(channel)


def _whole_href(asked: Asked) -> str:
    fields = {"channel": asked.channel, "also": asked.also, "span": asked.span, "until": asked.until,
              "day": asked.day, "whole": "true"}  # fmt: skip
    return "/history?" + urlencode({name: value for name, value in fields.items() if value})


def _plot(reader: Reader, found: Stretch, channels: Sequence[str]) -> Plot:
    dress = reader.dress
    unit = unit_of(channels[0])
    shown = {"L": dress.volume, "bar": dress.pressure, "°C": dress.temperature}.get(unit)
    symbol, per, offset = (unit, 1.0, 0.0) if shown is None else shown
    if unit == "L/h":
        symbol, per = f"{dress.volume.symbol}/h", dress.volume.per
    during = {"from": f"{found.during.start_s:.0f}", "to": f"{found.during.end_s:.0f}"}
    urls = tuple("/history/data?" + urlencode(during | {"channel": c}) for c in channels)
    names = tuple(called(c, dress) for c in channels)
    return Plot(urls, names, symbol, per, offset, reader.settings.boat.time_zone, found.long)


def as_json(channel: str, series: Series, during: Interval) -> dict[str, Any]:
    """Parallel lists, null where nothing was heard, a row of it in each gap; times are UTC seconds."""
    quantity = QUANTITIES.get(quantity_of(channel))
    columns = (series.utc_s, series.low, series.mean, series.high)
    rows = [[float(v) if known(float(v)) else None for v in row] for row in zip(*columns, strict=True)]
    silent = gaps_in(rows_of(series), step_s(series, during, points_of(during)))
    rows += [[(a + b) / 2, None, None, None] for a, b in silent]
    rows.sort(key=lambda row: row[0] or 0.0)
    lists = {name: [row[i] for row in rows] for i, name in enumerate(("utc_s", "low", "mean", "high"))}
    return {"channel": channel, "unit": quantity.unit if quantity else "", "level": series.level, **lists}
