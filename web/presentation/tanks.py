"""The tanks: what is in each with its band, drawn by volume, its state, and how old its water is."""

from dataclasses import dataclass

from monitor.records import Filling, WaterAge
from monitor.settings import Tank
from monitor.words.say import named, say
from monitor.words.tongues import N_, translated_count
from monitor.words.units import Dress, known, litres, pct, span, unknown
from web.presentation.figures import Figure, Reader, from_estimate, of_subject, or_unknown, rests_href

STATES = (N_("in use"), N_("isolated"), N_("doubtful"))
HELD = (N_("held"), N_("stuck"), N_("silent"))
UNUSED = N_("not drawn from")
STILL = "tank: not drawn from"
"""What the watch finds of a tank whose valve nobody has said to be shut."""
TOLD_ELSEWHERE = ("tank_L", "tank_share")
"""Estimates of a tank that its litres and its state tell."""
NARROWEST = 340.0
"""The drawing on a phone. [px]"""
LETTER, SMALL_LETTER = 13.0, 7.0
"""How wide a letter of a tank's litres is, and of its name. [px]"""
APART = 0.035
"""Between two drawn tanks, as a share of the whole width."""
ROOM_ABOVE = 0.08
"""Above a full tank, as a share of the drawing's height."""
NEARLY_FULL_PCT = 95.0
"""From here on a tank may spill through its vent while it is being filled. Common practice."""


@dataclass(frozen=True, slots=True)
class Vessel:
    """A tank drawn as wide as it is large: heights are shares of its volume, downwards from the top."""

    x: float
    width: float
    name: str
    """As much of it as finds room."""
    figure: str
    """Empty where it finds no room at all."""
    small: bool
    top_y: float
    level_y: float | None
    amount_y: float
    """Where its litres are written: in the water, or above it where that is shallow."""
    band: tuple[float, float] | None
    bottom_y: float | None
    """Where the unusable bottom begins."""
    aside: bool
    """Isolated or doubtful: not in the days left."""
    held: bool
    """Its level is not what a sender says now."""
    said: str
    told: str


@dataclass(frozen=True, slots=True)
class TankCard:
    name: str
    title: str
    figure: Figure
    room: str
    state: str
    """As the crew last said."""
    standing: str
    """The same in a word, or what the watch finds of a tank that is said to be in use."""
    counted: str
    age: str
    filling: bool
    heard: bool
    """Its sender tells its level: a filling can be followed."""
    dips: bool
    """No sender tells its level now: what the crew dips counts."""
    more: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class FillingCard:
    """A tank being filled now; `level` is drawn, 95 % is where it may spill."""

    tank: str
    href: str
    title: str
    litres: str
    rate: str
    full_in: str
    level: float
    level_told: str
    near: bool


def vessels(reader: Reader) -> tuple[Vessel, ...]:
    """All tanks side by side, each as wide as it is large."""
    tanks = reader.settings.tanks
    whole = sum(t.capacity_L for t in tanks)
    scale = (1 - APART * (len(tanks) - 1)) / whole if whole else 0.0
    found, x = [], 0.0
    for tank in tanks:
        found.append(_vessel(reader, tank, x, tank.capacity_L * scale))
        x += tank.capacity_L * scale + APART
    return tuple(found)


def _vessel(reader: Reader, tank: Tank, x: float, width: float) -> Vessel:
    e = reader.estimate("tank_L", tank.name)
    figure = from_estimate(reader, "tank_L", tank.name)
    level: float | None = None
    band: tuple[float, float] | None = None
    if e is not None and e.value is not None and known(e.value):
        level = _y(tank, e.value)
        if e.low is not None and e.high is not None and known(e.low) and known(e.high):
            band = (_y(tank, e.high), _y(tank, e.low))
    of = reader.say("usable of", usable=tank.capacity_L - tank.unusable_L)
    told = reader.word("{tank}: {amount}, {of}", tank=named(tank.name), amount=figure.text, of=of)
    if figure.band:
        told = reader.word(
            "{tank}: {amount}, {band}, {of}",
            tank=named(tank.name),
            amount=figure.text,
            band=figure.band,
            of=of,
        )
    bottom = _y(tank, 0.0) if tank.unusable_L > 0 else None
    surface = 0.62 if level is None else level
    amount_y = (surface + (bottom or 1.0)) / 2 if (bottom or 1.0) - surface > 0.28 else surface - 0.1
    held = e is not None and level is not None and not e.reason.id.startswith("tank level")
    state = state_of(reader, tank)
    words = [word] if (word := _standing(reader, tank)) != STATES[0] else []
    words += [word for word in HELD if held and e is not None and word in e.reason.id]
    amount, small = _fitting(figure.text, width, level is None)
    return Vessel(
        x, width, _cut(named(tank.name), width), amount, small, ROOM_ABOVE, level, amount_y, band, bottom,
        state != STATES[0], held, ", ".join(reader.word(word) for word in words), told,
    )  # fmt: skip


