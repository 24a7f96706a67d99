"""The evidence of the leak judge: how long the pump had rested before each start, against what a leak allows.

From a full accumulator a leak of q starts the pump within drawdown / q. So lone refills of a leak crowd
in a band, and one rest beyond it refutes that leak.
"""

from dataclasses import dataclass
from math import log

from monitor.clock import DAY_S, HOUR_S
from monitor.records import WaterVerdict
from monitor.words.units import date, fixed, rate, span
from web.drawing.axis import Tick, even_axis
from web.presentation.figures import Reader
from web.presentation.pump_runs import LONE, Run, Runs
from web.presentation.ship_ticks import ticks

BACK_S = 2 * DAY_S
SHORTEST_S, LONGEST_S = 120.0, 24 * HOUR_S
"""The rests that are drawn: at the lower and the upper edge."""
SCALE_S = (300.0, 1800.0, 2 * HOUR_S, 8 * HOUR_S)
MOST = 240
"""So many marks of one form, the newest; more would be a smear."""


@dataclass(frozen=True, slots=True)
class Dot:
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Level:
    """A rule of the drawing: a rest, and the leak that would make it."""

    y: float
    rest: str
    leak: str


@dataclass(frozen=True, slots=True)
class Band:
    """The rests that a leak of the judged rate would make; `y` is where its likely one lies."""

    top: float
    bottom: float
    y: float
    label: str


@dataclass(frozen=True, slots=True)
class RestPlot:
    nights: tuple[tuple[float, float], ...]
    days: tuple[Tick, ...]
    levels: tuple[Level, ...]
    lone: tuple[Dot, ...]
    ended: tuple[Dot, ...]
    """Rests that a draw ended: they would have gone on."""
    band: Band | None
    told: str


def rest_plot(reader: Reader, runs: Runs, verdict: WaterVerdict | None) -> RestPlot | None:
    """None without a clock or without a single rest."""
    now_s = reader.snapshot.utc_s
    if now_s is None:
        return None
    axis = even_axis(now_s - BACK_S, now_s, reader.dress.zone)
    rested = [r for r in runs.within(axis.start_s, now_s) if r.rest_s is not None and r.rest_s >= SHORTEST_S]
    if not rested:
        return None
    lone = [r for r in rested if r.kind == LONE][-MOST:]
    ended = [r for r in rested if r.kind != LONE][-MOST:]

    def dot(run: Run) -> Dot:
        return Dot(axis.x(run.start_s), _y(run.rest_s or 0.0))

    band = _band(reader, runs.drawdown_L, verdict)
    return RestPlot(
        nights=axis.spans(reader.snapshot.darkness),
        days=ticks(axis, 12 * HOUR_S, reader),
        levels=tuple(_level(s, runs.drawdown_L, reader) for s in SCALE_S),
        lone=tuple(dot(r) for r in lone),
        ended=tuple(dot(r) for r in ended),
        band=band,
        told=_told(reader, lone, ended, band, runs),
    )


def _y(rest_s: float) -> float:
    """Long rests on top, by the logarithm."""
    share = log(max(rest_s, 1.0) / SHORTEST_S) / log(LONGEST_S / SHORTEST_S)
    return 1.0 - min(1.0, max(0.0, share))


def _level(rest_s: float, drawdown_L: float, reader: Reader) -> Level:
    leak = rate(drawdown_L / (rest_s / HOUR_S), reader.dress)
    return Level(_y(rest_s), span(rest_s, reader.dress), leak)


def _band(reader: Reader, drawdown_L: float, v: WaterVerdict | None) -> Band | None:
    if v is None or not v.L_per_h or not v.low_L_per_h or not v.high_L_per_h:
        return None
    top, y, bottom = (
        _y(HOUR_S * drawdown_L / q) for q in (v.low_L_per_h, v.L_per_h, v.high_L_per_h)
    )  # fmt: skip
    return Band(top, max(bottom, top + 0.01), y, rate(v.L_per_h, reader.dress))


def _told(reader: Reader, lone: list[Run], ended: list[Run], band: Band | None, runs: Runs) -> str:
    inside = [r for r in lone if band is not None and band.top <= _y(r.rest_s or 0.0) <= band.bottom]
    volume = reader.dress.volume
    id = "rests drawn" if band is None else "rests drawn with band"
    return reader.say(
        id,
        lone=len(lone),
        ended=len(ended),
        inside=len(inside),
        leak=band.label if band else "",
        drawdown=f"{fixed(runs.drawdown_L * volume.per, 2, reader.dress)} {volume.symbol}",
        since=date(reader.snapshot.utc_s - BACK_S, reader.dress) if reader.snapshot.utc_s else "",
    )
