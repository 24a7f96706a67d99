"""What speaks, as the guide shows it: grouped by what it is, its last words in plain units, how often."""

from dataclasses import dataclass

from monitor.survey.guide import Guide
from monitor.survey.things import CURRENTS, PRESSURES, SWITCHES, TEMPERATURES, VALUES, Said, Thing
from monitor.wire.codes import STATES
from monitor.words.say import named
from monitor.words.tongues import N_
from monitor.words.units import number
from web.presentation.figures import Reader, aged, told
from web.presentation.setup import Step, step
from web.presentation.setup_listen import SourceRow, source_rows

GROUPS = {
    "banks": N_("Batteries"), "tanks": N_("Tanks"), "pumps": N_("Pumps"), SWITCHES: N_("Switches"),
    "chargers": N_("Chargers"), CURRENTS: N_("Measured currents"), "supplies": N_("Supplies of mains"),
    "inverters": N_("Inverters"), "engines": N_("Engines"), "watermakers": N_("Watermakers"),
    TEMPERATURES: N_("Temperatures"), PRESSURES: N_("Pressures"),
    "instruments": N_("Position, attitude and the like"), VALUES: N_("Values by their own names"),
}  # fmt: skip
CALLED = {
    "banks": N_("battery {n}"), "tanks": N_("tank {n}"), "pumps": N_("pump"),
    SWITCHES: N_("switch {i} of bank {n}"),
    "chargers": N_("charger {n}"), CURRENTS: N_("measuring point {n}"), "supplies": N_("mains input {n}"),
    "inverters": N_("inverter {n}"), "engines": N_("engine {n}"), "watermakers": N_("watermaker {n}"),
    TEMPERATURES: N_("temperature {n}"), PRESSURES: N_("pressure {n}"),
}  # fmt: skip
MOST = 60
"""Values by their own names on one page; the rest is looked for."""


@dataclass(frozen=True, slots=True)
class ThingRow:
    id: str
    called: str
    by: str
    said: str
    when: str
    is_: str
    """What it is named as; empty while it is not."""
    twin: bool


@dataclass(frozen=True, slots=True)
class Part:
    title: str
    rows: tuple[ThingRow, ...]
    more: str


@dataclass(frozen=True, slots=True)
class Heard:
    step: Step
    first: str
    parts: tuple[Part, ...]
    sources: tuple[SourceRow, ...]
    notes: tuple[str, ...]
    find: str
    findable: bool
    bound: tuple[tuple[str, str], ...]
    """Names and what they are, of all that is named."""


def heard(reader: Reader, guide: Guide, find: str = "", said: tuple[str, ...] = ()) -> Heard:
    things = guide.ear.hearing.things()
    wanted = find.casefold().split()
    shown = [
        t for t in things if all(w in f"{t.message}{t.feed.get('pointer', '')}".casefold() for w in wanted)
    ]
    parts = []
    for group, title in GROUPS.items():
        rows = [t for t in shown if t.group == group]
        if rows:
            left = len(rows) - MOST if group == VALUES else 0
            more = (
                reader.word(N_("{left:count} more: look for a word of their names."), left=left)
                if left > 0
                else ""
            )
            kept = rows[:MOST] if group == VALUES else rows
            parts.append(Part(reader.word(title), tuple(thing_row(reader, guide, t) for t in kept), more))
    notes = []
    for name, unknown in guide.ear.hearing.unknown().items():
        if unknown.frames:
            notes.append(
                reader.say("setup: unknown", source=name, frames=unknown.frames, kinds=unknown.kinds)
            )
        if unknown.left_out:
            notes.append(reader.say("setup: left out", source=name, count=unknown.left_out))
    bound = tuple((row["name"], _kind(reader, group)) for group, row in guide.subjects())
    first = reader.say("setup: heard", things=len(things)) if things else reader.say("setup: nothing heard")
    return Heard(
        step(reader, guide, "heard", said), first, tuple(parts), source_rows(reader, guide), tuple(notes),
        find, bool(find) or sum(t.group == VALUES for t in things) > MOST // 3, bound,
    )  # fmt: skip


def thing_row(reader: Reader, guide: Guide, thing: Thing) -> ThingRow:
    found = guide.bound_to(thing)
    return ThingRow(
        thing.id,
        called(reader, thing),
        by(reader, thing),
        ", ".join(said_words(reader, thing)) or reader.word(N_("nothing that is read yet")),
        when(reader, guide, thing),
        "" if found is None else found[1]["name"],
        thing.twin,
    )


def called(reader: Reader, thing: Thing) -> str:
    if thing.group == VALUES:
        pointer = str(thing.feed.get("pointer", ""))
        return f"{thing.message} {pointer}".strip()
    if thing.group == "instruments":
        return named(reader.word(thing.message))
    n, i = thing.feed.get("instance", ""), thing.feed.get("indicator", "")
    told = named(reader.word(CALLED[thing.group], n=str(n), i=str(i)))
    return reader.titled(told, reader.word(thing.code)) if thing.code else told


def by(reader: Reader, thing: Thing) -> str:
    if not thing.sender:
        return thing.source
    text = N_("on {source}, from device {sender}; another device has the same number")
    plain = N_("on {source}, from device {sender}")
    return reader.word(text if thing.twin else plain, source=thing.source, sender=thing.sender)


def said_words(reader: Reader, thing: Thing) -> list[str]:
    return [_said(reader, s, thing.group == VALUES) for s in thing.said if s.value is not None]


def _said(reader: Reader, said: Said, bare: bool) -> str:
    if said.value is None:
        return ""
    if bare or not said.quantity:
        return number(said.value, reader.dress)
    states = STATES.get(said.quantity)
    if states is not None and len(states) > 2 and 0 <= said.value < len(states):
        value = reader.word(states[int(said.value)])
    else:
        value = told(f"it {said.quantity}", said.value, reader.dress)
    if said.quantity in ("level", "temperature", "heel", "latitude", "longitude", "running"):
        return {"running": reader.word(N_("on") if said.value else N_("off"))}.get(said.quantity, value)
    return reader.word(N_("{quantity:text} {value}"), quantity=said.quantity, value=value)


def when(reader: Reader, guide: Guide, thing: Thing) -> str:
    if not thing.heard:
        return reader.word(N_("kept by the broker; its age is not known"))
    age = aged(max(0.0, guide.ear.now_s() - thing.heard_at_s), reader.dress)
    if thing.every_s is None:
        return reader.word(N_("once, {age}"), age=age)
    if thing.every_s < 0.95:
        return reader.word(N_("several times a second, {age}"), age=age)
    return reader.word(N_("every {every:span}, {age}"), every=thing.every_s, age=age)


def _kind(reader: Reader, group: str) -> str:
    return reader.word(GROUPS.get(group, group))
