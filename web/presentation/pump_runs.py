"""The pump's runs as pages show them: each of a kind, with the rest before it, and when it was not heard."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from monitor.clock import HOUR_S, MINUTE_S, Interval
from monitor.errors import StorageError
from monitor.estimation.pump import LOST_S, RefillTime
from monitor.records import EventKind
from monitor.settings import Pump
from monitor.words.units import known
from web.watch import Record

DRAW, LONE, LONG, CUT = "draw", "lone refill", "long run", "run of unknown end"
KINDS = (DRAW, LONE, LONG, CUT)
LONG_S = 300.0
"""A run past this is a long one: most draws end before (common practice: 6 to 8 minutes at most). [s]"""
AFTER_DRAW_S = 600.0
"""A refill so soon after a draw belongs to it. [s]"""
APART_S = 180.0
"""Runs nearer than this to each other belong together. [s]"""
SAME_DRAW_S = 60.0
"""Runs nearer than this to each other are of one draw. [s]"""
BEFORE_S = 48 * HOUR_S
"""So much before a stretch is read too, to know how long a refill takes and what a run rested on. [s]"""
KEPT_S, STEADY_S = 15.0, 600.0
"""How long runs that were read answer for the same question; and how long while the pump is known not to
have started since. [s]"""


@dataclass(frozen=True, slots=True)
class Run:
    """`rest_s` is how long the pump had rested before it, None where that is not known. One draw may be
    many runs: `draw_s` is how long the pump ran for all of it, `first` the run that it began with."""

    start_s: float
    end_s: float
    litres: float | None
    kind: str
    rest_s: float | None
    draw_s: float = 0.0
    first: bool = True

    @property
    def seconds(self) -> float:
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Runs:
    """In order of time. `drawdown_L` is what one refill moves, `unheard` where nothing is known."""

    runs: tuple[Run, ...]
    refill_s: float
    drawdown_L: float
    unheard: tuple[tuple[float, float], ...] = ()

    def within(self, start_s: float, end_s: float) -> tuple[Run, ...]:
        return tuple(r for r in self.runs if r.end_s > start_s and r.start_s < end_s)


def kinds_of(
    pump: Pump, told: Sequence[tuple[float, float, float | None, bool]]
) -> tuple[RefillTime, list[Run]]:
    """Runs (start, end, litres, cut) in order of time, each of its kind.

    A lone refill lasts as long as one refill, learned from runs that stand alone, and no draw was near
    before it: the same that the leak judge looks for.
    """
    refill = RefillTime(pump)
    rests: list[float | None] = []
    stop_s: float | None = None
    for start_s, end_s, _, cut in told:
        rest_s = None if stop_s is None else max(0.0, start_s - stop_s)
        rests.append(rest_s)
        if rest_s is not None and rest_s >= AFTER_DRAW_S and not cut:
            refill.add(end_s - start_s)
        stop_s = None if cut else end_s
    room_s = 0.08 * refill.seconds + pump.timing_s
    runs, drawn_s = [], float("-inf")
    for (start_s, end_s, litres, cut), rest_s in zip(told, rests, strict=True):
        seconds = end_s - start_s
        lone = abs(seconds - refill.seconds) <= room_s and start_s - drawn_s >= AFTER_DRAW_S
        kind = CUT if cut else LONG if seconds >= LONG_S else LONE if lone else DRAW
        if kind != LONE:
            drawn_s = end_s
        runs.append(Run(start_s, end_s, litres, kind, rest_s))
    return refill, _together(_singled(runs))


def _singled(runs: list[Run]) -> list[Run]:
    """A refill that another draw follows at once was the begin of that draw."""
    found = list(runs)
    for n, (run, after) in enumerate(pairwise(runs)):
        if run.kind == LONE and after.kind in (DRAW, LONG) and after.start_s - run.end_s < APART_S:
            found[n] = replace(run, kind=DRAW)
    return found


def _together(runs: list[Run]) -> list[Run]:
    """Runs of one draw, each with how long the pump ran for all of it: while a tap is open it goes on and
    off."""
    draws: list[list[Run]] = []
    for run in runs:
        near = run.rest_s is not None and run.rest_s < SAME_DRAW_S
        if draws and near and run.kind == draws[-1][-1].kind == DRAW:
            draws[-1].append(run)
        else:
            draws.append([run])
    return [
        replace(run, draw_s=sum(r.seconds for r in draw), first=n == 0)
        for draw in draws
        for n, run in enumerate(draw)
    ]


@dataclass(frozen=True, slots=True)
class Moment:
    """When the record is asked: elapsed and wall time, and how often the pump had started by then."""

    at_s: float
    utc_s: float
    starts: float | None


class RunsKept:
    """Reads the record, and keeps what it read: every open page asks again each second."""

    KEPT = 8

    def __init__(self) -> None:
        self._kept: dict[tuple[str, float, float], tuple[Moment, Runs]] = {}

    def read(self, record: Record, pump: Pump, during: Interval, now: Moment) -> Runs | None:
        """The runs of that pump in `during`, to whole minutes around it; None where the record is mute."""
        start_s = during.start_s // MINUTE_S * MINUTE_S
        end_s = -(-during.end_s // MINUTE_S) * MINUTE_S
        key = (pump.name, start_s, end_s)
        kept = self._kept.get(key)
        if kept is not None and _stands(kept[0], now):
            return kept[1]
        try:
            runs = _read(record, pump, Interval(start_s, end_s), now.utc_s)
        except StorageError:
            return None
        self._kept.pop(key, None)
        while len(self._kept) >= self.KEPT:
            self._kept.pop(next(iter(self._kept)), None)
        self._kept[key] = (now, runs)
        return runs


def _stands(then: Moment, now: Moment) -> bool:
    rests = now.starts is not None and now.starts == then.starts
    return 0 <= now.at_s - then.at_s < (STEADY_S if rests else KEPT_S)


def _read(record: Record, pump: Pump, during: Interval, now_s: float) -> Runs:
    wider = Interval(during.start_s - BEFORE_S, during.end_s)
    told = sorted(
        (start_s, end_s, _litres(event.facts.get("litres")), bool(event.facts.get("cut")))
        for event, start_s, end_s in record.events(EventKind.PUMP_RUN, wider)
        if event.subject == pump.name and start_s is not None and end_s is not None and end_s > start_s
    )
    refill, runs = kinds_of(pump, told)
    inside = tuple(r for r in runs if r.end_s > during.start_s and r.start_s < during.end_s)
    unheard: tuple[tuple[float, float], ...] = ()
    if during.start_s < now_s:
        unheard = _unheard(record, pump, Interval(during.start_s, min(during.end_s, now_s)))
    return Runs(inside, refill.seconds, refill.seconds * _flow_L_per_s(runs, pump), unheard)


def _litres(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and known(value) else None


def _flow_L_per_s(runs: Sequence[Run], pump: Pump) -> float:
    """What the record says a second of running moves; the settings where it says nothing."""
    newest = [r for r in runs if r.litres][-50:]
    seconds = sum(r.seconds for r in newest)
    litres = sum(r.litres or 0.0 for r in newest)
    return litres / seconds if seconds > 0 and litres > 0 else pump.flow_L_per_min / 60.0


def _unheard(record: Record, pump: Pump, during: Interval) -> tuple[tuple[float, float], ...]:
    """Stretches of more than `LOST_S` without the pump's signal."""
    channel = f"{pump.name} running"
    if channel not in record.channels():
        return ()
    points = max(2, min(1440, int(during.seconds // LOST_S)))
    series = record.series(channel, during, points=points)
    heard = [float(t) for t, v in zip(series.utc_s, series.mean, strict=True) if v == v]
    step_s = max(2 * during.seconds / points, 2 * LOST_S)
    edges = [during.start_s, *heard, during.end_s]
    return tuple((a, b) for a, b in pairwise(edges) if b - a > step_s)
