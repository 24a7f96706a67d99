"""The Log's lines in words: what kind of thing it was, what it was about, and the facts of it."""

import unicodedata
from collections.abc import Iterator, Mapping

from monitor.alerts.limits import LIMITS
from monitor.records import AlertChange, Event, EventKind
from monitor.words.say import named, say
from monitor.words.tongues import N_
from monitor.words.units import FORMATS, GAP, date, number
from web.presentation.alert_cards import GRADES, rule_name
from web.presentation.figures import Reader
from web.presentation.rules import in_unit

ALERT = "alert"
KINDS: dict[str, str] = {
    ALERT: N_("Alert"),
    EventKind.NOTE: N_("Note"),
    EventKind.PUMP_RUN: N_("Pump run"),
    EventKind.FILL: N_("Tank filled"),
    EventKind.FULL: N_("Full charge"),
    EventKind.CHARGE: N_("Charging"),
    EventKind.NIGHT: N_("Night"),
    EventKind.MODE: N_("Where and who"),
    EventKind.JOB: N_("Job aboard"),
    EventKind.VERDICT: N_("Plumbing judged"),
    EventKind.TEST: N_("Guided test"),
    EventKind.SERVICE: N_("Service done"),
    EventKind.CALIBRATION: N_("Calibration"),
    EventKind.RULE: N_("Rule changed"),
    EventKind.SCORE: N_("Alert judged"),
    EventKind.FORECAST: N_("Forecast"),
    EventKind.OUTCOME: N_("Forecast put to the test"),
    EventKind.GAP: N_("Nothing recorded"),
    EventKind.SOURCE: N_("Source"),
    EventKind.CLOCK: N_("Clock"),
    EventKind.STORE: N_("Record"),
}
"""What each kind is called, in the order in which the page offers them."""
SUBJECTS = {
    "boat": N_("the boat"), "crew": N_("the crew"), "watch": N_("the watch"), "energy": N_("energy"),
    "water": N_("water"),
}  # fmt: skip
"""Those that no settings name."""
WHOLE = ("boat", "watch")
"""What is about the whole need not say so."""
FACTS: dict[str, str] = {
    "litres": "{x:litres}",
    "pumped_L": N_("{x:litres} pumped out meanwhile"),
    "left_L": N_("{x:litres} left"),
    "left_Wh": N_("{x:wh} left"),
    "made_Wh": N_("made {x:wh}"),
    "used_Wh": N_("used {x:wh}"),
    "net_Wh": N_("balance {x:wh}"),
    "unexplained_Wh": N_("unexplained {x:wh}"),
    "mean_W": N_("{x:watts} on average"),
    "water_L": N_("water {x:litres}"),
    "offset_A": N_("sensor off by {x:amps}"),
    "dusk_pct": N_("at dusk {x:pct}"),
    "dawn_pct": N_("at dawn {x:pct}"),
    "from_pct": N_("from {x:pct}"),
    "to_pct": N_("to {x:pct}"),
    "top_pct": N_("to {x:pct}"),
    "pump_starts": N_("pump starts {x:count}"),
    "missing_s": N_("not heard for {x:span}"),
    "air_C": N_("air {x:temp}"),
    "L_per_h": "{x:rate}",
    "leak_L_per_h": N_("leak {x:rate}"),
    "likely_days": N_("likely {x:days}"),
    "cautious_days": N_("cautious {x:days}"),
    "truth_days": N_("in truth {x:days}"),
    "place": "{x:text}",
    "people": "{x:text}",
    "source": N_("from {x:text}"),
    "verdict": "{x:text}",
    "outcome": N_("found {x:text}"),
    "cock": N_("at {x:text}"),
    "pump": "{x}",
    "subject": "{x}",
    "minutes": N_("{x:count} min"),
    "heads": N_("heads aboard {x:count}"),
    "used_h": N_("{x:count} h in use"),
    "used_L": N_("{x:litres} in use"),
    "used_days": N_("{x:count} days in use"),
    "probability": N_("probability {x:number}"),
    "value": N_("measured {x:number}"),
    "before": N_("before {x:number}"),
    "on_delay_s": N_("told after {x:span}"),
    "off_delay_s": N_("over after {x:span}"),
    "what": "{x:text}",
    "text": "{x}",
}
"""A fact of an event by its name; one that stands in no row is told as it is called."""
TRUE = {
    "cut": N_("its end was not heard"), "by_hand": N_("as the crew said"), "over": N_("ended"),
    "treated": N_("treated"), "held": N_("it held"), "beyond": N_("past the horizon"),
    "charging": N_("charging as usual"), "as it was": N_("taken back"), "wakes": N_("sounds while all sleep"),
}  # fmt: skip
FALSE = {
    "treated": N_("not treated"), "held": N_("it did not hold"), "wakes": N_("silent while all sleep"),
}  # fmt: skip
HIDDEN = (
    "start_s", "end_s", "since_s", "made_at", "half", "before_half", "rule", "boat", "capacity",
    "made_estimated",
)  # fmt: skip
"""What the line's own time, length and name already tell, or what only a program can use."""
BY_UNIT = {
    "Wh": "wh", "W": "watts", "L": "litres", "A": "amps", "V": "volts", "s": "span", "pct": "pct",
    "days": "days", "bar": "bar", "C": "temp",
}  # fmt: skip
"""How a fact that stands in no row is told, by the unit at the end of its name."""


