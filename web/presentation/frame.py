"""What stands around every page: whose boat, which moment, what is wrong with the watch itself."""

from dataclasses import dataclass

from monitor.records import OpenAlert, Severity
from monitor.words.say import SENTENCES, named, say
from monitor.words.units import clock, clock_time, date, span
from web.presentation.figures import Reader, quantity_of

GRADES = {Severity.ALARM: "Alarm", Severity.WARNING: "Warning", Severity.CAUTION: "Caution"}
AS_DETECTED = "as detected"
PLACES = ("at anchor", "alongside", "sailing", "motoring", AS_DETECTED)
PEOPLE = ("awake", "asleep", "away", "laid up", AS_DETECTED)


@dataclass(frozen=True, slots=True)
class AlertCard:
    alert: str
    grade: str
    severity: str
    name: str
    since: str
    because: str
    todo: str
    otherwise: str
    acknowledged: bool
    gone: bool
    note: str


@dataclass(frozen=True, slots=True)
class Frame:
    boat: str
    moment: str
    as_of: str
    mode: str
    mode_by: str
    place: str
    people: str
    notices: tuple[str, ...]
    alerts: tuple[AlertCard, ...]
    silences: tuple[str, ...]


def frame(reader: Reader) -> Frame:
    s = reader.snapshot
    moment = "time not known"
    if s.utc_s is not None:
        moment = f"{date(s.utc_s, reader.dress)}, {clock_time(s.utc_s, reader.dress)}"
    return Frame(
        boat=reader.settings.boat.name,
        moment=moment,
        as_of=as_of(reader),
        mode=f"{named(s.mode.place)}, {s.mode.people}",
        mode_by="as the crew said" if s.mode.by_hand else "as the watch sees it",
        place=s.mode.place,
        people=s.mode.people,
        notices=_notices(reader),
        alerts=alert_cards(reader),
        silences=silences(reader),
    )


def as_of(reader: Reader) -> str:
    """The snapshot's moment to the second, for the line that counts its age."""
    s = reader.snapshot
    if s.utc_s is None:
        return f"{span(s.at_s, reader.dress)} after the start"
    return f"{clock(s.utc_s, reader.dress)}:{int(s.utc_s % 60):02d}"


def alert_cards(reader: Reader) -> tuple[AlertCard, ...]:
    """The gravest first, and the unseen before the seen."""
    grades = list(GRADES)
    s = reader.snapshot
    ordered = sorted(
        s.alerts, key=lambda a: (a.state == "acknowledged", grades.index(a.severity), -a.since_s)
    )
    cards = []
    for a in ordered:
        since = f"{span(s.at_s - a.since_s, reader.dress)} ago"
        if s.utc_s is not None:
            since = f"since {clock(s.utc_s - (s.at_s - a.since_s), reader.dress)}"
        cards.append(
            AlertCard(
                a.alert, GRADES[a.severity], a.severity.value, _of_rule(a, "name", reader) or a.rule, since,
                say(a.reason, reader.dress), _of_rule(a, "do", reader), _of_rule(a, "otherwise", reader),
                acknowledged=a.state == "acknowledged",
                gone=a.state == "returned",
                note="" if a.recorded else reader.say("not on the card"),
            )
        )  # fmt: skip
    return tuple(cards)


def _of_rule(a: OpenAlert, part: str, reader: Reader) -> str:
    """What the rule is called, what to do, what happens otherwise; empty where nothing is written."""
    id = f"{a.rule}: {part}"
    return reader.say(id, **a.reason.facts) if id in SENTENCES else ""


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
        names, ages = ", ".join(quantities), quantities.values()
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
