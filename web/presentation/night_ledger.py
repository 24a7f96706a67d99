"""The ledger of a span: what used, what made, and what else is told of it, in lines that add up."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.ledger import STANDING
from monitor.records import LoadKind, NightLedger, Share, Usual
from monitor.words.tongues import N_
from monitor.words.units import (
    GAP,
    Dress,
    clock,
    clock_time,
    fixed,
    known,
    litres,
    pct,
    span,
    unknown,
    volts,
    wh,
)
from web.presentation.ahead import house
from web.presentation.figures import Reader, or_unknown, rests_href
from web.presentation.night_parts import NAMED, UNEXPLAINED, Part, Parts, apportioned, usual_of
from web.presentation.spans import by_clock

LOUD_SHARE = 0.15
"""More of what was used than this unexplained is said first."""
SAME_WH, SAME_SHARE = 5.0, 0.05
"""Nearer to the usual than the larger of these is as usual."""
SURE = 0.995
RUNS_SHOWN = 4
TAIL_S = 60.0
OURS = (
    N_("standing"),
    N_("unexplained"),
    N_("not told apart"),
    N_("named"),
    N_("used"),
    N_("made"),
    N_("net"),
)
"""Lines that are called by us; all others by the crew."""


@dataclass(frozen=True, slots=True)
class Line:
    """`sub`: it is a part of the line above and not added; `total`: the sum of what stands above it."""

    label: str
    Wh: str
    pattern: str = ""
    mark: str = ""
    note: str = ""
    usual: str = ""
    href: str = ""
    sub: bool = False
    total: bool = False


@dataclass(frozen=True, slots=True)
class Ledger:
    used: tuple[Line, ...]
    made: tuple[Line, ...]
    also: tuple[tuple[str, str, str, str], ...]
    """Label, figure, note of what is no energy, and where what it rests on can be seen."""
    rests: str
    """Where the readings are that the sums are made of."""
    against: str
    """What the column of the usual stands against; empty where there is none."""


def ledger(reader: Reader, n: NightLedger, parts: Parts, *, night: bool) -> Ledger:
    """`night`: charge at dusk and at dawn are told; no other span has them."""
    used_Wh, used = _used(reader, n, parts)
    usual = n.usual
    against = ""
    if usual is not None:
        against = reader.say("ledger: against", nights=usual.nights, where=where(reader, usual.place))
    return Ledger(
        used, _made(reader, n, used_Wh), tuple(_also(reader, n, night)), _readings(reader, n), against
    )


def loud(n: NightLedger, parts: Parts) -> bool:
    """Whether so much is unexplained that it comes first."""
    left = parts.unexplained
    if not n.used_Wh or left is None or left.kind != UNEXPLAINED:
        return False
    return left.Wh > LOUD_SHARE * n.used_Wh


def where(reader: Reader, place: str) -> str:
    return f" {reader.word(place)}" if place else ""


def load_href(load: str) -> str:
    return f"/loads/{quote(load, safe='')}"


def unit_of(dress: Dress) -> tuple[float, str]:
    """What the columns count in: its watt-hours, and what their head says."""
    if dress.energy != "Ah":
        return 1.0, "Wh"
    return dress.nominal_V, dress.text("Ah at {volts} V").format(volts=fixed(dress.nominal_V, 1, dress))


def whole(value: float, dress: Dress) -> str:
    """A number of the column's unit, which stands in its head."""
    return fixed(value, 0, dress)


def signed(value: float, dress: Dress) -> str:
    return f"+{whole(value, dress)}" if value > 0 else whole(value, dress)


def called(reader: Reader, name: str) -> str:
    """A line of our own in the reader's language; the crew's names as they are."""
    return reader.word(name) if name in OURS else name


