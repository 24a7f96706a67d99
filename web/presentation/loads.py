"""The loads that were learned, what the crew calls them, and what each looks like in the current."""

from collections import Counter
from dataclasses import dataclass

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.estimation.ledger import SURE_NAME
from monitor.records import LoadKind
from monitor.words.tongues import N_
from monitor.words.units import amps, clock, count, known, pct, unknown, watts
from web.drawing.axis import Tick, even_axis
from web.drawing.lines import Point, path
from web.presentation.ahead import house
from web.presentation.figures import Reader
from web.presentation.night_ledger import load_href
from web.presentation.ship_ticks import step_s, ticks
from web.watch import Record

LONGEST_NAME = 40
RUNS_DRAWN = 3
LEAST_MARGIN_S = 45.0
POINTS = 400
SPARED = 0.03
"""Of the readings at either end: what was switched beside the load does not make it small."""
OFTEN = {
    "cycles": (N_("fridge"), N_("freezer"), N_("heater"), N_("dehumidifier")),
    "pulses": (N_("water pump"), N_("bilge pump"), N_("toilet"), N_("fan")),
    "varies": (N_("computer"), N_("heating"), N_("autopilot")),
    "runs": (N_("cabin lamps"), N_("anchor light"), N_("computer"), N_("heating"), N_("inverter")),
}
"""What such loads often are aboard (common practice)."""


@dataclass(frozen=True, slots=True)
class LoadRow:
    id: str
    href: str
    name: str
    prefilled: str
    suggested: bool
    watts: str
    runs: str
    nights: str
    sure: str
    seen: str
    unsure: bool
    together: str


@dataclass(frozen=True, slots=True)
class Loads:
    first: str
    rows: tuple[LoadRow, ...]
    longest: int = LONGEST_NAME
    unsure: str = ""


@dataclass(frozen=True, slots=True)
class RunPlot:
    """One run in the current: `shade` is left edge and width of the run itself."""

    told: str
    line: str
    shade: tuple[float, float]
    ticks: tuple[Tick, ...]
    top: str
    bottom: str


@dataclass(frozen=True, slots=True)
class LoadView:
    first: str
    more: tuple[str, ...]
    row: LoadRow
    suggestions: tuple[str, ...]
    plots: tuple[RunPlot, ...]
    no_plots: str
    drawn: str
    longest: int = LONGEST_NAME


def loads(reader: Reader) -> Loads:
    """Every load that was learned, the heaviest first."""
    kinds = sorted(reader.snapshot.loads, key=lambda k: -k.watts)
    unnamed = sum(not k.name for k in kinds)
    first = reader.say("loads: none")
    if len(kinds) == 1:
        first = reader.say(
            "loads: one", name="" if unnamed else reader.word(", the {name}", name=kinds[0].name)
        )
    elif kinds:
        id = {0: "loads: all named", 1: "loads: some, one unnamed"}.get(unnamed, "loads: some")
        first = reader.say(id, loads=len(kinds), unnamed=unnamed)
    rows = tuple(_row(reader, k) for k in kinds)
    return Loads(first, rows, unsure=reader.say("load: unsure") if any(r.unsure for r in rows) else "")


def load(reader: Reader, record: Record | None, id: str) -> LoadView | None:
    """One load, its last runs, and what it may be called; None where no such load is known."""
    kind = next((k for k in reader.snapshot.loads if k.id == id), None)
    if kind is None:
        return None
    how = reader.say(f"load: {kind.how}", on=kind.on_s)
    first = reader.say(
        "load: named" if kind.name else "load: what", name=kind.name, watts=kind.watts, how=how
    )
    plots = _plots(reader, record, _last_runs(reader, kind))
    offered = dict.fromkeys((kind.suggestion, *OFTEN.get(kind.how, ())))
    return LoadView(
        first=first,
        more=tuple(_more(reader, kind)),
        row=_row(reader, kind),
        suggestions=tuple(said for name in offered if name and (said := reader.word(name)) != kind.name),
        plots=plots,
        no_plots="" if plots else reader.say("load: no runs" if record else "no record"),
        drawn=reader.say("load: drawn"),
    )


