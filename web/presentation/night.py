"""Last night explained, and every night in the ledger by its date."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import NightLedger
from monitor.words.units import UNKNOWN, clock_time, known, litres, pct, span, volts, watts, wh
from monitor.words.units import date as told_date
from web.drawing.axis import Axis, Tick, even_axis
from web.drawing.lines import Point, area
from web.presentation.ahead import house
from web.presentation.figures import Reader
from web.watch import Record

MARGIN_S = 1800
"""The strip shows half an hour of evening and of morning, so that dusk and dawn can be seen."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the ledger."""

    label: str
    text: str
    note: str
    strong: bool = False


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


@dataclass(frozen=True, slots=True)
class Before:
    """One of the nights before, small."""

    day: str
    href: str
    here: bool
    used: str
    water: str
    bar: float
    lowest: str


@dataclass(frozen=True, slots=True)
class Night:
    title: str
    sentences: tuple[str, ...]
    strip: Strip | None
    no_strip: str
    lines: tuple[Line, ...]
    before: tuple[Before, ...]


def night_date(ledger: NightLedger, reader: Reader) -> date:
    """A night bears the date of its dusk by the ship's clock."""
    return datetime.fromtimestamp(ledger.start_s, UTC).astimezone(reader.dress.zone).date()


def find(reader: Reader, wanted: date | None) -> NightLedger | None:
    """The night of that date; without one the last that has ended, or else the one under way."""
    nights = reader.snapshot.nights
    if wanted is not None:
        return next((n for n in nights if night_date(n, reader) == wanted), None)
    now_s = reader.snapshot.utc_s
    ended = [n for n in nights if now_s is None or n.end_s <= now_s]
    return ended[-1] if ended else nights[-1] if nights else None


def night(reader: Reader, ledger: NightLedger | None, record: Record | None) -> Night:
    if ledger is None:
        return Night("Night", (reader.say("no night yet"),), None, "", (), ())
    strip = _strip(reader, ledger, record)
    dusk, dawn = (clock_time(t, reader.dress) for t in (ledger.start_s, ledger.end_s))
    return Night(
        title=f"The night of {told_date(ledger.start_s, reader.dress)}, {dusk} to {dawn}",
        sentences=_sentences(reader, ledger),
        strip=strip,
        no_strip="" if strip else reader.say("no record"),
        lines=_lines(reader, ledger),
        before=_before(reader, ledger),
    )


def _sentences(reader: Reader, n: NightLedger) -> tuple[str, ...]:
    bank = house(reader)
    name = bank.name if bank else "house"
    say = reader.say
    said = []
    if reader.snapshot.utc_s is not None and n.end_s > reader.snapshot.utc_s:
        said.append(say("night under way"))
    if n.used_Wh is None:
        said.append(say("night use unknown"))
    elif n.made_Wh:
        said.append(say("night used and made", used=n.used_Wh, made=n.made_Wh))
    else:
        said.append(say("night used", used=n.used_Wh))
    if n.dusk_pct is not None and n.dawn_pct is not None:
        said.append(say("night charge", bank=name, dusk=n.dusk_pct, dawn=n.dawn_pct))
    elif bank is not None and bank.chemistry == "lifepo4":
        said.append(say("night charge unknown"))
    if name in n.lowest_V:
        said.append(say("night lowest", lowest=n.lowest_V[name], bank=name))
    if n.water_L is not None:
        said.append(say("night water", water=n.water_L))
    if n.pump_starts is not None:
        ids = {0: "night pump never", 1: "night pump once"}
        said.append(say(ids.get(n.pump_starts, "night pump"), starts=n.pump_starts))
    if n.missing_s >= 300:
        said.append(say("night missing", missing=n.missing_s))
    if n.made_estimated:
        said.append(say("night made estimated"))
    return tuple(said)


