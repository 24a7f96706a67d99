"""What stands around every page: whose boat, which moment, what is wrong with the watch itself."""

from dataclasses import dataclass

from monitor.records import PEOPLE, PLACES
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import clock, clock_time, date
from web.presentation.alert_cards import Cards, alert_cards
from web.presentation.figures import Reader, quantity_of
from web.presentation.sound import Told, sound

AS_DETECTED = N_("as detected")
PLACES_TO_CHOOSE = (*PLACES, AS_DETECTED)
PEOPLE_TO_CHOOSE = (*PEOPLE, AS_DETECTED)


@dataclass(frozen=True, slots=True)
class Frame:
    boat: str
    moment: str
    as_of: str
    told: str
    """The moment, as the line says it that counts its age."""
    mode: str
    mode_by: str
    place: str
    people: str
    before: dict[str, str]
    """The form that brings back the mode as it is now."""
    notices: tuple[str, ...]
    alerts: Cards
    silences: tuple[str, ...]
    sound: Told
    unarmed: str
    deaf: str


def frame(reader: Reader) -> Frame:
    s = reader.snapshot
    moment = reader.word("time not known")
    if s.utc_s is not None:
        moment = f"{date(s.utc_s, reader.dress)}, {clock_time(s.utc_s, reader.dress)}"
    return Frame(
        boat=reader.settings.boat.name,
        moment=moment,
        as_of=as_of(reader),
        told=reader.word("As of {moment}", moment=as_of(reader)),
        mode=named(reader.word("{place:text}, {people:text}", place=s.mode.place, people=s.mode.people)),
        mode_by=reader.word("as the crew said") if s.mode.by_hand else reader.word("as the watch sees it"),
        place=s.mode.place,
        people=s.mode.people,
        before={
            "action": "/mode",
            "place": s.mode.place if s.mode.by_hand else AS_DETECTED,
            "people": s.mode.people if s.mode.by_hand else AS_DETECTED,
        },
        notices=_notices(reader),
        alerts=alert_cards(reader),
        silences=silences(reader),
        sound=sound(reader),
        unarmed=reader.say("sound: unarmed"),
        deaf=reader.say("sound: deaf"),
    )


def as_of(reader: Reader) -> str:
    """The snapshot's moment to the second, for the line that counts its age."""
    s = reader.snapshot
    if s.utc_s is None:
        return reader.word("{at_s:span} after the start", at_s=s.at_s)
    return f"{clock(s.utc_s, reader.dress)}:{int(s.utc_s % 60):02d}"


def _notices(reader: Reader) -> tuple[str, ...]:
    s = reader.snapshot
    said = [reader.say("demo", what=s.demo)] if s.demo else []
    if s.utc_s is None:
        said.append(reader.say("clock not known"))
    elif not s.clock_trusted:
        said.append(reader.say("clock not confirmed"))
    return (*said, *(say(t, reader.dress) for t in s.troubles))


def silences(reader: Reader) -> tuple[str, ...]:
    """One line a silent source, one a silent bank, tank or pump, and one for all the rest, which may
    well be switched off: an engine at rest, a shore line unplugged."""
    said, at_rest = _deaf(reader), []
    for subject, quantities in _silent_readings(reader).items():
        if subject not in _always_on(reader):
            at_rest.append(subject)
            continue
        names, ages = ", ".join(reader.word(q) for q in quantities), quantities.values()
        said.append(reader.say("readings silent", subject=named(subject), quantities=names, ago=min(ages)))
    if at_rest:
        id = "silent at rest too" if said else "silent at rest"
        said.append(reader.say(id, subjects=", ".join(sorted(at_rest))))
    return tuple(said)


def hears_all(reader: Reader) -> bool:
    """Whether every source speaks and no bank, tank or pump is silent."""
    return not _deaf(reader) and not _always_on(reader).intersection(_silent_readings(reader))


def _always_on(reader: Reader) -> set[str]:
    settings = reader.settings
    return {s.name for s in (*settings.banks, *settings.tanks, *settings.pumps)}


def _deaf(reader: Reader) -> list[str]:
    s = reader.snapshot
    said = []
    for source in s.sources:
        if source.up:
            continue
        if source.trouble:
            said.append(reader.say("source trouble", source=source.name, trouble=source.trouble))
        elif source.heard_at_s is None:
            said.append(reader.say("source never heard", source=source.name))
        else:
            said.append(reader.say("source silent", source=source.name, ago=s.at_s - source.heard_at_s))
    return said


def _silent_readings(reader: Reader) -> dict[str, dict[str, float]]:
    """By subject: the quantities that are silent and for how many seconds."""
    s = reader.snapshot
    found: dict[str, dict[str, float]] = {}
    for channel, reading in s.values.items():
        if reading.silent and (quantity := quantity_of(channel)):
            subject = channel.partition(f" {quantity}")[0]
            found.setdefault(subject, {})[quantity] = s.at_s - reading.at_s
    return found
