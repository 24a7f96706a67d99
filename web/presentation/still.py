"""The record drawn on paper, for whoever has no script and until the plot that zooms is there."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.words.tongues import month
from monitor.words.units import clock_time, date, known
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, area, height, path
from web.presentation.figures import Reader, called, told
from web.presentation.stretches import moment_of_year
from web.watch import Record, Series

ROUGH = 96
"""A rough line is made of so many hours, one out of each part of the stretch."""
MOST_GAPS = 5
LEAST_WIDTH = 0.14
"""A narrower gap has no room for its words."""


class Row(NamedTuple):
    utc_s: float
    low: float
    mean: float
    high: float


@dataclass(frozen=True, slots=True)
class Gap:
    """Where nothing was heard: left edge, width, when; `label` is empty where it has no room."""

    x: float
    width: float
    label: str
    told: str


@dataclass(frozen=True, slots=True)
class Still:
    axis: Axis
    nights: tuple[tuple[float, float], ...]
    line: str
    band: str
    also: str
    """The line of the second channel."""
    top_label: str
    bottom_label: str
    ticks: tuple[Tick, ...]
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True)
class Rough:
    """A series made of single hours (web.watch.Series)."""

    utc_s: Sequence[float]
    low: Sequence[float]
    mean: Sequence[float]
    high: Sequence[float]
    level: str = "rough"


def rough(record: Record, channel: str, during: Interval) -> Rough:
    """One hour out of the middle of each part: years in the time that a week takes."""
    part_s = during.seconds / ROUGH
    found = []
    for n in range(ROUGH):
        at_s = during.start_s + (n + 0.5) * part_s
        of = record.series(channel, Interval(at_s - HOUR_S / 2, at_s + HOUR_S / 2), points=1)
        if len(of.utc_s):
            found.append((at_s, float(of.low[0]), float(of.mean[0]), float(of.high[0])))
    utc_s, low, mean, high = ([row[i] for row in found] for i in range(4))
    return Rough(utc_s, low, mean, high)


def rows_of(series: Series) -> list[Row]:
    """What was heard."""
    columns = (series.utc_s, series.low, series.mean, series.high)
    rows = (Row(*map(float, row)) for row in zip(*columns, strict=True))
    return [row for row in rows if known(row.mean)]


def step_s(series: Series, during: Interval, points: int) -> float:
    """Points farther apart than this have a gap between them."""
    most = ROUGH if series.level == "rough" else points
    return max(600.0, 2.5 * HOUR_S if series.level == "hour" else 0.0, 2.5 * during.seconds / most)


def gaps_in(rows: Sequence[Row], apart_s: float) -> list[tuple[float, float]]:
    return [(a.utc_s, b.utc_s) for a, b in pairwise(rows) if b.utc_s - a.utc_s > apart_s]


def still(reader: Reader, during: Interval, drawn: Sequence[tuple[str, Series]], points: int) -> Still | None:
    """One channel with its band, and over it the line of a second; None where nothing was heard."""
    heard = [(channel, rows_of(s), step_s(s, during, points)) for channel, s in drawn]
    if not heard[0][1]:
        return None
    axis = even_axis(during.start_s, during.end_s, reader.dress.zone)
    both = [row for _, rows, _ in heard for row in rows]
    top, bottom = max(r.high for r in both), min(r.low for r in both)
    room = (top - bottom or 1.0) * 0.05
    y = height(top + room, bottom - room)
    line: list[Point | None] = []
    bands = []
    channel, rows, apart_s = heard[0]
    for run in _runs(rows, apart_s):
        upper, lower = (
            [(axis.x(r.utc_s), y(v)) for r, v in zip(run, edge, strict=True)] for edge in _edges(run)
        )
        bands.append(area(upper, lower))
        line += [*((axis.x(r.utc_s), y(r.mean)) for r in run), None]
    also: list[Point | None] = []
    for _, more, more_apart_s in heard[1:]:
        for run in _runs(more, more_apart_s):
            also += [*((axis.x(r.utc_s), y(r.mean)) for r in run), None]
    return Still(
        axis=axis,
        nights=axis.spans(reader.snapshot.darkness) if during.seconds <= 8 * DAY_S else (),
        line=path(line),
        band="".join(bands),
        also=path(also),
        top_label=told(channel, top, reader.dress),
        bottom_label=told(channel, bottom, reader.dress),
        ticks=_ticks(reader, axis, during),
        gaps=() if drawn[0][1].level == "rough" else tuple(_gaps(reader, axis, gaps_in(rows, apart_s))),
    )


def _runs(rows: Sequence[Row], apart_s: float) -> list[Sequence[Row]]:
    edges = [0, *(n + 1 for n, (a, b) in enumerate(pairwise(rows)) if b.utc_s - a.utc_s > apart_s), len(rows)]
    return [rows[a:b] for a, b in pairwise(edges) if b > a]


def _edges(run: Sequence[Row]) -> tuple[list[float], list[float]]:
    return [r.high for r in run], [r.low for r in run]


def _gaps(reader: Reader, axis: Axis, found: Sequence[tuple[float, float]]) -> list[Gap]:
    """The longest, in order of time."""
    longest = sorted(sorted(found, key=lambda g: g[0] - g[1])[:MOST_GAPS])
    gaps = []
    for start_s, end_s in longest:
        first, last = (moment_of_year(t, reader) for t in (start_s, end_s))
        x, width = axis.x(start_s), axis.x(end_s) - axis.x(start_s)
        said = reader.word("Nothing was heard from {first} to {last}.", first=first, last=last)
        gaps.append(Gap(x, width, reader.word("nothing heard") if width > LEAST_WIDTH else "", said))
    return gaps


def _ticks(reader: Reader, axis: Axis, during: Interval) -> tuple[Tick, ...]:
    """Hours on a day, dates on more, months on years: four at most, so that they never touch."""
    ticks = []
    for n in range(1, 5):
        at_s = during.start_s + during.seconds * n / 5
        if during.seconds <= 2 * DAY_S:
            at_s = round(at_s / HOUR_S) * HOUR_S
            label = clock_time(at_s, reader.dress)
        elif during.seconds <= 180 * DAY_S:
            label = date(at_s, reader.dress)
        else:
            at = datetime.fromtimestamp(at_s, UTC).astimezone(reader.dress.zone)
            label = f"{month(at, reader.dress.language)} {at.year}"
        ticks.append(Tick(axis.x(at_s), label))
    return tuple(ticks)


def figures(reader: Reader, channel: str, series: Series) -> tuple[tuple[str, str], ...]:
    """What can be said of it in numbers."""
    rows = rows_of(series)
    if not rows:
        return ()
    lowest, highest = min(r.low for r in rows), max(r.high for r in rows)
    mean = float(np.mean([r.mean for r in rows]))
    return (
        (reader.word("Lowest"), told(channel, lowest, reader.dress)),
        (reader.word("Mean"), told(channel, mean, reader.dress)),
        (reader.word("Highest"), told(channel, highest, reader.dress)),
        (reader.word("From"), moment_of_year(rows[0].utc_s, reader)),
        (reader.word("To"), moment_of_year(rows[-1].utc_s, reader)),
    )


def key_of(reader: Reader, channels: Sequence[str]) -> str:
    """Which line is which, where there are two."""
    if len(channels) < 2:
        return ""
    first, second = (called(channel, reader.dress) for channel in channels)
    return reader.word("Full line: {first}. Dotted: {second}.", first=first, second=second)
