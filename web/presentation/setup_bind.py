"""Naming one thing: what it may be, what of it cannot be heard, and what the answers make in the settings."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.channels import QUANTITIES
from monitor.errors import SettingsError
from monitor.survey.guide import Guide
from monitor.survey.things import SWITCHES, VALUES, Thing
from monitor.wire import rvc
from monitor.words.tongues import N_
from monitor.words.units import amps, fixed
from web.presentation.figures import Reader
from web.presentation.setup import Step, step
from web.presentation.setup_heard import ThingRow, thing_row
from web.presentation.setup_kinds import FOR, GUESSED, HEARD, KINDS, Ask

OF = "of:"
"""Leads the name of what is named already, of which this is one more instrument."""
SYSTEM_V = {"12": (12.8, 12.0), "24": (25.6, 24.0), "48": (51.2, 48.0)}
NAME = Ask("name", N_("Name"), note=N_("As you call it aboard."))
MEASURES = [
    q for q in QUANTITIES.values()
    if q.silent_after_s and not (q.name.startswith("cell ") and q.name[5].isdigit() and len(q.name) > 20)
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    told: str
    note: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Row:
    key: str
    label: str
    value: str
    unit: str
    mark: str
    note: str
    among: tuple[tuple[str, str], ...]
    needed: bool


@dataclass(frozen=True, slots=True)
class Naming:
    """`choices` on the first page, `rows` on the second; `turn` tells the sign of a current as it would be
    read."""

    step: Step
    thing: ThingRow
    as_: str
    first: str
    choices: tuple[Choice, ...]
    rows: tuple[Row, ...]
    turn: str
    turned: bool


def choosing(reader: Reader, guide: Guide, thing: Thing, said: tuple[str, ...] = ()) -> Naming:
    offered = FOR[thing.group]
    choices = [
        Choice(id, reader.word(KINDS[id].told), reader.word(KINDS[id].note), n == 0 and thing.group != VALUES)
        for n, id in enumerate(offered)
    ]
    more = [
        Choice(
            f"{OF}{row['name']}",
            reader.word(N_("one more instrument of {name}"), name=row["name"]),
            "",
            False,
        )
        for _, row in guide.subjects()
    ]
    # A bare value belongs to something that is named already more often than not.
    choices = [*more, *choices] if thing.group == VALUES else [*choices, *more]
    if thing.group not in (VALUES, "instruments") and "instrument" not in offered:
        kind = KINDS["instrument"]
        choices.append(Choice("instrument", reader.word(kind.told), reader.word(kind.note), False))
    return Naming(
        step(reader, guide, "heard", said, "/setup/heard"), thing_row(reader, guide, thing), "",
        reader.word(N_("What is this?")), tuple(choices), (), "", False,
    )  # fmt: skip


def detailing(
    reader: Reader,
    guide: Guide,
    thing: Thing,
    as_: str,
    typed: Mapping[str, str] | None = None,
    said: tuple[str, ...] = (),
) -> Naming:
    first = reader.word(N_("What cannot be heard of it"))
    if as_.startswith(OF):
        first = reader.word(N_("One more instrument of {name}"), name=as_.removeprefix(OF))
    rows = tuple(
        _row(reader, guide, ask, (typed or {}).get(ask.key)) for ask in asks(reader, guide, thing, as_)
    )
    turn = ""
    group = _group(guide, as_)
    current = _current(thing, typed)
    if group == "banks" and current is not None:
        into = current if usual(thing) == "charging" else -current
        text = (
            N_("Read as usual it is being charged with {amps}.")
            if into >= 0
            else N_("Read as usual it is being discharged with {amps}.")
        )
        turn = reader.word(text, amps=amps(abs(into), reader.dress))
    back = f"/setup/bind?thing={thing.id}"
    return Naming(
        step(reader, guide, "heard", said, back), thing_row(reader, guide, thing), as_, first, (), rows, turn,
        (typed or {}).get("turned") == "yes",
    )  # fmt: skip


def usual(thing: Thing) -> str:
    """Which way a positive current flows by the practice of its protocol (`routing.binding.scale_of`)."""
    out = {layout.name for layout in rvc.LAYOUTS.values() if layout.current_out_positive}
    return "discharging" if thing.language == "rvc" and out & {thing.message} else "charging"


def _current(thing: Thing, typed: Mapping[str, str] | None) -> float | None:
    if thing.group != VALUES:
        return thing.value("current")
    measures = (typed or {}).get("quantity", thing.said[0].quantity if thing.said else "")
    return thing.said[0].value if thing.said and measures == "current" else None


def _group(guide: Guide, as_: str) -> str:
    if as_.startswith(OF):
        name = as_.removeprefix(OF)
        return next((group for group, row in guide.subjects() if row["name"] == name), "")
    return KINDS[as_].group


def asks(reader: Reader, guide: Guide, thing: Thing, as_: str) -> list[Ask]:
    """What must be said of it, with the best default there is."""
    found: list[Ask] = []
    if not as_.startswith(OF):
        kind = KINDS[as_]
        name = thing.code if as_ == "instrument" and thing.code else kind.name
        if as_ == "instrument" and thing.group == "instruments":
            name = thing.message
        found = [_with(NAME, _free(guide, reader.word(name)))]
        found += [_known(ask, thing) for ask in kind.asks]
    if thing.group == VALUES:
        said = thing.said[0] if thing.said else None
        guess = said.quantity if said is not None else ""
        share = guess in ("level", "charge") and said is not None and 0 < (said.value or 0) <= 1
        among = tuple((q.name, q.name + (f" [{q.unit}]" if q.unit else "")) for q in MEASURES)
        found.insert(0, Ask("quantity", N_("It measures"), "", guess, GUESSED if guess else "", "", among))
        found.append(
            Ask("scale", N_("Its number times"), "", "100" if share else "1", GUESSED if share else "",
                N_("100 where it says 0.5 for half, 0.001 where it says millivolts."))
        )  # fmt: skip
    return found


def _with(ask: Ask, default: str, mark: str = "") -> Ask:
    return Ask(ask.key, ask.label, ask.unit, default, mark, ask.note, ask.among, ask.of, ask.needed)


def _known(ask: Ask, thing: Thing) -> Ask:
    """What the thing says of itself comes before what is usual."""
    capacity_L, volts, mains = thing.value("capacity"), thing.value("voltage"), thing.value("ac voltage")
    rated = thing.about.get("rated capacity")
    if ask.key == "capacity_L" and capacity_L:
        return _with(ask, f"{capacity_L:g}", HEARD)
    if ask.key == "capacity_Ah" and isinstance(rated, float | int):
        return _with(ask, f"{rated:g}", HEARD)
    if ask.key == "chemistry" and thing.about.get("chemistry") in ("lead", "lithium"):
        return _with(ask, "lead" if thing.about["chemistry"] == "lead" else "lifepo4", HEARD)
    if ask.key == "system" and volts:
        return _with(ask, "12" if volts < 18 else "24" if volts < 36 else "48", GUESSED)
    if ask.key == "nominal_V" and mains and mains > 50:
        return _with(ask, "230" if mains > 170 else "120", GUESSED)
    return ask


def _free(guide: Guide, wanted: str) -> str:
    name, n = wanted, 2
    while name in guide.names():
        name, n = f"{wanted} {n}", n + 1
    return name


def _row(reader: Reader, guide: Guide, ask: Ask, typed: str | None) -> Row:
    among = tuple((value, reader.word(text)) for value, text in ask.among)
    if ask.of:
        among = tuple((row["name"], row["name"]) for row in guide.rows(ask.of))
    if among and (not ask.needed or (ask.key == "quantity" and not ask.default)):
        among = (("", reader.word(N_("not said")) if ask.needed else reader.word(N_("none"))), *among)
    unit, value = ask.unit, ask.default
    if ask.unit == "L":
        unit = reader.dress.volume.symbol
        if value:
            litres = float(value) * reader.dress.volume.per
            value = fixed(litres, 0 if litres == round(litres) or litres >= 100 else 1, reader.dress)
    elif not among and ask.key != "name":
        value = value.replace(".", fixed(0.1, 1, reader.dress)[1])
    return Row(
        ask.key, reader.word(ask.label), value if typed is None else typed, unit, reader.word(ask.mark),
        reader.word(ask.note), among, ask.needed,
    )  # fmt: skip


def name_it(reader: Reader, guide: Guide, thing: Thing, as_: str, typed: Mapping[str, str]) -> None:
    """Put it in the draft. Raises SettingsError; usual mistakes in the reader's language."""
    mistakes: list[str] = []
    said: dict[str, Any] = {}
    for ask in asks(reader, guide, thing, as_):
        text = " ".join(typed.get(ask.key, "").split())
        if not text:
            if ask.needed:
                mistakes.append(reader.say("setup: missing", label=reader.word(ask.label)))
        elif ask.unit or ask.key == "scale":
            try:
                amount = float(text.replace(",", "."))
            except ValueError:
                mistakes.append(reader.say("setup: no number", label=reader.word(ask.label), got=text))
                continue
            said[ask.key] = round(amount / reader.dress.volume.per, 2) if ask.unit == "L" else amount
        else:
            said[ask.key] = text
    if said.get("name") in guide.names():
        mistakes.append(reader.say("setup: name taken", name=said["name"]))
    if mistakes:
        raise SettingsError(mistakes)
    more = _feed(guide, thing, as_, said, typed.get("turned") == "yes")
    if as_.startswith(OF):
        guide.add_to(thing, as_.removeprefix(OF), more)
        return
    kind = KINDS[as_]
    row: dict[str, Any] = {"name": said.pop("name"), **kind.fixed, **said}
    system = row.pop("system", None)
    if system is not None:
        lithium, lead = SYSTEM_V.get(system, SYSTEM_V["12"])
        row["nominal_V"] = lithium if row["chemistry"] == "lifepo4" else lead
    guide.bind(thing, kind.group, row, more)


def _feed(guide: Guide, thing: Thing, as_: str, said: dict[str, Any], turned: bool) -> dict[str, Any]:
    """What the feed says beside how the thing is found."""
    more: dict[str, Any] = {}
    if "quantity" in said:
        more["quantity"] = said.pop("quantity")
    if (scale := said.pop("scale", 1.0)) != 1.0:
        more["scale"] = scale
    if thing.group == SWITCHES:
        kind = next((k for k in KINDS.values() if k.group == _group(guide, as_)), None)
        more["quantity"] = "running" if kind is None else kind.switch
    elif (
        _group(guide, as_) and thing.group not in (VALUES, _group(guide, as_)) and "message" not in thing.feed
    ):
        more["message"] = thing.message
    if turned and _group(guide, as_) == "banks":
        more["positive"] = "discharging" if usual(thing) == "charging" else "charging"
    return more
