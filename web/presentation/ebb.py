"""The two ebbing curves on the one axis, and the almanac of coming days under them."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from monitor.records import Course, Ebb, Estimate
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import HORIZON_DAYS, clock_time, day, known, litres, moment, pct, wh
from web.drawing.axis import Axis, Tick, ahead_axis
from web.drawing.lines import Point, area, at, height, path, thinned
from web.presentation.figures import Reader

MARGIN = 0.05
"""The drawing reaches a little above full and below empty, so that neither line is on its edge."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Where the reserve is met: on the cautious or on the likely course."""

    x: float
    label: str
    kind: str
    leftward: bool


@dataclass(frozen=True, slots=True)
class Curve:
    what: str
    title: str
    past_line: str
    past_band: str
    ahead_line: str
    ahead_band: str
    full_y: float
    full_label: str
    reserve_y: float
    reserve_label: str
    reserve_low: bool
    """So near to the edge that its label must stand above it."""
    now_y: float | None
    now_label: str
    marks: tuple[Mark, ...]
    told: str
    """The drawing in words, for those who cannot see it."""


@dataclass(frozen=True, slots=True)
class Chart:
    axis: Axis
    nights: tuple[tuple[float, float], ...]
    hours: tuple[Tick, ...]
    midnights: tuple[Tick, ...]
    days: tuple[Tick, ...]
    now_label: str
    noon_label: str
    curves: tuple[Curve, ...]


@dataclass(frozen=True, slots=True)
class DayRow:
    """A line of the almanac: a dawn to come. Of each amount the cautious and the likely, and whether that
    is at the reserve or under it."""

    day: str
    dawn: str
    dusk: str
    cells: tuple[tuple[tuple[str, bool], ...], ...]


def days_estimate(reader: Reader, ebb: Ebb) -> Estimate | None:
    """The estimate that says when this amount meets its reserve."""
    name = "energy_days" if ebb.what == "energy" else "water_days"
    found = reader.estimate(name, ebb.subject)
    if found is None and ebb.what == "water":
        found = next((e for (n, _), e in reader.snapshot.estimates.items() if n == name), None)
    return found


def whole_hour(utc_s: float) -> float:
    """The hour begun: a forecast told to the minute would claim too much."""
    return utc_s // HOUR_S * HOUR_S


def amount(ebb: Ebb, value: float, reader: Reader) -> str:
    return wh(value, reader.dress) if ebb.what == "energy" else litres(value, reader.dress)


def chart(reader: Reader) -> Chart | None:
    """None while no clock is known: an axis of time needs one."""
    s = reader.snapshot
    if s.utc_s is None or not s.ebbs:
        return None
    axis = ahead_axis(s.utc_s, reader.dress.zone)
    return Chart(
        axis=axis,
        nights=axis.spans(s.darkness),
        hours=axis.hours(),
        midnights=axis.midnights(),
        days=axis.days(reader.dress.language),
        now_label=clock_time(s.utc_s, reader.dress),
        noon_label=reader.word("noon {day}", day=day(axis.seam_s, reader.dress)),
        curves=tuple(_curve(reader, ebb, axis) for ebb in s.ebbs),
    )


def _placed(course: Course, axis: Axis) -> tuple[Any, Any]:
    """Where each of its moments is drawn, and which of them lie on the axis."""
    utc_s = np.array(course.utc_s, float)
    return np.interp(utc_s, axis.edges_s, axis.edges_x), (utc_s >= axis.start_s) & (utc_s <= axis.end_s)


