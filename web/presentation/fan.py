"""What the bank was forecast to hold beside what it then held, and the forecast of now.

One even axis from four days back to four days ahead. Each past forecast is a pencil line that begins
where it was made; the ink runs over them. So anyone can see how far to believe the one of now.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import StorageError
from monitor.estimation.passage import redrawn
from monitor.records import Event, EventKind
from monitor.words.units import clock_time, day, known, wh
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, area, height, path, thinned
from web.presentation.ebb import MARGIN
from web.presentation.figures import Reader
from web.watch import Record

BACK_S = 4 * DAY_S
AHEAD_S = 4 * DAY_S
OF_HOUR = 19
"""Of the forecasts of a day the one nearest to this ship's hour is drawn: four a day would be a thicket."""


@dataclass(frozen=True, slots=True)
class Fan:
    axis: Axis
    nights: tuple[tuple[float, float], ...]
    days: tuple[Tick, ...]
    now_label: str
    past_line: str
    past_band: str
    ahead_line: str
    ahead_band: str
    forecasts: tuple[str, ...]
    cautious: tuple[str, ...]
    fulls: tuple[Tick, ...]
    full_y: float
    full_label: str
    reserve_y: float
    reserve_label: str
    told: str


def fan(reader: Reader, record: Record | None) -> Fan | None:
    """None without a clock, a bank or a record."""
    s = reader.snapshot
    ebb = next((e for e in s.ebbs if e.what == "energy"), None)
    if s.utc_s is None or ebb is None or record is None:
        return None
    axis = even_axis(s.utc_s - BACK_S, s.utc_s + AHEAD_S, reader.dress.zone)
    y = height(ebb.capacity * (1 + MARGIN), -ebb.capacity * MARGIN)
    during = Interval(axis.start_s, s.utc_s)
    try:
        past = [_series(record, f"house energy left{edge}", during) for edge in ("", " low", " high")]
        forecasts = _of_the_evening(record.events(EventKind.FORECAST, during), reader)
        fulls = [t for e, t, _ in record.events(EventKind.FULL, during) if t and e.subject == ebb.subject]
    except StorageError:
        return None

    def line(points: Sequence[Point]) -> list[Point]:
        inside = [(axis.x(t), y(v)) for t, v in points if known(v) and axis.start_s <= t <= axis.end_s]
        return thinned(inside)

    ahead = ebb.ahead
    upper, lower = (list(zip(ahead.utc_s, v, strict=True)) for v in (ahead.high, ahead.low))
    return Fan(
        axis=axis,
        nights=axis.spans(s.darkness),
        days=_days(axis, reader),
        now_label=clock_time(s.utc_s, reader.dress),
        past_line=path(_lifted(past[0], axis, y)),
        past_band=area(line(past[2]), line(past[1])),
        ahead_line=path(line(list(zip(ahead.utc_s, ahead.likely, strict=True)))),
        ahead_band=area(line(upper), line(lower)),
        forecasts=tuple(path(line(f[0])) for f in forecasts),
        cautious=tuple(path(line(f[1])) for f in forecasts),
        fulls=tuple(Tick(axis.x(t), day(t, reader.dress)) for t in fulls),
        full_y=y(ebb.capacity),
        full_label=reader.word("full {amount}", amount=wh(ebb.capacity, reader.dress)),
        reserve_y=y(ebb.reserve),
        reserve_label=reader.word("reserve {amount}", amount=wh(ebb.reserve, reader.dress)),
        told=reader.say("fan told", days=len(forecasts)),
    )


def _series(record: Record, channel: str, during: Interval) -> list[Point]:
    if channel not in record.channels():
        return []
    series = record.series(channel, during, points=600)
    return [(float(t), float(v)) for t, v in zip(series.utc_s, series.mean, strict=True)]


def _lifted(points: list[Point], axis: Axis, y: Any) -> list[Point | None]:
    """The ink, with the pen lifted where nothing was known for over half an hour."""
    out: list[Point | None] = []
    last_s = None
    for t, v in points:
        if last_s is not None and t - last_s > HOUR_S:
            out.append(None)
        if known(v):
            out.append((axis.x(t), y(v)))
            last_s = t
    return out


def _of_the_evening(
    events: Sequence[tuple[Event, float | None, float | None]], reader: Reader
) -> list[tuple[list[Point], list[Point]]]:
    """Likely and cautious points of one forecast a day, the oldest first."""
    best: dict[object, tuple[float, Event, float]] = {}
    for event, at_s, _ in events:
        if at_s is None or event.subject != "energy" or "course" not in event.facts:
            continue
        ship = datetime.fromtimestamp(at_s, UTC).astimezone(reader.dress.zone)
        off = abs(ship.hour + ship.minute / 60 - OF_HOUR)
        if ship.date() not in best or off < best[ship.date()][0]:
            best[ship.date()] = (off, event, at_s)
    drawn = []
    now_s = reader.snapshot.utc_s or 0.0
    for _, event, at_s in sorted(best.values(), key=lambda b: b[2]):
        course = redrawn(event.facts["course"], at_s)
        until = sum(t <= now_s for t in course.utc_s)
        times = course.utc_s[:until]
        drawn.append(
            (list(zip(times, course.likely, strict=False)), list(zip(times, course.low, strict=False)))
        )
    return drawn


def _days(axis: Axis, reader: Reader) -> tuple[Tick, ...]:
    """Each day named at its noon."""
    ticks, at_s = [], axis.start_s - axis.start_s % HOUR_S
    while at_s < axis.end_s:
        if datetime.fromtimestamp(at_s, UTC).astimezone(reader.dress.zone).hour == 12:
            x = axis.x(at_s)
            if 0.03 < x < 0.97:
                ticks.append(Tick(x, day(at_s, reader.dress)))
        at_s += HOUR_S
    return tuple(ticks)
