"""The pump's strip: every run of a stretch of time at its own time, like a barcode of the day.

Draws stand on the line, the taller the more they took; lone refills, which a leak is known by, hang
below it as rings; long runs reach over the whole height. It is looked into by links alone.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import log

from monitor.clock import HOUR_S
from monitor.settings import Pump
from monitor.words.tongues import translated_count
from monitor.words.units import GAP, fixed, litres, span, unknown
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import path
from web.presentation.figures import Reader
from web.presentation.pump_runs import CUT, DRAW, LONE, LONG, Run, Runs
from web.presentation.ship_ticks import exact, step_s, ticks
from web.presentation.strip_looks import SHORTEST_S, Look, Part, Window, href, looks, parts, when

LISTED = 10
"""So many runs are listed one by one."""
LINE_Y = 0.7
"""Where the line is drawn that draws stand on and lone refills hang from."""
FINEST = 1 / 900
"""Marks of one kind nearer than this to each other are drawn once."""


@dataclass(frozen=True, slots=True)
class Label:
    """Length and litres beside a run."""

    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class RunRow:
    start: str
    length: str
    litres: str
    kind: str
    rest: str
    href: str


@dataclass(frozen=True, slots=True)
class Barcode:
    title: str
    when: str
    start_s: float
    end_s: float
    nights: tuple[tuple[float, float], ...]
    unheard: tuple[tuple[float, float], ...]
    ticks: tuple[Tick, ...]
    line_y: float
    draws: str
    longs: str
    cuts: tuple[float, ...]
    lone: tuple[float, ...]
    labels: tuple[Label, ...]
    now_x: float | None
    parts: tuple[Part, ...]
    looks: tuple[Look, ...]
    asked: bool
    """Somebody looks into it: then the runs are wanted one by one."""
    rows: tuple[RunRow, ...]
    told: str
    refill: str


def barcode(reader: Reader, pump: Pump, shown: Window, runs: Runs, default: bool) -> Barcode:
    """The strip of one pump over that stretch."""
    now_s = reader.snapshot.utc_s or shown.end_s
    axis = even_axis(shown.start_s, shown.end_s, reader.dress.zone)
    seen = runs.within(shown.start_s, shown.end_s)
    rise = _rise(runs.refill_s)
    return Barcode(
        title=pump.name,
        when=when(shown, reader),
        start_s=shown.start_s,
        end_s=shown.end_s,
        nights=axis.spans(reader.snapshot.darkness),
        unheard=axis.spans(runs.unheard),
        ticks=ticks(axis, step_s(shown.seconds), reader),
        line_y=LINE_Y,
        draws=_blocks(axis, (r for r in seen if r.kind == DRAW), rise),
        longs=_blocks(axis, (r for r in seen if r.kind == LONG), lambda r: 0.06),
        cuts=_apart(axis.x(r.start_s) for r in seen if r.kind == CUT),
        lone=_apart((axis.x((r.start_s + r.end_s) / 2) for r in seen if r.kind == LONE), 6 * FINEST),
        labels=_labels(axis, seen, shown, reader),
        now_x=axis.x(now_s) if shown.start_s < now_s < shown.end_s else None,
        parts=parts(shown, reader),
        looks=looks(shown, default, now_s),
        asked=not default,
        rows=tuple(_row(r, shown, reader) for r in seen) if len(seen) <= LISTED else (),
        told=_told(seen, reader),
        refill=reader.say(
            "one refill", seconds=fixed(runs.refill_s, 1, reader.dress), litres=runs.drawdown_L
        ),
    )


def _rise(refill_s: float) -> Callable[[Run], float]:
    """The taller the longer the pump ran for that draw, by the logarithm: from a refill to five minutes."""
    low, high = log(max(refill_s, 0.5)), log(300.0)

    def top(run: Run) -> float:
        share = (log(max(run.draw_s, 0.1)) - low) / (high - low)
        return LINE_Y - 0.56 * min(1.0, max(0.16, share))

    return top


def _blocks(axis: Axis, runs: Iterable[Run], top: Callable[[Run], float]) -> str:
    """Upright blocks on the line as one path; a pen of constant width keeps the narrow ones visible. Of
    those too near to be told apart the tallest stands."""
    kept: list[tuple[float, float, float]] = []
    for run in runs:
        block = (axis.x(run.start_s), axis.x(run.end_s), top(run))
        if kept and block[1] - kept[-1][1] < FINEST:
            kept[-1] = min(kept[-1], block, key=lambda b: b[2])
        else:
            kept.append(block)
    return "".join(path([(x0, LINE_Y), (x0, y), (x1, y), (x1, LINE_Y)]) + "Z" for x0, x1, y in kept)


def _apart(xs: Iterable[float], apart: float = FINEST) -> tuple[float, ...]:
    kept: list[float] = []
    for x in xs:
        if not kept or x - kept[-1] >= apart:
            kept.append(x)
    return tuple(kept)


def _labels(axis: Axis, seen: Sequence[Run], shown: Window, reader: Reader) -> tuple[Label, ...]:
    """Long runs, and the only few of a short stretch, bear their length and litres where there is room."""
    few = len(seen) <= 4 and shown.seconds <= 2 * HOUR_S
    found: list[Label] = []
    for run in seen:
        x = axis.x(max(shown.start_s, run.start_s))
        if (run.kind == LONG or few) and (not found or x - found[-1].x > 0.3):
            y = 0.93 if run.kind == LONE else 0.18
            found.append(Label(x, y, f"{length(run, reader)}, {_litres(run, reader)}"))
    return tuple(found)


def length(run: Run, reader: Reader) -> str:
    """Tenths of a second below a minute."""
    if run.seconds < 59.95:
        return fixed(run.seconds, 1, reader.dress) + GAP + "s"
    return span(run.seconds, reader.dress)


def _litres(run: Run, reader: Reader) -> str:
    if run.litres is None:
        return unknown(reader.dress)
    if run.litres * reader.dress.volume.per < 0.95:
        volume = reader.dress.volume
        return fixed(run.litres * volume.per, 2, reader.dress) + GAP + volume.symbol
    return litres(run.litres, reader.dress)


def _row(run: Run, shown: Window, reader: Reader) -> RunRow:
    alone = Window(run.start_s, run.end_s).scaled(max(3.0, SHORTEST_S / max(run.seconds, 0.1)))
    kind = reader.say(f"kind: {run.kind}")
    rest = "" if run.rest_s is None else reader.say("rested before", rest=run.rest_s)
    return RunRow(
        exact(run.start_s, reader), length(run, reader), _litres(run, reader), kind, rest, href(alone)
    )


def _told(seen: Sequence[Run], reader: Reader) -> str:
    if not seen:
        return reader.say("strip empty")
    begun = [r for n, r in enumerate(seen) if r.first or n == 0]
    counts = {kind: sum(r.kind == kind for r in begun) for kind in (DRAW, LONE, LONG, CUT)}
    said = [_many(kind, n, reader.dress.language) for kind, n in counts.items() if n]
    return reader.say("strip told", kinds=", ".join(said), litres=sum(r.litres or 0.0 for r in seen))


def _many(kind: str, n: int, language: str) -> str:
    if kind == DRAW:
        told = translated_count("{n} draw", "{n} draws", n, language)
    elif kind == LONE:
        told = translated_count("{n} lone refill", "{n} lone refills", n, language)
    elif kind == LONG:
        told = translated_count("{n} long run", "{n} long runs", n, language)
    else:
        told = translated_count("{n} run of unknown end", "{n} runs of unknown end", n, language)
    return told.format(n=n)
