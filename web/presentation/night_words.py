"""A span in sentences: what it took, against the usual, what is not explained, what has changed."""

from collections.abc import Iterator, Mapping

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.unusual import UNNAMED
from monitor.records import NightLedger, Reason, Share
from monitor.words.say import say
from monitor.words.units import known, span
from web.presentation.ahead import house
from web.presentation.figures import Reader
from web.presentation.night_ledger import energy, hours, loud, where
from web.presentation.night_parts import Parts
from web.presentation.nights_before import under_way

MUCH_MISSING = 0.05
"""With more of the span unheard than this nothing is compared."""
SAME_SHARE, SAME_WH = 0.04, 15.0
"""Nearer to the usual than the larger of these is about as much."""
TOLD_MISSING_S = 300.0
MOST_CHANGED = 5


def first_of_night(reader: Reader, n: NightLedger, parts: Parts) -> str:
    """The one sentence that is read in the morning."""
    if n.used_Wh is None or not known(n.used_Wh):
        return reader.say("night use unknown")
    changed = ""
    if n.changed and not _torn(n):
        changed = reader.say("night: changed", what=_clause(reader, n.changed[0]))
    return reader.say(
        "night: first",
        took=_took(reader, n, n.used_Wh),
        unexplained=_unexplained(reader, n, parts),
        changed=changed,
    )


def first_of_span(reader: Reader, n: NightLedger, parts: Parts) -> str:
    """The same of any span: there is no usual one."""
    if n.used_Wh is None or not known(n.used_Wh):
        return reader.say("night use unknown")
    seconds = n.end_s - n.start_s
    facts = {
        "used": energy(n.used_Wh, reader.dress),
        "length": span(seconds, reader.dress),
        "missing": n.missing_s,
    }
    if _torn(n):
        took = reader.say("span: at least", **facts)
    elif seconds > 1.5 * DAY_S:
        took = reader.say(
            "span: took", **facts, a_day=energy(n.used_Wh * DAY_S / (seconds - n.missing_s), reader.dress)
        )
    else:
        took = reader.say("span: took little", **facts)
    return reader.say("night: first", took=took, unexplained=_unexplained(reader, n, parts), changed="")


def more(reader: Reader, n: NightLedger, *, night: bool) -> tuple[str, ...]:
    """What else is worth a sentence; `night`: its dusk and its dawn, too."""
    return tuple(_more(reader, n, night))


def _took(reader: Reader, n: NightLedger, used_Wh: float) -> str:
    used, place = energy(used_Wh, reader.dress), where(reader, n.usual.place if n.usual else n.place)
    if under_way(reader, n):
        return reader.say("night: so far", used=used)
    if _torn(n):
        return reader.say("night: at least", used=used, missing=n.missing_s)
    if n.usual is None:
        return reader.say("night: usual unknown", used=used, where=place)
    off_Wh = used_Wh - n.usual.used_Wh
    if abs(off_Wh) < max(SAME_WH, SAME_SHARE * n.usual.used_Wh):
        return reader.say("night: as usual", used=used, where=place)
    if off_Wh > 0:
        return reader.say("night: more", used=used, more=energy(off_Wh, reader.dress), where=place)
    return reader.say("night: less", used=used, less=energy(-off_Wh, reader.dress), where=place)


def _torn(n: NightLedger) -> bool:
    return n.missing_s > MUCH_MISSING * (n.end_s - n.start_s)


def _unexplained(reader: Reader, n: NightLedger, parts: Parts) -> str:
    if not loud(n, parts) or not n.used_Wh or parts.unexplained is None:
        return ""
    left_Wh = parts.unexplained.Wh
    return reader.say(
        "night: unexplained", unexplained=energy(left_Wh, reader.dress), share=100 * left_Wh / n.used_Wh
    )


def _clause(reader: Reader, reason: Reason) -> str:
    """What was not as usual, by the name that the load has now."""
    name, load = str(reason.facts.get("name", "")), str(reason.facts.get("load", ""))
    kind = next((k for k in reader.snapshot.loads if k.id == load), None)
    if kind is not None and not kind.name:
        told = reader.say("ledger: unnamed", watts=kind.watts)
    elif kind is None and (not name or name == UNNAMED):
        told = reader.say("ledger: unnamed unknown")
    else:
        told = reader.say("what ran", name=kind.name if kind else name)
    return say(Reason(reason.id, {**reason.facts, "name": told}), reader.dress).rstrip(".")


def _more(reader: Reader, n: NightLedger, night: bool) -> Iterator[str]:
    say = reader.say
    if night and under_way(reader, n):
        yield say("night under way")
    if len(n.changed) > 1 and not _torn(n):
        also = "; ".join(_clause(reader, reason) for reason in n.changed[1:MOST_CHANGED])
        yield say("night: changed too", what=also)
    for reason in n.health:
        told = _clause(reader, reason)
        yield told[:1].upper() + told[1:] + ("" if told.endswith("?") else ".")
    if n.made_Wh and n.net_Wh is not None:
        net = energy(n.net_Wh, reader.dress)
        yield say("night: made", made=energy(n.made_Wh, reader.dress), net=net if n.net_Wh < 0 else f"+{net}")
    elif n.made_Wh == 0:
        yield say("night: made nothing")
    bank = house(reader)
    name = bank.name if bank else "house"
    if night and n.dusk_pct is not None and n.dawn_pct is not None:
        yield say("night charge", bank=name, dusk=n.dusk_pct, dawn=n.dawn_pct)
    elif night and bank is not None and bank.chemistry == "lifepo4":
        yield say("night charge unknown")
    if name in n.lowest_V:
        yield say("night lowest", lowest=n.lowest_V[name], bank=name)
    if n.water_L is not None:
        yield say("night water", water=n.water_L)
    if n.pump_starts is not None:
        ids = {0: "night pump never", 1: "night pump once"}
        yield say(ids.get(n.pump_starts, "night pump"), starts=n.pump_starts)
    if n.missing_s >= TOLD_MISSING_S:
        yield say("night missing" if night else "span: missing", missing=n.missing_s)
    if n.made_estimated:
        yield say("night made estimated")


def engine_hours(reader: Reader, n: NightLedger, runs: Mapping[str, tuple[float, float]]) -> tuple[str, ...]:
    """What an hour of each alternator and generator put in; `runs` is (Wh, s) by source, where known."""
    kinds = {c.name: c.kind for c in reader.settings.chargers}
    engines = [s for s in n.made_by if kinds.get(s.what, s.what) in ("alternator", "generator")]
    return tuple(_engine_hour(reader, s, *runs.get(s.what, (0.0, 0.0))) for s in engines)


def _engine_hour(reader: Reader, s: Share, Wh: float, seconds: float) -> str:
    if round(s.Wh) <= 0:
        return reader.say("engine nothing", source=s.what)
    if seconds <= 0:
        return reader.say("engine hour unknown", source=s.what)
    return reader.say(
        "engine hour", source=s.what, Wh=Wh * HOUR_S / seconds, made=Wh, hours=hours(seconds, reader.dress)
    )  # fmt: skip
