"""The home page: will it last, what sets that, what to do and by when."""

from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.clock import DAY_S
from monitor.pipeline.lines import NOT_BEFORE_H, UNDER_WAY, morning
from monitor.records import Ebb, Estimate, Severity
from monitor.settings import Bank
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import HORIZON_DAYS, days_between, known, litres, moment, unknown, watts, wh
from web.drawing.axis import next_noon
from web.drawing.lines import at
from web.presentation.ebb import Chart, DayRow, chart, coming_days, whole_hour
from web.presentation.figures import (
    Figure,
    Reader,
    aged,
    from_estimate,
    from_reading,
    rests_href,
)
from web.presentation.frame import hears_all

MORNING_H = 4


@dataclass(frozen=True, slots=True)
class Todo:
    """What to do and by when, from the cautious day."""

    short: str
    """Under the amount's own title."""
    sentence: str
    """By itself, for the head of the page."""
    pressing: bool = False


@dataclass(frozen=True, slots=True)
class Amount:
    """One of the two: its days, what sets them, what to do, and the figures under it."""

    what: str
    title: str
    days: str
    days_href: str
    stale: str
    """How old the days are, where they are older than they should be."""
    now: Figure | None
    todo: Todo
    why: str
    """What sets the days, in a few words; empty where they are not the usual ones."""
    lasts: str
    sets: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    morning: str
    """The one sentence on waking, in the hours after it."""
    first: tuple[str, ...]
    sure: str
    """What sets the days of both, and how far to believe them; empty where it is not the same of both."""
    amounts: tuple[Amount, ...]
    chart: Chart | None
    later: tuple[str, ...]
    """The dawn, and the lowest until noon, where the first lines do not tell them."""
    coming: tuple[DayRow, ...]


def ahead(reader: Reader) -> Ahead:
    amounts = (_energy(reader), _water(reader))
    until_noon = tuple(_until_noon(reader))
    first = _first_lines(reader, amounts)
    return Ahead(
        _morning(reader),
        first or until_noon,
        _sure(reader, amounts),
        amounts,
        chart(reader),
        until_noon if first else (),
        coming_days(reader),
    )


def _sure(reader: Reader, amounts: tuple[Amount, ...]) -> str:
    whys = {a.why for a in amounts}
    if len(whys) > 1 or "" in whys:
        return ""
    return reader.word("{why:text}; the first number holds 9 in 10.", why=named(whys.pop()))


def _morning(reader: Reader) -> str:
    """While the crew may just have risen: awake and at rest, from four until four hours after they usually
    rise."""
    s = reader.snapshot
    if s.utc_s is None or s.mode.people != "awake" or s.mode.place in UNDER_WAY:
        return ""
    hour = datetime.fromtimestamp(s.utc_s, UTC).astimezone(reader.dress.zone).hour
    if not NOT_BEFORE_H <= hour < reader.settings.night.asleep_until + MORNING_H:
        return ""
    return say(morning(s, reader.settings), reader.dress)


def _first_lines(reader: Reader, amounts: tuple[Amount, ...]) -> tuple[str, ...]:
    """What must be done, or that nothing must; empty where neither can be said."""
    todo = tuple(a.todo.sentence for a in amounts if a.todo.pressing)
    if todo or _unsettled(reader) or not all(a.why for a in amounts):
        return todo
    return (reader.say("all calm" if hears_all(reader) else "all calm, as far as heard"),)


def _unsettled(reader: Reader) -> bool:
    """Whether an alert says that something is to be done: then nobody is told that nothing is."""
    graver = (Severity.ALARM, Severity.WARNING)
    return any(a.severity in graver and a.state != "returned" for a in reader.snapshot.alerts)


