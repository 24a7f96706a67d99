"""Marks of ship's time on an even axis of any length, and moments told to a tenth of a second."""

from datetime import UTC, datetime, tzinfo
from math import ceil

from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.words.tongues import weekday
from monitor.words.units import clock_time, date
from web.drawing.axis import Axis, Tick
from web.presentation.figures import Reader

STEPS_S = (1, 5, 10, 30, 60, 300, 600, 1800, HOUR_S, 2 * HOUR_S, 4 * HOUR_S, 12 * HOUR_S, DAY_S)
MOST = 7
"""Marks on an axis; more would touch each other."""
ROOM = 0.03
"""Nearer to an end there is none."""


def step_s(seconds: float) -> float:
    """The shortest step that makes no more than `MOST` marks. [s]"""
    return next((s for s in STEPS_S if seconds / s <= MOST), DAY_S)


def ticks(axis: Axis, every_s: float, reader: Reader) -> tuple[Tick, ...]:
    """At whole multiples of `every_s` by the ship's clock; a midnight bears the day it begins."""
    ahead_s = shift_s(axis.start_s, reader.dress.zone)
    n = ceil((axis.start_s + ahead_s) / every_s)
    found = []
    while (at_s := n * every_s - ahead_s) < axis.end_s:
        if ROOM < axis.x(at_s) < 1 - ROOM:
            found.append(Tick(axis.x(at_s), _label(at_s, every_s, reader)))
        n += 1
    return tuple(found)


def _label(at_s: float, every_s: float, reader: Reader) -> str:
    if every_s >= DAY_S:
        return date(at_s, reader.dress)
    if every_s < MINUTE_S:
        return exact(at_s, reader)[:8]
    told = clock_time(at_s, reader.dress)
    return day_of(at_s, reader) if told == "00:00" else told


def day_of(utc_s: float, reader: Reader) -> str:
    """The day of the week by the ship's clock."""
    at = datetime.fromtimestamp(utc_s, UTC).astimezone(reader.dress.zone)
    return weekday(at, reader.dress.language)


def exact(utc_s: float, reader: Reader) -> str:
    """The ship's time to a tenth of a second."""
    tenths = round(utc_s * 10)
    at = datetime.fromtimestamp(tenths // 10, UTC).astimezone(reader.dress.zone)
    return f"{at:%H:%M:%S}.{tenths % 10}"


def shift_s(utc_s: float, zone: tzinfo) -> float:
    """How far the ship's clock is ahead of UTC. [s]"""
    offset = datetime.fromtimestamp(utc_s, UTC).astimezone(zone).utcoffset()
    return offset.total_seconds() if offset is not None else 0.0
