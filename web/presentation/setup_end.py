"""The end of the guide: what the watch will answer, what it cannot know yet, and the file as it will be."""

from dataclasses import dataclass
from datetime import datetime

from monitor.errors import SettingsError
from monitor.settings import Settings, Subject
from monitor.survey.guide import Guide, is_heard_from
from monitor.survey.things import Thing
from monitor.words.setup import LACKS
from monitor.words.tongues import N_
from web.presentation.figures import Reader
from web.presentation.setup import Step, step

WATCHED = {
    "banks": N_("{name}: a bank of {amount} Ah, heard from {sources}"),
    "tanks": N_("{name}: a tank of {amount:litres}, heard from {sources}"),
}
OTHER = N_("{name}: heard from {sources}")


@dataclass(frozen=True, slots=True)
class End:
    step: Step
    watched: tuple[str, ...]
    lacks: tuple[str, ...]
    text: str
    path: str
    aside: str
    ready: bool


def end(reader: Reader, guide: Guide, now: datetime, said: tuple[str, ...] = ()) -> End:
    mistakes = list(said)
    watched: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    try:
        settings = guide.settings()
    except SettingsError as error:
        mistakes += error.mistakes
    else:
        watched = tuple(_watched(reader, key, s) for key, s in settings.subjects())
        lacks = tuple(reader.word(LACKS[lack]) for lack in lacking(settings, guide.ear.hearing.things()))
        if not watched:
            mistakes.append(reader.say("setup: not bound"))
    aside = guide.kept_as(now)
    return End(
        step(reader, guide, "end", tuple(mistakes)), watched, lacks, guide.text(reader.dress.language),
        str(guide.path), "" if aside is None else reader.say("setup: kept aside", file=aside.name),
        bool(watched),
    )  # fmt: skip


def _watched(reader: Reader, key: str, subject: Subject) -> str:
    sources = ", ".join(dict.fromkeys(feed.source for feed in subject.feeds))
    text = WATCHED.get(key.partition("[")[0], OTHER)
    amount = getattr(subject, "capacity_Ah", getattr(subject, "capacity_L", None))
    shown = f"{amount:g}" if text == WATCHED["banks"] else amount
    return reader.word(text, name=subject.name, amount=shown, sources=sources)


def lacking(settings: Settings, things: tuple[Thing, ...]) -> list[str]:
    """Which figures have no instrument, by the keys of `words.setup.LACKS`."""
    groups = {subject.name: key.partition("[")[0] for key, subject in settings.subjects()}

    def quantities(subject: Subject) -> set[str]:
        found: set[str] = set()
        for feed in subject.feeds:
            if feed.quantity is not None:
                found.add(feed.quantity)
                continue
            said = feed.model_dump(exclude_none=True, exclude_defaults=True)
            for thing in things:
                if is_heard_from(said, groups[subject.name], thing):
                    found |= {one.quantity for one in thing.said}
        return found

    house = next((b for b in settings.banks if b.role == "house"), None)
    lacks = []
    if house is None:
        lacks.append("house")
    else:
        heard = quantities(house)
        lacks += [f"house {q}" for q in ("current", "voltage") if q not in heard]
        if house.chemistry == "lifepo4" and not any(q.startswith("cell ") for q in heard):
            lacks.append("cells")
    if not settings.tanks:
        lacks.append("tank")
    elif any(not quantities(tank) & {"level", "volume"} for tank in settings.tanks):
        lacks.append("level")
    if not any(quantities(pump) & {"running", "current"} for pump in settings.pumps):
        lacks.append("pump")
    if not any(quantities(charger) & {"current", "power"} for charger in settings.chargers):
        lacks.append("charger")
    looked = {q for instrument in settings.instruments for q in quantities(instrument)}
    lacks += [
        name for name, q in (("position", "latitude"), ("temperature", "temperature")) if q not in looked
    ]
    if settings.tanks and "heel" not in looked:
        lacks.append("heel")
    return lacks