def _until_noon(reader: Reader) -> list[str]:
    s = reader.snapshot
    ebb = _ebb(reader, "energy")
    now_s = s.utc_s
    if ebb is None or now_s is None:
        return []
    dawn_s = next((end for _, end in s.darkness if end > now_s), None)
    there = at(ebb.ahead, dawn_s) if dawn_s is not None else None
    if there is None or not known(there[0]):
        return [
            from_estimate(reader, "charge_pct", ebb.subject).why,
            reader.say("dawn unknown", bank=ebb.subject),
        ]
    low, likely = (100 * v / ebb.capacity for v in there[:2])
    said = [reader.say("dawn ahead", dawn=dawn_s, bank=ebb.subject, low=low, likely=likely)]
    noon_s = next_noon(now_s, reader.dress.zone)
    near = [(v, t) for t, v in zip(ebb.ahead.utc_s, ebb.ahead.low, strict=True) if t <= noon_s and known(v)]
    if near and 100 * min(near)[0] / ebb.capacity < low - 2:
        lowest, at_s = min(near)
        said.append(
            reader.say("lowest ahead", until=noon_s, low=100 * lowest / ebb.capacity, at=whole_hour(at_s))
        )
    return said


def _ebb(reader: Reader, what: str) -> Ebb | None:
    return next((e for e in reader.snapshot.ebbs if e.what == what), None)


def house(reader: Reader) -> Bank | None:
    return next((b for b in reader.settings.banks if b.role == "house"), None)


LASTS = {"energy_days": "lasts", "autonomy_days": "lasts uncharged", "water_days": "lasts"}


def lasts(reader: Reader, subject: str) -> list[str]:
    """Until when it lasts, with the charging usual now and with none: the likely moment, and the cautious."""
    now_s = reader.snapshot.utc_s
    ashore = reader.snapshot.mode.place == "alongside"
    unless = reader.say("shore failed" if ashore else "nothing charged")
    said = []
    for name, id in LASTS.items():
        e = reader.estimate(name, subject)
        if now_s is None or e is None or e.low is None or e.value is None or not known(e.low):
            continue
        ends = [
            None
            if in_days >= HORIZON_DAYS
            else moment(whole_hour(now_s + in_days * DAY_S), now_s, reader.dress)
            for in_days in (e.value, e.low)
        ]
        if ends[1] is None:
            said.append(reader.say(f"{id}, beyond", unless=unless))
        elif ends[0] is None or e.beyond:
            said.append(reader.say(f"{id}, likely beyond", unless=unless, cautious=ends[1]))
        else:
            said.append(reader.say(id, unless=unless, likely=ends[0], cautious=ends[1]))
    return said


def _energy(reader: Reader) -> Amount:
    bank = house(reader)
    if bank is None:
        return _unbound(reader, "energy", N_("Energy"), N_("bank"))
    figures = [
        from_estimate(reader, "charge_pct", bank.name),
        from_estimate(reader, "left_Wh", bank.name),
        from_estimate(reader, "autonomy_days", bank.name, reader.word("With no charging")),
        *_net_power(reader, bank),
    ]
    for other in reader.settings.banks:
        label = reader.word("{name} bank", name=named(other.name))
        label = reader.word("Voltage") if other is bank else label
        figure = from_reading(reader, other.name, "voltage", label)
        figures += [figure] if figure else []
    reserve = wh(bank.reserve_Wh, reader.dress)
    return _amount(reader, "energy", N_("Energy"), "energy_days", bank.name, figures, reserve)


def _water(reader: Reader) -> Amount:
    tanks = reader.settings.tanks
    if not tanks:
        return _unbound(reader, "water", N_("Fresh water"), N_("tank"))
    subject = next((sub for name, sub in reader.snapshot.estimates if name == "water_days"), "water")
    figures = [*_water_left(reader, subject)]
    figures += [
        from_estimate(reader, "tank_L", t.name, reader.word("{name} tank", name=named(t.name))) for t in tanks
    ]
    for pump in reader.settings.pumps:
        figures += [
            from_estimate(reader, name, pump.name)
            for name in ("leak_L_per_h", "tight_below_L_per_h")
            if reader.estimate(name, pump.name)
        ]
    ebb = _ebb(reader, "water")
    reserve = litres(reader.settings.water_reserve_L if ebb is None else ebb.reserve, reader.dress)
    return _amount(reader, "water", N_("Fresh water"), "water_days", subject, figures, reserve)


