"""The first-run guide: its steps, and what it asks of the boat herself, one question a page."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo, available_timezones

from monitor.survey.guide import Guide
from monitor.survey.places import zone_guess
from monitor.system_clock import network_time_synchronised
from monitor.words.tongues import LANGUAGES, N_
from monitor.words.units import clock
from web.presentation.figures import Reader

STEPS = ("language", "name", "crew", "zone", "listen", "heard", "end")
ASKS = {
    "language": (
        N_("Which language shall she speak?"),
        N_("What is sent is in it, too. Each browser may choose its own."),
    ),
    "name": (N_("What is the boat called?"), N_("As you would say it. It stands at the head of every page.")),
    "crew": (
        N_("How many are usually aboard?"),
        N_("Who drinks and washes: it sets the water that is kept in reserve. It can be said anew any day."),
    ),
    "zone": (N_("Where does the ship's clock stand?"), N_("Moving it later moves no history.")),
}  # fmt: skip
LABELS = {"language": N_("Language"), "name": N_("Name"), "crew": N_("People"), "zone": N_("Time zone")}


@dataclass(frozen=True, slots=True)
class Step:
    """Where in the guide a page stands; `said` is what went wrong, `notes` what is told of the draft."""

    name: str
    n: int
    of: int
    back: str
    said: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    step: Step
    first: str
    note: str
    label: str
    value: str
    among: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    """Choices in named parts; empty where it is typed."""
    number: bool
    more: tuple[str, ...]


def step(reader: Reader, guide: Guide, name: str, said: tuple[str, ...] = (), back: str = "") -> Step:
    at = STEPS.index(name)
    notes = []
    if guide.trouble:
        notes.append(reader.say("setup: draft not kept", why=guide.trouble))
    if guide.damaged:
        notes.append(reader.say("setup: draft damaged", file=guide.damaged))
    before = back or (address(STEPS[at - 1]) if at else "")
    return Step(name, at + 1, len(STEPS), before, said, tuple(notes))


def address(name: str) -> str:
    return f"/setup/boat/{name}" if name in ASKS else f"/setup/{name}"


def first_open(guide: Guide) -> str:
    """The first step that has not been answered."""
    boat = guide.boat
    for name, key in (("language", "language"), ("name", "name"), ("crew", "crew"), ("zone", "time_zone")):
        if key not in boat:
            return name
    return "heard" if guide.rows("sources") else "listen"


def question(
    reader: Reader, guide: Guide, name: str, said: tuple[str, ...] = (), typed: str | None = None
) -> Question:
    first, note = (reader.word(text) for text in ASKS[name])
    boat = guide.boat
    among: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()
    more: tuple[str, ...] = ()
    if name == "language":
        value = str(boat.get("language", reader.dress.language))
        among = (("", tuple(LANGUAGES.items())),)
    elif name == "zone":
        value = str(boat.get("time_zone", zone_guess()))
        among = _zones()
        more = _time(reader, value)
    elif name == "crew":
        value = str(boat.get("crew", 2))
    else:
        value = str(boat.get("name", ""))
    return Question(
        step(reader, guide, name, said), first, note, reader.word(LABELS[name]),
        value if typed is None else typed, among, name == "crew", more,
    )  # fmt: skip


def answer(guide: Guide, name: str, typed: str) -> None:
    """Raises SettingsError."""
    text = " ".join(typed.split())
    value: object = int(text) if name == "crew" and text.isascii() and text.isdigit() else text
    guide.say_boat("time_zone" if name == "zone" else name, value)


def _zones() -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    """By the part of the world, as the tz database names them; the rest last."""
    parts: dict[str, list[tuple[str, str]]] = {}
    for name in sorted(available_timezones()):
        part, slash, place = name.partition("/")
        if slash and part not in ("Etc", "SystemV", "posix", "right"):
            parts.setdefault(part, []).append((name, place.replace("_", " ").replace("/", ", ")))
    return (("", (("UTC", "UTC"),)), *((part, tuple(places)) for part, places in parts.items()))


def _time(reader: Reader, zone: str) -> tuple[str, ...]:
    now_s = datetime.now(UTC).timestamp()
    local = replace(reader.dress, zone=ZoneInfo(zone))
    sure = network_time_synchronised()
    return (
        reader.word(N_("By this computer it is {when} there."), when=clock(now_s, local)),
        reader.word(
            N_("The network confirms that it keeps time.")
            if sure
            else N_(
                "Nobody confirms its clock. A computer without a battery for its clock starts in the past:"
                " the watch then waits for the time from a position receiver or the network, and loses"
                " nothing."
            )
        ),
    )
