"""A night's net power by the minute: what is drawn of it where no account can be given."""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import NightLedger
from monitor.words.units import known
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, area
from web.presentation.ahead import house
from web.presentation.figures import Reader
from web.watch import Record

MARGIN_S = 1800
"""The strip shows half an hour of evening and of morning, so that dusk and dawn can be seen."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Net power over the night by the minute: ink above the line is made, below it is used."""

    axis: Axis
    nights: tuple[tuple[float, float], ...]
    hours: tuple[Tick, ...]
    zero_y: float
    used_area: str
    made_area: str
    scale_label: str
    peak: Tick | None
    """The most used at once, where it reaches beyond the strip."""
    told: str


def strip(reader: Reader, n: NightLedger, record: Record | None) -> Strip | None:
    bank = house(reader)
    now_s = reader.snapshot.utc_s
    if bank is None or record is None:
        return None
    axis = even_axis(n.start_s - MARGIN_S, n.end_s + MARGIN_S, reader.dress.zone)
    until_s = axis.end_s if now_s is None else min(axis.end_s, now_s)
    try:
        points = net_power(record, bank.name, Interval(axis.start_s, until_s), bank.nominal_V)
    except StorageError:
        return None
    heard = sorted((p, t) for t, p in points if known(p))
    if not heard:
        return None
    made_W, used_W = max(0.0, heard[-1][0]), max(0.0, -heard[0][0])
    top, bottom = (
        _reach(made_W, heard[-1 - len(heard) // 20][0]),
        -_reach(used_W, -heard[len(heard) // 20][0]),
    )
    zero = top / (top - bottom)

    def area_of(kept: Callable[[float], float]) -> str:
        """One closed area for each stretch without a gap."""
        out, run = [], list[Point]()
        for t, p in [*points, (0.0, float("nan"))]:
            if known(p):
                run.append((axis.x(t), (top - min(top, max(bottom, kept(p)))) / (top - bottom)))
            elif run:
                out.append(area(run, [(run[0][0], zero), (run[-1][0], zero)]))
                run = []
        return "".join(out)

    peak = reader.word("{used:watts} at {moment:time}", used=used_W, moment=heard[0][1])
    return Strip(
        axis=axis,
        nights=axis.spans(((n.start_s, n.end_s),)),
        hours=axis.hours(every=3),
        zero_y=zero,
        used_area=area_of(lambda p: min(0.0, p)),
        made_area=area_of(lambda p: max(0.0, p)),
        scale_label=reader.word("used, down to {most:watts}", most=-bottom),
        peak=Tick(axis.x(heard[0][1]), peak) if used_W > -bottom else None,
        told=reader.word("Net power through the night; most used at once {peak}.", peak=peak),
    )


def _reach(most_W: float, usual_W: float) -> float:
    """How far a side of the strip reaches: a short peak is cut off and named rather than fitted."""
    return max(20.0, min(most_W, 2.2 * usual_W) if usual_W > 0 else most_W)


def net_power(
    record: Record, bank: str, interval: Interval, nominal_V: float, points: int = 2000
) -> list[tuple[float, float]]:
    """(utc_s, W into the bank) by the minute or coarser; NaN where nothing was heard.

    Power is mean current times mean voltage of the same stretch: within a minute the voltage moves
    by a percent or two at most, and so does the error. Without a voltage the nominal one is taken.
    """
    wanted = max(2, min(points, round(interval.seconds / 60)))
    step_s = interval.seconds / wanted
    current = record.series(f"{bank} current", interval, points=wanted)
    voltage = record.series(f"{bank} voltage", interval, points=wanted)
    by_time = dict(zip((round(t / step_s) for t in voltage.utc_s), voltage.mean, strict=True))
    out = []
    last_s = None
    for t, amps in zip(current.utc_s, current.mean, strict=True):
        if last_s is not None and t - last_s > max(600.0, 3 * step_s):
            out.append((float(last_s + 1), float("nan")))
        v = by_time.get(round(t / step_s), nominal_V)
        out.append((float(t), float(amps) * float(v if known(float(v)) else nominal_V)))
        last_s = t
    return out
