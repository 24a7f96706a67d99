"""Days of water: likely and cautious, when to leave for more, and what each way of saving gains."""

from dataclasses import dataclass

from monitor.records import RationStep, WaterPlan
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import days_between, known, litres
from web.presentation.ebb import whole_hour
from web.presentation.figures import Figure, Reader, from_estimate, of_subject, rests_href

APART = ("left_L", "water_days", "coldest_C")
"""Estimates of the water that stand elsewhere on the page."""
AS_NOW = N_("as now")
DRAWN_DAYS = 10.0
"""How far the drawn days reach."""


@dataclass(frozen=True, slots=True)
class Saving:
    """A step of rationing; `sure` and `likely` are drawn lengths."""

    name: str
    href: str
    a_head: str
    days: str
    gained: str
    sure: float
    likely: float


@dataclass(frozen=True, slots=True)
class Plan:
    days: Figure
    told: str
    figures: tuple[Figure, ...]
    steps: tuple[Saving, ...]
    people: int
    sealed: str


def days_of_water(reader: Reader) -> Plan:
    """What is known of it; the plan is unknown before a forecast was drawn."""
    p = reader.snapshot.water.plan
    figures = [*of_subject(reader, "water", APART)[0]]
    kept_L = next((e.reserve for e in reader.snapshot.ebbs if e.what == "water"), None)
    kept_L = reader.settings.water_reserve_L if kept_L is None else kept_L
    figures.append(_plain(reader.word("Reserve kept back"), litres(kept_L, reader.dress)))
    if p is not None and p.refill_L is not None and known(p.refill_L):
        figures.append(_plain(reader.word("To fill all tanks"), litres(p.refill_L, reader.dress)))
    sealed_L = reader.settings.reserves.sealed_L if p is None else p.sealed_L
    heads = p.reason.facts.get("heads") if p is not None else None
    return Plan(
        days=from_estimate(reader, "water_days", "water"),
        told=_told(reader, p),
        figures=tuple(figures),
        steps=(*_now(reader, p), *(_saving(reader, s) for s in p.steps)) if p is not None else (),
        people=heads if isinstance(heads, int) else reader.settings.boat.crew,
        sealed=reader.say("sealed apart", sealed=sealed_L) if sealed_L > 0 else reader.say("sealed none"),
    )


def _told(reader: Reader, p: WaterPlan | None) -> str:
    """The plan's own sentence; the time to leave by the hour begun, as all of the page tells it."""
    if p is None:
        return reader.say("no water plan")
    leave_s = p.reason.facts.get("leave_s")
    rounded = {"leave_s": whole_hour(leave_s)} if isinstance(leave_s, int | float) else {}
    return reader.say(p.reason.id, **(dict(p.reason.facts) | rounded))


def _now(reader: Reader, p: WaterPlan) -> tuple[Saving, ...]:
    """The first line of the table: as it goes now."""
    e = reader.estimate("water_days", "water")
    if e is None or e.value is None or e.low is None or p.pace_L_a_head is None or not p.steps:
        return ()
    return (_saving(reader, RationStep(AS_NOW, p.pace_L_a_head, e.value, e.low, 0.0)),)


def _plain(label: str, text: str) -> Figure:
    return Figure(label, text, "", "", "set", "")


def _saving(reader: Reader, s: RationStep) -> Saving:
    gained = reader.say("gains", gained=s.gained_days) if s.gained_days >= 0.5 else ""
    return Saving(
        name=named(reader.word(s.name)),
        href="" if s.name == AS_NOW else rests_href("saving", s.name),
        a_head=litres(s.L_a_head, reader.dress),
        days=days_between(s.cautious_days, s.likely_days, s.likely_days >= DRAWN_DAYS, reader.dress),
        gained=gained,
        sure=min(1.0, s.cautious_days / DRAWN_DAYS),
        likely=min(1.0, s.likely_days / DRAWN_DAYS),
    )
