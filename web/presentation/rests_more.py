"""What numbers rest on that are worked out for a page: what comes in, ways to charge, a rehearsal, ways to
save, what is due, what a watermaker gives."""

from collections.abc import Callable

from monitor.records import Counter
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import litres, pct, rate, span, watts, wh
from web.presentation.figures import Figure, Reader, from_estimate, from_reading, or_unknown
from web.presentation.rests import Rests, feeds_of, readings_of

METERED = N_(
    "By its own instrument, summed by the minute; today is since the ship's midnight. What it puts in while"
    " it runs, with what the loads take meanwhile, is learned from its own runs; until there are enough it is"
    " reckoned from the settings."
)
BY_BALANCE = N_(
    "No instrument measures it: what the banks took beyond every meter, so at least that much, as the loads"
    " are not seen in it. What it puts in while it runs is learned from its own runs; until there are enough"
    " it is reckoned from the settings."
)
WAY = N_(
    "What is missing at the lowest of the cautious course, over what the source puts in, less and less as the"
    " bank fills. As late as it still helps, outside the quiet hours, and an engine never under half an hour:"
    " short runs wear it."
)
REHEARSAL = N_(
    "Several hundred batteries that might be this one are carried side by side: what is left of the label,"
    " how full it stood, how far its voltage gives way. What was seen of it while it gave weighs them. The"
    " likely hours are their middle; nine in ten last longer than the lower ones. The order is the settings'."
)
SAVING = N_(
    "The days of water once more, with so much used by each head and day. What it gains is told of the"
    " cautious day."
)
DUE = N_("Counted since it was last said to be done, and drawn on at the pace of the last weeks.")
MADE = N_(
    "What its meter says, or its rating while it runs; what a litre takes is the energy of a week over the"
    " litres of the same minutes. Its water counts once it is in a tank."
)


def more_rests(reader: Reader, name: str, subject: str) -> Rests | None:
    """None where no such figure is known."""
    gather = GATHERED.get(name)
    return gather(reader, subject) if gather is not None else None


def _rests(
    reader: Reader, title: str, text: str, how: str, of: str, why: str = "",
    stands_on: tuple[Figure, ...] = (), age: str = "",
) -> Rests:  # fmt: skip
    return Rests(
        title=title,
        figure=Figure(title, text, "", age, "live", "", why),
        how=reader.word(how),
        stands_on=stands_on,
        inputs=tuple(readings_of(reader, of)),
        feeds=tuple(feeds_of(reader, of)),
        history="",
    )


def _plain(label: str, text: str) -> Figure:
    return Figure(label, text, "", "", "set", "")


def _comes_in(reader: Reader, source: str) -> Rests | None:
    f = next((f for f in reader.snapshot.power.flows if f.name == source), None)
    if f is None:
        return None
    dress = reader.dress
    stands_on = [
        _plain(reader.word("Today"), or_unknown(f.today_Wh, wh, dress)),
        _plain(reader.word("Seven days"), or_unknown(f.week_Wh, wh, dress)),
        _plain(reader.word("Puts in while it runs"), watts(f.usual_W, dress)),
    ]
    if not f.metered:
        banks = (b.name for b in reader.settings.banks if b.role == "house")
        stands_on += [r for b in banks if (r := from_reading(reader, b, "current"))]
    title = reader.word("{source}: what comes in", source=named(source))
    how = METERED if f.metered else BY_BALANCE
    return _rests(reader, title, or_unknown(f.watts, watts, dress), how, source, stands_on=tuple(stands_on))


