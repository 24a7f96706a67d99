"""The page of energy: how far the charge can be trusted, what to do about it, and what carries what."""

from dataclasses import dataclass

from monitor.records import ChargePlan, Flow, Rehearsal
from monitor.settings import Bank, Subject
from monitor.words.say import named, say
from monitor.words.units import UNKNOWN, moment, pct, span, watts, wh
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
)
from web.presentation.running import Asked, Running, running
from web.watch import Record

REHEARSED_H = 24.0
"""How far the drawn hours of a rehearsal reach."""
APART = (*IN_DAYS, "wasted_Wh")
"""Estimates that stand elsewhere on the page."""
HOUSE_ALONE = ("charge_pct", "left_Wh")
"""Estimates that are told of the house bank alone."""


@dataclass(frozen=True, slots=True)
class OptionRow:
    source: str
    gives: str
    gives_note: str
    runs: str
    start: str
    dawn: str


@dataclass(frozen=True, slots=True)
class Plan:
    told: str
    pressing: bool
    rows: tuple[OptionRow, ...]


@dataclass(frozen=True, slots=True)
class FlowRow:
    name: str
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

    title: str
    figures: tuple[Figure, ...]
    unknown: tuple[Figure, ...]
    why: str
    cells: Cells | None = None
    loads: tuple[Lives, ...] = ()
    rehearsed: str = ""


@dataclass(frozen=True, slots=True)
class Power:
    first: tuple[str, ...]
    plan: Plan | None
    fan: Fan | None
    running: Running
    banks: tuple[Side, ...]
    flows: tuple[FlowRow, ...]
    wasted: tuple[str, Figure] | None
    supplies: tuple[Side, ...]


def power(reader: Reader, record: Record | None, asked: Asked | None) -> Power:
    """The whole page; what is asked for is a load that the crew would like to run now."""
    s = reader.snapshot
    plan = s.power.plan
    return Power(
        first=_first(reader, plan),
        plan=_plan(reader, plan) if plan is not None and any(o.minutes > 0 for o in plan.options) else None,
        fan=fan(reader, record),
        running=running(reader, asked),
        banks=tuple(_bank(reader, b) for b in reader.settings.banks),
        flows=_flows(reader, s.power.flows),
        wasted=_wasted(reader),
        supplies=tuple(_supply(reader, x) for x in (*reader.settings.supplies, *reader.settings.inverters)),
    )


def _first(reader: Reader, plan: ChargePlan | None) -> tuple[str, ...]:
    bank = house(reader)
    if bank is None:
        return (reader.say("nothing bound", what="bank"),)
    return (
        charge_sentence(reader, bank),
        *lasts(reader, bank.name),
        *([say(plan.reason, reader.dress)] if plan is not None else []),
    )


def charge_sentence(reader: Reader, bank: Bank) -> str:
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
        start = UNKNOWN if o.latest_start_s is None else moment(o.latest_start_s, now_s, reader.dress)
        dawn = pct(o.dawn_low_pct, reader.dress) + ("" if o.enough else ", not enough")
        runs = span(o.minutes * 60, reader.dress) if o.minutes > 0 else ""
        rows.append(
            OptionRow(
                named(o.source), watts(o.net_W, reader.dress), "learned" if o.learned else "reckoned",
                runs, start if o.minutes > 0 else "", dawn,
            )
        )  # fmt: skip
    return Plan(say(plan.reason, reader.dress), bool(plan.needed), tuple(rows))


def _flows(reader: Reader, flows: tuple[Flow, ...]) -> tuple[FlowRow, ...]:
    most = max((f.week_Wh or 0.0 for f in flows), default=0.0) or 1.0

    return tuple(
        FlowRow(
            named(f.name),
            or_unknown(f.watts, watts, reader.dress) + ("" if f.metered else ", by balance"),
            or_unknown(f.today_Wh, wh, reader.dress),
            or_unknown(f.week_Wh, wh, reader.dress),
            watts(f.usual_W, reader.dress) if f.usual_W > 0 else "",
            ("learned" if f.learned else "reckoned") if f.usual_W > 0 else "",
            (f.week_Wh or 0.0) / most,
        )
        for f in flows
    )


def _wasted(reader: Reader) -> tuple[str, Figure] | None:
    """The sun turned down today in a sentence, and the figure with its band; None where there was none."""
    bank = house(reader)
    e = reader.estimate("wasted_Wh", bank.name) if bank is not None else None
    if bank is None or e is None or not e.value:
        return None
    return say(e.reason, reader.dress), from_estimate(reader, "wasted_Wh", bank.name)


def _bank(reader: Reader, bank: Bank) -> Side:
    apart = (*APART, *(() if bank.role == "house" else HOUSE_ALONE))
    known_now, unknown = of_subject(reader, bank.name, apart)
    figures = (*known_now, *_readings(reader, bank, ("voltage", "current", "temperature")))
    charge = reader.estimate("charge_pct", bank.name)
    why = say(charge.reason, reader.dress) if charge is not None and bank.role == "house" else ""
    rehearsal = next((r for r in reader.snapshot.power.rehearsals if r.bank == bank.name), None)
    return Side(
        f"{named(bank.name)} bank",
        figures,
        unknown,
        why,
        cells(reader, bank),
        _lives(reader, rehearsal) if rehearsal is not None else (),
        say(rehearsal.reason, reader.dress) if rehearsal is not None else "",
    )


def _supply(reader: Reader, supply: Subject) -> Side:
    quantities = ("ac voltage", "ac current", "ac power", "ac frequency", "power factor")
    found, unknown = of_subject(reader, supply.name, APART)
    readings = [f for f in _readings(reader, supply, quantities) if f.state == "live"]
    why = "" if found or readings else named(unknown[0].why) if unknown else reader.say("supply unheard")
    return Side(named(supply.name), (*found, *readings), unknown if found else (), why)


def _readings(reader: Reader, subject: Subject, quantities: tuple[str, ...]) -> tuple[Figure, ...]:
    found = (from_reading(reader, subject.name, q, named(q).replace("Ac ", "AC ")) for q in quantities)
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