def _more(reader: Reader, k: LoadKind) -> list[str]:
    said = [reader.say("load: seen", runs=k.runs, nights=k.nights, seen=k.seen_s, sure=100 * k.confidence)]
    if abs(k.start_W - k.watts) > 0.15 * k.watts:
        said.append(reader.say("load: surge", start=k.start_W, watts=k.watts))
    if k.suggestion and not k.name:
        said.append(reader.say("load: suggestion", suggestion=k.suggestion))
    if k.confidence < SURE_NAME:
        said.append(reader.say("load: try it"))
    return said


def _row(reader: Reader, k: LoadKind) -> LoadRow:
    shared = Counter(other.name for other in reader.snapshot.loads if other.name)[k.name]
    together = reader.say("load: together", count=shared, name=k.name) if k.name and shared > 1 else ""
    return LoadRow(
        id=k.id,
        href=load_href(k.id),
        name=k.name,
        prefilled=k.name or reader.word(k.suggestion),
        suggested=not k.name and bool(k.suggestion),
        watts=watts(k.watts, reader.dress),
        runs=reader.say(f"load: {k.how}", on=k.on_s),
        nights=count(k.nights, reader.dress),
        sure=pct(100 * k.confidence, reader.dress),
        seen=clock(k.seen_s, reader.dress) if known(k.seen_s) else unknown(reader.dress),
        unsure=k.confidence < SURE_NAME,
        together=together,
    )


def _last_runs(reader: Reader, k: LoadKind) -> list[tuple[float, float]]:
    """The newest first, from the nights' ledgers; of a name that two loads bear, only its own share."""
    runs = [
        run for night in reader.snapshot.nights for share in night.by if share.load == k.id
        for run in share.runs or ()
    ]  # fmt: skip
    return sorted(set(runs), reverse=True)[:RUNS_DRAWN]


def _plots(
    reader: Reader, record: Record | None, runs: list[tuple[float, float]]
) -> tuple[RunPlot, ...]:  # fmt: skip
    bank = house(reader)
    if record is None or bank is None:
        return ()
    found = (_plot(reader, record, f"{bank.name} current", *run) for run in runs)
    return tuple(plot for plot in found if plot is not None)


def _plot(reader: Reader, record: Record, channel: str, begin_s: float, end_s: float) -> RunPlot | None:
    """What the bank gave, upwards, around one run."""
    margin_s = max(LEAST_MARGIN_S, 0.4 * (end_s - begin_s))
    during = Interval(begin_s - margin_s, end_s + margin_s)
    try:
        series = record.series(channel, during, points=POINTS)
    except StorageError:
        return None
    given = [(float(t), -float(a)) for t, a in zip(series.utc_s, series.mean, strict=True)]
    heard = sorted(a for _, a in given if known(a))
    if not heard:
        return None
    low, high = heard[int(SPARED * len(heard))], heard[-1 - int(SPARED * len(heard))]
    edge = max(0.5, 0.08 * (high - low))
    low, high = low - edge, high + edge
    axis = even_axis(during.start_s, during.end_s, reader.dress.zone)
    points: list[Point | None] = [
        (axis.x(t), min(1.0, max(0.0, (high - a) / (high - low)))) if known(a) else None for t, a in given
    ]  # fmt: skip
    return RunPlot(
        told=reader.say("load: run", begin=begin_s, length=end_s - begin_s),
        line=path(points),
        shade=(axis.x(begin_s), axis.x(end_s) - axis.x(begin_s)),
        ticks=ticks(axis, step_s(during.seconds * 1.8), reader),
        top=amps(high, reader.dress),
        bottom=amps(low, reader.dress),
    )