def _water_left(reader: Reader, subject: str) -> tuple[Figure, ...]:
    """The estimate of what is left in all, or else where the curve now stands."""
    if reader.estimate("left_L", subject):
        return (from_estimate(reader, "left_L", subject),)
    ebb = _ebb(reader, "water")
    if ebb is None or not ebb.past.likely or not known(ebb.past.likely[-1]):
        return ()
    text = litres(ebb.past.likely[-1], reader.dress)
    age = from_estimate(reader, "water_days", subject).age
    return (Figure(reader.word("Left in all"), text, "", age, "live", rests_href("water_days", subject)),)


def _amount(
    reader: Reader, what: str, title: str, name: str, subject: str, figures: list[Figure], reserve: str
) -> Amount:
    """`figures` begin with how much there is now."""
    e = reader.estimate(name, subject)
    told = from_estimate(reader, name, subject)
    kept = Figure(reader.word("Reserve kept"), reserve, "", "", "set", "")
    return Amount(
        what=what,
        title=title,
        days=days_between(e.low, e.value, e.beyond, reader.dress) if e else unknown(reader.dress),
        days_href=rests_href(name, subject),
        stale=told.age if told.state == "silent" else "",
        now=next((f for f in figures[:1] if f.state != "unknown"), None),
        todo=_todo(reader, what, subject, e.low if e else None),
        why=_why(reader, e),
        lasts=" ".join(lasts(reader, subject)),
        sets=told.why,
        figures=(*figures, kept),
    )


def _why(reader: Reader, e: Estimate | None) -> str:
    if e is None or e.reason.id != "days from history" or not known(e.low):
        return ""
    facts = e.reason.facts
    return reader.word("from {days:span} {place:text}", days=DAY_S * facts["days"], place=facts["place"])


def _todo(reader: Reader, what: str, subject: str, cautious: float | None) -> Todo:
    energy = what == "energy"
    if cautious is None or not known(cautious):
        said = reader.say("fill it once" if energy else "what to do is unknown", bank=subject)
        return Todo(said, said)
    if cautious >= HORIZON_DAYS:
        said = reader.say("no need to charge" if energy else "no need for water")
        return Todo(reader.word("Not within ten days."), said)
    limits = reader.settings.limits
    pressing = cautious <= max(1.5 if energy else 3.0, limits.energy_days if energy else limits.water_days)
    if cautious <= 0:
        said = reader.say("charge now" if energy else "water now", bank=subject)
        return Todo(reader.word("Charge now.") if energy else reader.word("Fill now."), said, True)
    now_s = reader.snapshot.utc_s
    if now_s is None:
        said = reader.say("charge in" if energy else "water in", bank=subject, days=cautious)
        return Todo(said, said, pressing)
    by = moment(whole_hour(now_s + cautious * DAY_S), now_s, reader.dress)
    said = reader.say("charge by" if energy else "water by", bank=subject, by=by)
    text = N_("Charge by {by}.") if energy else N_("Fill by {by}.")
    return Todo(reader.word(text, by=by), said, pressing)


def _net_power(reader: Reader, bank: Bank) -> list[Figure]:
    volts_now, amps_now = (reader.reading(bank.name, q) for q in ("voltage", "current"))
    if not (volts_now and amps_now) or volts_now.value is None or amps_now.value is None:
        return []
    power_W = volts_now.value * amps_now.value
    oldest_s = reader.snapshot.at_s - min(volts_now.at_s, amps_now.at_s)
    silent = volts_now.silent or amps_now.silent
    way = N_("Now going in") if power_W > 0 else N_("Now going out")
    href = rests_href("reading", f"{bank.name} current")
    return [
        Figure(
            reader.word(way), watts(abs(power_W), reader.dress), "", aged(oldest_s, reader.dress),
            "silent" if silent else "live", href,
        )
    ]  # fmt: skip


def _unbound(reader: Reader, what: str, title: str, needs: str) -> Amount:
    said = reader.say("nothing bound", what=reader.word(needs))
    return Amount(what, title, unknown(reader.dress), "", "", None, Todo(said, said), "", "", "", ())