def _fitting(amount: str, width: float, unknown_now: bool) -> tuple[str, bool]:
    """The litres, and whether they are written small, as far as there is room for them."""
    if not unknown_now and len(amount) * LETTER <= width * NARROWEST:
        return amount, False
    return (amount if len(amount) * SMALL_LETTER <= width * NARROWEST else ""), True


def _cut(name: str, width: float) -> str:
    most = int(width * NARROWEST / SMALL_LETTER)
    return name if len(name) <= most else name[: max(1, most - 1)].rstrip() + "\u2026"


def _y(tank: Tank, usable_L: float) -> float:
    """Where that many usable litres stand."""
    share = (tank.unusable_L + usable_L) / tank.capacity_L
    return ROOM_ABOVE + (1 - ROOM_ABOVE) * (1 - min(1.0, max(0.0, share)))


def state_of(reader: Reader, tank: Tank) -> str:
    """As the crew last said; the settings where they did not."""
    e = reader.estimate("tank_share", tank.name)
    if e is not None and e.reason.id.startswith("tank: shut off"):
        return STATES[1]
    said = e.reason.facts.get("state") if e is not None else None
    doubtful = tank.doubtful if e is None or said is None else False
    if said in STATES:
        return str(said)
    return STATES[2] if doubtful or (e is not None and e.reason.id == "tank: doubtful") else STATES[0]


def cards(reader: Reader) -> tuple[TankCard, ...]:
    ages = {a.tank: a for a in reader.snapshot.water.ages}
    filling = {f.tank for f in reader.snapshot.water.fillings}
    found = []
    for tank in reader.settings.tanks:
        state = state_of(reader, tank)
        e, level = reader.estimate("tank_L", tank.name), reader.reading(tank.name, "level")
        usable_L = tank.capacity_L - tank.unusable_L
        room = reader.say("usable of", usable=usable_L)
        if tank.unusable_L > 0:
            room = reader.say("usable of, bottom", usable=usable_L, bottom=tank.unusable_L)
        found.append(
            TankCard(
                name=tank.name,
                title=named(tank.name),
                figure=from_estimate(reader, "tank_L", tank.name, reader.word("Usable")),
                room=room,
                state=state,
                standing=reader.word(_standing(reader, tank)),
                counted=_counted(reader, tank, state),
                age=_age(reader, ages.get(tank.name)),
                filling=tank.name in filling,
                heard=level is not None and not level.silent,
                dips=level is None or level.silent or e is None or e.value is None,
                more=of_subject(reader, tank.name, TOLD_ELSEWHERE)[0],
            )
        )
    return tuple(found)


def _standing(reader: Reader, tank: Tank) -> str:
    state, e = state_of(reader, tank), reader.estimate("tank_share", tank.name)
    return UNUSED if state == STATES[0] and e is not None and e.reason.id == STILL else state


def _counted(reader: Reader, tank: Tank, state: str) -> str:
    """What its state means for the days left; nothing of a tank that is in use and falls as it should."""
    e = reader.estimate("tank_share", tank.name)
    if e is not None and e.reason.id == STILL:
        return say(e.reason, reader.dress)
    if state == STATES[0]:
        return ""
    if e is not None and e.reason.id != "tank: share not known":
        return say(e.reason, reader.dress)
    return reader.say(f"tank {state}")


def _age(reader: Reader, age: WaterAge | None) -> str:
    if age is None or age.mean_days is None:
        return reader.say("water age unknown")
    facts = {"mean": _days(age.mean_days, reader.dress), "oldest": _days(age.oldest_days, reader.dress)}
    mixed = age.oldest_days is not None and age.oldest_days - age.mean_days >= 1
    said = [reader.say("water age mixed" if mixed else "water age", **facts)]
    said.append(
        reader.say("water from", source=age.source) if age.source else reader.say("water from unknown")
    )
    treated = {True: "water treated", False: "water untreated", None: "water treatment unknown"}
    return " ".join([*said, reader.say(treated[age.treated])])


def _days(days: float | None, dress: Dress) -> str:
    if days is None or not known(days):
        return unknown(dress)
    if days < 1:
        return dress.text("less than a day")
    return translated_count("{n} day", "{n} days", int(days), dress.language).format(n=int(days))


def filling_cards(reader: Reader) -> tuple[FillingCard, ...]:
    return tuple(_filling(reader, f) for f in reader.snapshot.water.fillings)


def _filling(reader: Reader, f: Filling) -> FillingCard:
    near = f.level_pct >= NEARLY_FULL_PCT
    stop = reader.say("filling: stop now")
    return FillingCard(
        f.tank,
        rests_href("tank_L", f.tank),
        reader.say("filling now", tank=f.tank),
        litres(f.litres, reader.dress),
        or_unknown(f.L_per_min, lambda v, d: reader.word("{amount}/min", amount=litres(v, d)), reader.dress),
        stop if near else or_unknown(f.full_in_s, span, reader.dress),
        min(1.0, max(0.0, f.level_pct / 100)),
        pct(f.level_pct, reader.dress),
        near,
    )