def _curve(reader: Reader, ebb: Ebb, axis: Axis) -> Curve:
    top, bottom = ebb.capacity * (1 + MARGIN), -ebb.capacity * MARGIN
    y = height(top, bottom)
    past, ahead = ebb.past, ebb.ahead
    places = {id(course): _placed(course, axis) for course in (past, ahead)}

    def line(course: Course, values: tuple[float, ...]) -> list[Point]:
        x, inside = places[id(course)]
        at_y = np.clip((top - np.array(values, float)) / (top - bottom), 0.0, 1.0)
        shown = inside & np.isfinite(at_y)
        return thinned(list(zip(x[shown].tolist(), at_y[shown].tolist(), strict=True)))

    here = at(past, past.utc_s[-1]) if past.utc_s else at(ahead, ahead.utc_s[0]) if ahead.utc_s else None
    now = here[1] if here and known(here[1]) else None
    marks = _marks(reader, ebb, axis)
    title = reader.word("Fresh water")
    if ebb.what == "energy":
        title = reader.word("{name} bank", name=named(ebb.subject))
    return Curve(
        what=ebb.what,
        title=title,
        past_line=path(line(past, past.likely)),
        past_band=area(line(past, past.high), line(past, past.low)),
        ahead_line=path(line(ahead, ahead.likely)),
        ahead_band=area(line(ahead, ahead.high), line(ahead, ahead.low)),
        full_y=y(ebb.capacity),
        full_label=reader.word("full {amount}", amount=amount(ebb, ebb.capacity, reader)),
        reserve_y=y(ebb.reserve),
        reserve_label=reader.word("reserve {amount}", amount=amount(ebb, ebb.reserve, reader)),
        reserve_low=y(ebb.reserve) > 0.8,
        now_y=y(now) if now is not None else None,
        now_label=amount(ebb, now, reader) if now is not None else "",
        marks=marks,
        told=_told(reader, ebb, title, now, marks),
    )


AT_RESERVE = {
    "cautious": N_("{before}; cautious: at the reserve {moment}"),
    "likely": N_("{before}; likely: at the reserve {moment}"),
}


def _told(reader: Reader, ebb: Ebb, title: str, now: float | None, marks: tuple[Mark, ...]) -> str:
    text = N_("{title}: now unknown") if now is None else N_("{title}: now {amount}")
    told = reader.word(text, title=title, amount="" if now is None else amount(ebb, now, reader))
    for mark in marks:
        told = reader.word(AT_RESERVE[mark.kind], before=told, moment=mark.label)
    return told


def _marks(reader: Reader, ebb: Ebb, axis: Axis) -> tuple[Mark, ...]:
    e = days_estimate(reader, ebb)
    now_s = reader.snapshot.utc_s
    if e is None or now_s is None:
        return ()
    ends = (("cautious", e.low, False), ("likely", e.value, e.beyond))
    found = []
    for kind, in_days, beyond in ends:
        if in_days is None or not known(in_days) or beyond or in_days >= HORIZON_DAYS:
            continue
        at_s = whole_hour(now_s + in_days * DAY_S)
        x = axis.x(at_s)
        found.append(Mark(x, moment(at_s, now_s, reader.dress), kind, leftward=x > 0.8 or kind == "cautious"))
    return tuple(found)


def coming_days(reader: Reader) -> tuple[DayRow, ...]:
    """One row for each dawn within ten days, as an almanac has it."""
    s = reader.snapshot
    now_s = s.utc_s
    if now_s is None:
        return ()
    rows = []
    for dusk_s, dawn_s in s.darkness:
        if now_s < dawn_s < now_s + 10 * DAY_S:
            cells = tuple(_cell(reader, ebb, dawn_s) for ebb in s.ebbs)
            dawn, dusk = (clock_time(t, reader.dress) for t in (dawn_s, dusk_s))
            rows.append(DayRow(day(dawn_s, reader.dress), dawn, dusk, cells))
    return tuple(rows)


def _cell(reader: Reader, ebb: Ebb, at_s: float) -> tuple[tuple[str, bool], ...]:
    there = at(ebb.ahead, at_s)
    if there is None or not (known(there[0]) and known(there[1])):
        return ("", False), ("", False)
    if ebb.what == "energy":
        told = [pct(100 * v / ebb.capacity, reader.dress) for v in there[:2]]
    else:
        told = [litres(v, reader.dress) for v in there[:2]]
    return tuple((text, v <= ebb.reserve) for text, v in zip(told, there[:2], strict=True))
