"""The page of energy: how far the charge can be trusted, what to do about it, and what carries what."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.records import ChargePlan, Flow, Rehearsal
from monitor.settings import Bank, Subject
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import known, moment, pct, span, unknown, watts, wh
from web.presentation.ahead import house, lasts
from web.presentation.cells import Cells, cells
from web.presentation.fan import Fan, fan
from web.presentation.figures import (
    IN_DAYS,
    Figure,
    Reader,
    from_estimate,
    from_reading,
    of_subject,
    or_unknown,
    reading_figure,
    rests_href,
)
from web.presentation.running import Asked, Running, running
from web.watch import Record

REHEARSED_H = 24.0
"""How far the drawn hours of a rehearsal reach."""
APART = (*IN_DAYS, "wasted_Wh")
"""Estimates that stand elsewhere on the page."""
HOUSE_ALONE = ("charge_pct", "left_Wh")
"""Estimates that are told of the house bank alone."""
LEARNED = {True: N_("learned"), False: N_("reckoned")}
GIVES, TAKES_IN = N_("The {bank} bank gives"), N_("The {bank} bank takes in")
LEAST_W = 1.0
"""What gives less carries nothing."""


@dataclass(frozen=True, slots=True)
class Glance:
    """What there is to know at once: how full, for how long, and what carries the boat now."""

    title: str
    charge: Figure
    left: Figure
    full: str
    days: Figure
    lasts: tuple[str, ...]
    carried: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class OptionRow:
    source: str
    href: str
    gives: str
    gives_note: str
    runs: str
    start: str
    dawn: str


@dataclass(frozen=True, slots=True)
class Plan:
    pressing: bool
    short: str
    rows: tuple[OptionRow, ...]


@dataclass(frozen=True, slots=True)
class FlowRow:
    name: str
    href: str
    now: str
    today: str
    week: str
    gives: str
    gives_note: str
    part: float
    """Of the most that any of them made in the week, for the drawing."""


@dataclass(frozen=True, slots=True)
class Lives:
    """A load of the rehearsal; `sure` and `likely` are drawn lengths."""

    name: str
    takes: str
    told: str
    sure: float
    likely: float


@dataclass(frozen=True, slots=True)
class Side:
    """One bank, supply or inverter with all that is known of it."""

    name: str
    title: str
    figures: tuple[Figure, ...]
    lacking: tuple[Figure, ...]
    why: str = ""
    cells: Cells | None = None
    loads: tuple[Lives, ...] = ()
    rehearsed: str = ""
    rehearsed_href: str = ""


@dataclass(frozen=True, slots=True)
class Power:
    first: tuple[str, ...]
    glance: Glance | None
    plan: Plan | None
    fan: Fan | None
    running: Running
    banks: tuple[Side, ...]
    flows: tuple[FlowRow, ...]
    unheard_flows: str
    wasted: tuple[str, Figure] | None
    supplies: tuple[Side, ...]
    unheard: str
    mains: bool
    """Whether there is anything aboard that can kill by its voltage."""


def power(reader: Reader, record: Record | None, asked: Asked | None) -> Power:
    """The whole page; what is asked for is a load that the crew would like to run now."""
    s = reader.snapshot
    plan = s.power.plan
    heard = [f for f in s.power.flows if _heard(f)]
    supplies = [_supply(reader, x) for x in (*reader.settings.supplies, *reader.settings.inverters)]
    return Power(
        first=_first(reader, plan),
        glance=_glance(reader),
        plan=_plan(reader, plan) if plan is not None and any(o.minutes > 0 for o in plan.options) else None,
        fan=fan(reader, record),
        running=running(reader, asked),
        banks=tuple(_bank(reader, b) for b in reader.settings.banks),
        flows=_flows(reader, heard),
        unheard_flows=_unheard(reader, [f.name for f in s.power.flows if not _heard(f)]),
        wasted=_wasted(reader),
        supplies=tuple(side for side in supplies if side.figures),
        unheard=_unheard(reader, [side.name for side in supplies if not side.figures]),
        mains=bool(supplies),
    )


def _unheard(reader: Reader, names: Iterable[str]) -> str:
    """Those of which there is nothing to say, in one line."""
    told = ", ".join(names)
    return reader.word("Nothing is heard of: {names}.", names=told) if told else ""


def _heard(flow: Flow) -> bool:
    return any(known(v) for v in (flow.watts, flow.today_Wh, flow.week_Wh))


def _first(reader: Reader, plan: ChargePlan | None) -> tuple[str, ...]:
    bank = house(reader)
    if bank is None:
        return (reader.say("nothing bound", what="bank"),)
    said = [_charge(reader, bank)]
    heard = reader.reading(bank.name, "current")
    if heard is not None and heard.silent:
        age_s = reader.snapshot.at_s - heard.at_s
        said.append(reader.word("Its current has been silent for {age:span}.", age=age_s))
    return (*said, *([say(plan.reason, reader.dress)] if plan is not None else []))


def _glance(reader: Reader) -> Glance | None:
    bank = house(reader)
    if bank is None:
        return None
    charge = reader.estimate("charge_pct", bank.name)
    since_s = None if charge is None else charge.reason.facts.get("since_s")
    return Glance(
        title=reader.word("The {bank} bank", bank=bank.name),
        charge=from_estimate(reader, "charge_pct", bank.name),
        left=from_estimate(reader, "left_Wh", bank.name),
        full=reader.word("last full {since_s:span} ago", since_s=since_s) if since_s is not None else "",
        days=from_estimate(reader, "energy_days", bank.name),
        lasts=tuple(lasts(reader, bank.name)),
        carried=tuple(_carried(reader, bank)),
    )


def _carried(reader: Reader, bank: Bank) -> Iterable[Figure]:
    """What the boat lives on now: what the bank gives or takes, then all that comes in."""
    volts, amps = (reader.reading(bank.name, q) for q in ("voltage", "current"))
    if volts is None or amps is None or volts.value is None or amps.value is None:
        label = reader.word(GIVES, bank=bank.name)
        yield Figure(label, unknown(reader.dress), "", "", "unknown", "")
    else:
        power_W = volts.value * amps.value
        label = reader.word(TAKES_IN if power_W > 0 else GIVES, bank=bank.name)
        older = volts if volts.at_s < amps.at_s else amps
        heard = reading_figure(reader, f"{bank.name} current", older, label)
        yield replace(heard, text=watts(abs(power_W), reader.dress))
    for flow in reader.snapshot.power.flows:
        if flow.watts is not None and flow.watts >= LEAST_W:
            label = reader.word("From the {source}", source=flow.name)
            yield Figure(
                label, watts(flow.watts, reader.dress), "", "", "live", rests_href("comes in", flow.name)
            )


def _charge(reader: Reader, bank: Bank) -> str:
    """ "The house bank is at 62 % (57 to 66), last full 6 days ago." """
    e = reader.estimate("charge_pct", bank.name)
    if e is None or e.value is None or e.low is None or e.high is None:
        return say(e.reason, reader.dress) if e is not None else reader.say("not estimated")
    since_s = e.reason.facts.get("since_s")
    facts = {"bank": bank.name, "value": e.value, "low": f"{e.low:.0f}", "high": f"{e.high:.0f}"}
    return reader.say("charge with its band", **facts, since_s=since_s)


def _plan(reader: Reader, plan: ChargePlan) -> Plan:
    now_s = reader.snapshot.utc_s or 0.0
    rows = []
    for o in plan.options:
        start = (
            unknown(reader.dress)
            if o.latest_start_s is None
            else moment(o.latest_start_s, now_s, reader.dress)
        )
        dawn = pct(o.dawn_low_pct, reader.dress)
        if not o.enough:
            dawn = reader.word("{pct}, not enough", pct=dawn)
        runs = span(o.minutes * 60, reader.dress) if o.minutes > 0 else ""
        rows.append(
            OptionRow(
                named(o.source), rests_href("way to charge", o.source), watts(o.net_W, reader.dress),
                reader.word(LEARNED[o.learned]), runs, start if o.minutes > 0 else "", dawn,
            )
        )  # fmt: skip
    best = next((r for r in rows if r.runs), None)
    short = "" if best is None else reader.word("{source}: {span}", source=best.source, span=best.runs)
    return Plan(bool(plan.needed), short, tuple(rows))


def _flows(reader: Reader, flows: Sequence[Flow]) -> tuple[FlowRow, ...]:
    most = max((f.week_Wh or 0.0 for f in flows), default=0.0) or 1.0

    return tuple(
        FlowRow(
            named(f.name),
            rests_href("comes in", f.name),
            _now(reader, f),
            or_unknown(f.today_Wh, wh, reader.dress),
            or_unknown(f.week_Wh, wh, reader.dress),
            watts(f.usual_W, reader.dress) if f.usual_W > 0 else "",
            reader.word(LEARNED[f.learned]) if f.usual_W > 0 else "",
            (f.week_Wh or 0.0) / most,
        )
        for f in flows
    )


def _now(reader: Reader, flow: Flow) -> str:
    told = or_unknown(flow.watts, watts, reader.dress)
    return told if flow.metered else reader.word("{watts}, by balance", watts=told)


def _wasted(reader: Reader) -> tuple[str, Figure] | None:
    """The sun turned down today in a sentence, and the figure with its band; None where there was none."""
    bank = house(reader)
    e = reader.estimate("wasted_Wh", bank.name) if bank is not None else None
    if bank is None or e is None or not e.value:
        return None
    return say(e.reason, reader.dress), from_estimate(reader, "wasted_Wh", bank.name)


def _bank(reader: Reader, bank: Bank) -> Side:
    apart = (*APART, *(() if bank.role == "house" else HOUSE_ALONE))
    known_now, lacking = of_subject(reader, bank.name, apart)
    figures = (*known_now, *_readings(reader, bank, ("voltage", "current", "temperature")))
    charge = reader.estimate("charge_pct", bank.name)
    why = say(charge.reason, reader.dress) if charge is not None and bank.role == "house" else ""
    rehearsal = next((r for r in reader.snapshot.power.rehearsals if r.bank == bank.name), None)
    return Side(
        bank.name,
        reader.word("{bank} bank", bank=named(bank.name)),
        figures,
        lacking,
        why,
        cells(reader, bank),
        _lives(reader, rehearsal) if rehearsal is not None else (),
        say(rehearsal.reason, reader.dress) if rehearsal is not None else "",
        rests_href("rehearsal", bank.name),
    )


def _supply(reader: Reader, supply: Subject) -> Side:
    quantities = ("ac voltage", "ac current", "ac power", "ac frequency", "power factor")
    found, lacking = of_subject(reader, supply.name, APART)
    readings = [f for f in _readings(reader, supply, quantities) if f.state == "live"]
    return Side(supply.name, named(supply.name), (*found, *readings), lacking if found else ())


def _readings(reader: Reader, subject: Subject, quantities: tuple[str, ...]) -> tuple[Figure, ...]:
    found = (
        from_reading(reader, subject.name, q, named(reader.word(q)).replace("Ac ", "AC ")) for q in quantities
    )
    return tuple(f for f in found if f is not None)


def _lives(reader: Reader, rehearsal: Rehearsal) -> tuple[Lives, ...]:
    rows = []
    for x in rehearsal.loads:
        told = reader.say("lives", low_s=_coarse_s(x.hours_low), likely_s=_coarse_s(x.hours))
        drawn = (min(1.0, h / REHEARSED_H) for h in (x.hours_low, x.hours))
        rows.append(Lives(named(x.name), watts(x.watts, reader.dress), told, *drawn))
    return tuple(rows)


def _coarse_s(hours: float) -> float:
    """Whole hours from three on, ten minutes below: no more is known of it. [s]"""
    return round(hours) * 3600 if hours >= 3 else round(hours * 6) * 600