def _way(reader: Reader, source: str) -> Rests | None:
    plan = reader.snapshot.power.plan
    o = None if plan is None else next((o for o in plan.options if o.source == source), None)
    if plan is None or o is None:
        return None
    bank = next((b.name for b in reader.settings.banks if b.role == "house"), "")
    stands_on = (
        _plain(reader.word("Run it"), span(60 * o.minutes, reader.dress)),
        _plain(reader.word("Cautious dawn then"), pct(o.dawn_low_pct, reader.dress)),
        *(from_estimate(reader, n, bank) for n in ("left_Wh", "energy_days") if reader.estimate(n, bank)),
    )
    title = reader.word("{source}: what it puts in", source=named(source))
    told = watts(o.net_W, reader.dress)
    return _rests(reader, title, told, WAY, source, say(plan.reason, reader.dress), stands_on)


def _rehearsal(reader: Reader, bank: str) -> Rests | None:
    r = next((r for r in reader.snapshot.power.rehearsals if r.bank == bank), None)
    if r is None:
        return None
    names = ("buffer_pct", "rested_V", "buffer_mohm", "hours_to_live")
    stands_on = tuple(from_estimate(reader, n, bank) for n in names if reader.estimate(n, bank))
    title = reader.word("{bank} bank: if the house side opened now", bank=named(bank))
    told = or_unknown(r.hours, lambda hours, dress: span(3600 * hours, dress), reader.dress)
    return _rests(reader, title, told, REHEARSAL, bank, say(r.reason, reader.dress), stands_on)


def _saving(reader: Reader, step: str) -> Rests | None:
    plan = reader.snapshot.water.plan
    s = None if plan is None else next((s for s in plan.steps if s.name == step), None)
    if s is None:
        return None
    names = ("water_days", "left_L", "water_L_a_head")
    stands_on = tuple(from_estimate(reader, n, "water") for n in names if reader.estimate(n, "water"))
    title = reader.word("{way}: a head and day", way=named(reader.word(step)))
    return _rests(reader, title, litres(s.L_a_head, reader.dress), SAVING, "water", "", stands_on)


def _due(reader: Reader, service: str) -> Rests | None:
    found = [c for c in reader.snapshot.water.counters if c.name == service]
    if not found:
        return None
    rows = tuple(_plain(reader.word("Used of"), used_of(c, reader)) for c in found)
    names = ("run_hours", "run_litres", "run_starts")
    rows += tuple(
        from_estimate(reader, n, found[0].subject) for n in names if reader.estimate(n, found[0].subject)
    )
    return _rests(reader, named(service), used_of(found[0], reader), DUE, found[0].subject, "", rows)


def used_of(c: Counter, reader: Reader) -> str:
    """ "41 of 60 h": one unit for both."""
    if c.unit == "L":
        used, limit = (litres(v, reader.dress) for v in (c.used, c.limit))
        return reader.word("{used} of {limit}", used=used.partition("\u00a0")[0], limit=limit)
    return reader.word(USED.get(c.unit, USED[""]), used=c.used, limit=c.limit, unit=c.unit)


USED = {
    "h": N_("{used:count} of {limit:count}\u00a0h"),
    "days": N_("{used:count} of {limit:count}\u00a0days"),
    "": N_("{used:count} of {limit:count}\u00a0{unit:text}"),
}
"""With spaces that do not break, as between any number and its unit."""


def _made(reader: Reader, maker: str) -> Rests | None:
    m = next((m for m in reader.snapshot.water.making if m.name == maker), None)
    if m is None:
        return None
    dress = reader.dress
    rows = (
        _plain(reader.word("Gives"), or_unknown(m.L_per_h, rate, dress)),
        *(from_estimate(reader, n, maker) for n in ("made_L", "make_Wh_per_L") if reader.estimate(n, maker)),
    )
    title = reader.word("{maker}: made today", maker=named(maker))
    return _rests(reader, title, or_unknown(m.today_L, litres, dress), MADE, maker, "", rows)


GATHERED: dict[str, Callable[[Reader, str], Rests | None]] = {
    "comes in": _comes_in,
    "way to charge": _way,
    "rehearsal": _rehearsal,
    "saving": _saving,
    "due": _due,
    "made": _made,
}
"""By the name in the address."""