def _used(reader: Reader, n: NightLedger, parts: Parts) -> tuple[int | None, tuple[Line, ...]]:
    order, dress = parts.whole, reader.dress
    unit_Wh = unit_of(dress)[0]
    if loud(n, parts):
        order = (order[-1], *order[:-1])
    if n.used_Wh is None or not known(n.used_Wh):
        lines = [_line(reader, n, parts, p, whole(p.Wh / unit_Wh, dress)) for p in order]
        none = unknown(dress)
        left, used = (reader.word(label) for label in ("unexplained", "used"))
        return None, (*lines, Line(left, none), Line(used, none, total=True))
    total, shown = apportioned(n.used_Wh, [p.Wh for p in order], unit_Wh)
    lines = []
    for part, figure in zip(order, shown, strict=True):
        lines.append(_line(reader, n, parts, part, whole(figure, dress)))
        if part is parts.unexplained:
            lines += _within(reader, n, parts, figure)
    usual = "" if n.usual is None else _against(reader, n.used_Wh, n.usual.used_Wh)
    return total, (*lines, Line(reader.word("used"), whole(total, dress), total=True, usual=usual))


def _within(reader: Reader, n: NightLedger, parts: Parts, figure: int) -> list[Line]:
    """The loads without a name in what is unexplained, and what is left then; they add up to `figure`."""
    if not parts.unnamed:
        return []
    unit_Wh, _ = unit_of(reader.dress)
    values = [Wh / unit_Wh for Wh in (*(p.Wh for p in parts.unnamed), parts.rest_Wh)]
    _, shown = apportioned(float(figure), _scaled(values, figure))
    kinds = {kind.id: kind for kind in reader.snapshot.loads}
    lines = [
        _line(reader, n, parts, p, whole(Wh, reader.dress), kinds.get(p.load))
        for p, Wh in zip(parts.unnamed, shown, strict=False)
        if Wh
    ]  # fmt: skip
    return [*lines, Line(reader.say("ledger: rest"), whole(shown[-1], reader.dress), sub=True)]


def _scaled(values: Sequence[float], total: float) -> list[float]:
    """The last value takes what rounding the total added."""
    return [*values[:-1], total - sum(values[:-1])]


def _line(
    reader: Reader, n: NightLedger, parts: Parts, p: Part, figure: str, kind: LoadKind | None = None
) -> Line:
    label, unnamed = called(reader, p.name), bool(p.load and not p.name)
    if unnamed:
        id = "ledger: unnamed" if kind is not None else "ledger: unnamed unknown"
        label = reader.say(id, watts=kind.watts if kind else None)
    sure = ""
    if p.load or p.kind in (NAMED, STANDING):
        measured = p.kind == NAMED and not p.load and p.confidence >= SURE
        sure = reader.say("ledger: measured" if measured else "ledger: sure", sure=100 * p.confidence)
    return Line(
        label,
        figure,
        p.pattern,
        p.mark,
        ", ".join(said for said in (_ran(reader, p.runs), sure) if said),
        "" if n.usual is None or not n.usual.by_Wh else _usual(reader, p, n.usual, parts),
        load_href(p.load) if p.load else "",
        sub=unnamed,
    )


def _usual(reader: Reader, p: Part, usual: Usual, parts: Parts) -> str:
    usual_Wh = usual_of(p, usual, parts)
    if usual_Wh is None:
        return reader.say("ledger: never before") if p.kind == NAMED else ""
    return _against(reader, p.Wh, usual_Wh)


def _against(reader: Reader, Wh: float, usual_Wh: float) -> str:
    off_Wh = Wh - usual_Wh
    if abs(off_Wh) < max(SAME_WH, SAME_SHARE * usual_Wh):
        return reader.say("ledger: as usual")
    return signed(off_Wh / unit_of(reader.dress)[0], reader.dress)


def _ran(reader: Reader, runs: Sequence[tuple[float, float]] | None) -> str:
    """How long it was on; where they are few enough to be read, by the clock."""
    if not runs:
        return ""
    on_s = sum(end - start for start, end in runs)
    if len(runs) > RUNS_SHOWN:
        return reader.say("ledger: on", on=on_s, runs=len(runs))
    times = ((clock_time(a, reader.dress), clock_time(b, reader.dress)) for a, b in runs)
    when = ", ".join(f"{a}–{b}" if a != b else a for a, b in times)
    return reader.say("ledger: on at", on=on_s, when=when)