def kind_word(reader: Reader, kind: str) -> str:
    return reader.word(KINDS[kind])


def subject_word(reader: Reader, subject: str) -> str:
    """What the settings name stays; ours is in the reader's language."""
    return reader.word(SUBJECTS[subject]) if subject in SUBJECTS else subject


def of_alert(reader: Reader, change: AlertChange) -> tuple[str, str]:
    """What, and what became of it."""
    what = reader.titled(reader.word(GRADES[change.severity]), rule_name(reader, change.rule, change.subject))
    return what, reader.titled(named(did(reader, change)), say(change.reason, reader.dress))


def did(reader: Reader, change: AlertChange) -> str:
    """What happened to it; of what was written before that was told, what it was afterwards."""
    old = change.what == "began" and change.state in ("acknowledged", "returned", "ended")
    return reader.say(f"alert did: {change.state if old else change.what}")


def of_event(reader: Reader, event: Event) -> tuple[str, str]:
    """What, and its facts."""
    kind = kind_word(reader, event.kind)
    if event.kind is EventKind.NOTE:
        return kind, str(event.facts.get("text", ""))
    if event.kind is EventKind.SCORE:
        rule, _, rest = event.subject.partition("/")
        about = rule_name(reader, rule, rest.partition("/")[0])
        return kind, reader.say(
            "score: true" if event.facts.get("true") else "score: false alarm", about=about
        )
    if event.kind is EventKind.RULE:
        about, more = rule_name(reader, event.subject), _rule_told(reader, event)
    else:
        about, more = subject_of(reader, event), facts_told(reader, event)
    if event.subject in WHOLE:
        return kind, more
    return f"{kind}, {about}", more


def _rule_told(reader: Reader, event: Event) -> str:
    """What was changed of it, limits in their unit; nothing given: as it was."""
    rule, facts = event.subject, event.facts
    limits = {"": facts.get("limit"), **(facts.get("when") or {})}
    said = []
    for at, limit in limits.items():
        if rule in LIMITS and isinstance(limit, int | float):
            told = in_unit(reader, rule, limit)
            said.append(reader.say("changed: when" if at else "changed: limit", at=at, limit=told))
    rest = {k: v for k, v in facts.items() if k not in ("limit", "when")}
    said += _told(reader, rest, event.subject)
    return ", ".join(said) or reader.word("as it was")


def subject_of(reader: Reader, event: Event) -> str:
    """A job's and a service's name is ours or the crew's; everything else is a subject."""
    if event.kind is EventKind.JOB:
        return reader.word(event.subject)
    return subject_word(reader, event.subject)


def facts_told(reader: Reader, event: Event) -> str:
    """The plain ones: "7.3 L, sensor off by 0.1 A". Tables inside an event are for programs."""
    return ", ".join(_told(reader, event.facts, event.subject))


def _told(reader: Reader, facts: Mapping[str, object], subject: str) -> Iterator[str]:
    for name, value in facts.items():
        if isinstance(value, bool):
            said = (TRUE if value else FALSE).get(name, "")
            if said:
                yield reader.word(said)
            elif value and name not in HIDDEN:
                yield name.replace("_", " ")
        elif isinstance(value, str | int | float) and value not in ("", subject) and name not in HIDDEN:
            yield _fact(reader, name, value)


def _fact(reader: Reader, name: str, value: str | float) -> str:
    if name in FACTS:
        known = isinstance(value, int | float) or FACTS[name].rpartition("{x")[2].startswith(("}", ":text"))
        if known:
            return reader.word(FACTS[name], x=value)
    words, _, unit = name.rpartition("_")
    plain = name.replace("_", " ")
    if isinstance(value, str):
        return f"{plain} {reader.word(value)}"
    if words and unit == "Ah":
        return f"{words.replace('_', ' ')} {number(value, reader.dress)}{GAP}Ah"
    if words and unit in BY_UNIT:
        return f"{words.replace('_', ' ')} {FORMATS[BY_UNIT[unit]](value, reader.dress)}"
    return f"{plain} {number(value, reader.dress)}"


def folded(text: str) -> str:
    """Without case and accents, as a search compares."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    if plain.isascii():
        return plain
    return "".join(c for c in plain if not unicodedata.combining(c))


def day_of(reader: Reader, utc_s: float | None) -> str:
    return "" if utc_s is None else date(utc_s, reader.dress)