def _lines(reader: Reader, n: NightLedger) -> tuple[Line, ...]:
    dress = reader.dress

    def energy(value: float | None) -> str:
        return UNKNOWN if value is None else wh(value, dress)

    lines = []
    for share in n.by:
        runs = ""
        if share.runs:
            runs = ", ".join(f"{clock_time(a, dress)}–{clock_time(b, dress)}" for a, b in share.runs[:6])
            runs += " …" if len(share.runs) > 6 else ""
        sure = pct(100 * share.confidence, dress) + " sure"
        lines.append(Line(share.what, wh(share.Wh, dress), f"{sure} {runs}".strip()))
    lines += [
        Line("unexplained", energy(n.unexplained_Wh), "what no pattern accounts for"),
        Line("used in all", energy(n.used_Wh), "", strong=True),
        Line("made", energy(n.made_Wh), "estimated" if n.made_estimated else ""),
        Line("net", energy(n.net_Wh), "made less used", strong=True),
        Line("charge at dusk", UNKNOWN if n.dusk_pct is None else pct(n.dusk_pct, dress), ""),
        Line("charge at dawn", UNKNOWN if n.dawn_pct is None else pct(n.dawn_pct, dress), ""),
    ]
    lines += [Line(f"lowest, {bank} bank", volts(v, dress), "") for bank, v in n.lowest_V.items()]
    lines += [
        Line("fresh water", UNKNOWN if n.water_L is None else litres(n.water_L, dress), ""),
        Line("pump starts", UNKNOWN if n.pump_starts is None else str(n.pump_starts), ""),
    ]
    if n.missing_s >= 60:
        lines.append(Line("not heard", span(n.missing_s, dress), "of the house bank"))
    return tuple(lines)


def _before(reader: Reader, here: NightLedger) -> tuple[Before, ...]:
    nights = reader.snapshot.nights[-14:]
    most = max((n.used_Wh or 0.0 for n in nights), default=0.0) or 1.0
    bank = house(reader)
    rows = []
    for n in reversed(nights):
        lowest = n.lowest_V.get(bank.name) if bank else None
        rows.append(
            Before(
                day=told_date(n.start_s, reader.dress),
                href=f"/night/{night_date(n, reader):%Y-%m-%d}",
                here=n is here,
                used=UNKNOWN if n.used_Wh is None else wh(n.used_Wh, reader.dress),
                water=UNKNOWN if n.water_L is None else litres(n.water_L, reader.dress),
                bar=(n.used_Wh or 0.0) / most,
                lowest="" if lowest is None else volts(lowest, reader.dress),
            )
        )
    return tuple(rows)


def _strip(reader: Reader, n: NightLedger, record: Record | None) -> Strip | None:
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

    peak = f"{watts(used_W, reader.dress)} at {clock_time(heard[0][1], reader.dress)}"
    return Strip(
        axis=axis,
        nights=axis.spans(((n.start_s, n.end_s),)),
        hours=axis.hours(every=3),
        zero_y=zero,
        used_area=area_of(lambda p: min(0.0, p)),
        made_area=area_of(lambda p: max(0.0, p)),
        scale_label=f"used, down to {watts(-bottom, reader.dress)}",
        peak=Tick(axis.x(heard[0][1]), peak) if used_W > -bottom else None,
        told=f"Net power through the night; most used at once {peak}.",
    )


def _reach(most_W: float, usual_W: float) -> float:
    """How far a side of the strip reaches: a short peak is cut off and named rather than fitted."""
    return max(20.0, min(most_W, 2.2 * usual_W) if usual_W > 0 else most_W)


def net_power(record: Record, bank: str, interval: Interval, nominal_V: float) -> list[tuple[float, float]]:
    """(utc_s, W into the bank) by the minute or coarser; NaN where nothing was heard.

    Power is mean current times mean voltage of the same stretch: within a minute the voltage moves
    by a percent or two at most, and so does the error. Without a voltage the nominal one is taken.
    """
    wanted = max(2, round(interval.seconds / 60))
    current = record.series(f"{bank} current", interval, points=min(2000, wanted))
    voltage = record.series(f"{bank} voltage", interval, points=min(2000, wanted))
    by_time = dict(zip((round(t / 60) for t in voltage.utc_s), voltage.mean, strict=True))
    out = []
    last_s = None
    for t, amps in zip(current.utc_s, current.mean, strict=True):
        if last_s is not None and t - last_s > 600:
            out.append((float(last_s + 1), float("nan")))
        v = by_time.get(round(t / 60), nominal_V)
        out.append((float(t), float(amps) * float(v if known(float(v)) else nominal_V)))
        last_s = t
    return out