def _made(reader: Reader, n: NightLedger, used_Wh: int | None) -> tuple[Line, ...]:
    estimated = reader.say("ledger: estimated") if n.made_estimated else ""
    dress, (made, net) = reader.dress, (reader.word(label) for label in ("made", "net"))
    if n.made_Wh is None:
        return (Line(made, unknown(dress), total=True), Line(net, unknown(dress), total=True))
    sources = [(s.what, s.Wh, s) for s in n.made_by if round(s.Wh)]
    rest_Wh = n.made_Wh - sum(Wh for _, Wh, _ in sources)
    values = [Wh for _, Wh, _ in sources] + [rest_Wh]
    total, shown = apportioned(n.made_Wh, values, unit_of(dress)[0])
    lines = [_source(reader, s, Wh) for (_, _, s), Wh in zip(sources, shown, strict=False)]
    if shown[-1]:
        lines.append(Line(reader.say("ledger: unmetered"), whole(shown[-1], dress), note=estimated))
    left = unknown(dress) if used_Wh is None else signed(total - used_Wh, dress)
    return (*lines, Line(made, whole(total, dress), total=True, note=estimated), Line(net, left, total=True))


def _source(reader: Reader, s: Share, Wh: int) -> Line:
    return Line(s.what, whole(Wh, reader.dress), note=_ran(reader, s.runs))


def _readings(reader: Reader, n: NightLedger) -> str:
    bank = house(reader)
    return "" if bank is None else record_href(reader, f"{bank.name} current", n)


def record_href(reader: Reader, channel: str, n: NightLedger) -> str:
    """The channel's history up to the end of the span."""
    length = (
        "day" if n.end_s - n.start_s <= DAY_S else "week" if n.end_s - n.start_s <= 7 * DAY_S else "month"
    )
    return "/history?" + urlencode({"channel": channel, "span": length, "until": by_clock(reader, n.end_s)})


def _also(reader: Reader, n: NightLedger, night: bool) -> list[tuple[str, str, str, str]]:
    dress, bank = reader.dress, house(reader)
    charge = "" if bank is None else rests_href("charge_pct", bank.name)
    water = next((rests_href(name, of) for name, of in reader.snapshot.estimates if name == "left_L"), "")
    rows = []
    if n.missing_s >= TAIL_S:
        shown = [f"{clock(a, dress)}–{clock_time(b, dress)}" for a, b in n.gaps[:RUNS_SHOWN]]
        more = " …" if len(n.gaps) > RUNS_SHOWN else ""
        note = reader.say("ledger: gaps", times=", ".join(shown) + more) if shown else ""
        rows.append((reader.word("not heard"), span(n.missing_s, dress), note, ""))
    if night:
        rows += [
            (reader.word("charge at dusk"), or_unknown(n.dusk_pct, pct, dress), "", charge),
            (reader.word("charge at dawn"), or_unknown(n.dawn_pct, pct, dress), "", charge),
        ]
    rows += [
        (
            reader.word("lowest, {name} bank", name=bank),
            volts(v, dress),
            "",
            record_href(reader, f"{bank} voltage", n),
        )
        for bank, v in n.lowest_V.items()
    ]
    usual_L = n.usual.water_L if n.usual is not None else None
    note = "" if usual_L is None else reader.say("night: usual water", usual=usual_L)
    rows.append((reader.word("fresh water"), or_unknown(n.water_L, litres, dress), note, water))
    starts = unknown(dress) if n.pump_starts is None else str(n.pump_starts)
    rows.append((reader.word("pump starts"), starts, "", "/log?kind=pump+run"))
    return rows


def energy(value: float, dress: Dress) -> str:
    """Watt-hours in a sentence: tens of watt-hours are still told of kilowatt-hours."""
    if dress.energy != "kWh" or abs(value) < 999.5:
        return wh(value, dress)
    return fixed(value / 1000, 2, dress) + GAP + "kWh"


def hours(seconds: float, dress: Dress) -> str:
    return f"{fixed(seconds / HOUR_S, 1, dress)}{GAP}h"
