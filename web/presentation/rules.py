"""The table of rules: what each looks for, how soon, what it wants done, and how it stands now."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from monitor.alerts.limits import LIMITS
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.rules import RULES, Rule
from monitor.records import RuleChange, RuleState, Severity
from monitor.settings import Settings
from monitor.words.tongues import N_, decimal_mark
from monitor.words.units import GAP, Unit, known, number, span
from web.presentation.alert_cards import GRADE_WORDS, GRADES, rule_name
from web.presentation.figures import Reader

WATER = (
    "low water", "few water days", "pump running on", "leak suspected", "burst", "pump dry",
    "pump switch stuck", "leak above the pump", "check valve leaks back", "accumulator flat",
    "relief valve weeps", "tap left open", "strainer clogging", "pump silent", "tank nearly full",
    "tank sender wrong", "water does not add up", "water old", "service due", "plumbing may freeze",
)  # fmt: skip
SUPPLIES = (
    "converter lost", "converter at limit", "buffer low", "buffer weak", "shore overloaded",
    "bank helps shore", "supply sags", "generator overloaded", "generator idles",
)  # fmt: skip
ITSELF = ("source silent", "instrument silent", "clock not confirmed", "store trouble", "way out dead")
GROUPS = (N_("Energy"), N_("Water"), N_("Supplies"), N_("The watch itself"))
MOST_SUBJECTS = 6
A_DAY = "L a day"
DAYS = N_("days")
"""A unit that is a word."""
CREW, SETTINGS = N_("the crew"), N_("the settings")


@dataclass(frozen=True, slots=True)
class RuleRow:
    href: str
    name: str
    grade: str
    delays: str
    respond: str
    limits: tuple[tuple[str, str], ...]
    """Whose, and the limit in force with those of other modes."""
    wakes: str
    changed: str
    state: str
    calls: bool
    todo: str
    otherwise: str


@dataclass(frozen=True, slots=True)
class Rules:
    first: str
    groups: tuple[tuple[str, tuple[RuleRow, ...]], ...]


def rules(reader: Reader) -> Rules:
    book = rulebook(reader)
    changed = {c.rule for c in reader.snapshot.calls.changes} | {r.rule for r in reader.settings.rules}
    id = "rules: first, changed" if changed else "rules: first"
    groups: dict[str, list[RuleRow]] = {title: [] for title in GROUPS}
    for rule in RULES:
        groups[group_of(rule)].append(_row(reader, book, book.rules[rule]))
    return Rules(
        reader.say(id, count=len(RULES), changed=len(changed)),
        tuple((reader.word(title), tuple(rows)) for title, rows in groups.items()),
    )


def group_of(rule: str) -> str:
    if rule in WATER:
        return GROUPS[1]
    if rule in SUPPLIES:
        return GROUPS[2]
    return GROUPS[3] if rule in ITSELF else GROUPS[0]


def rulebook(reader: Reader) -> Rulebook:
    """The rules in force, as the snapshot has them."""
    return Rulebook(reader.settings, reader.snapshot.calls.changes)


def rule_href(rule: str, subject: str = "") -> str:
    return f"/rules/{quote(rule, safe='')}" + (f"?subject={quote(subject, safe='')}" if subject else "")


def states_of(reader: Reader, rule: str) -> list[RuleState]:
    return [state for state in reader.snapshot.calls.rules if state.rule == rule]


def changes_of(reader: Reader, rule: str, subject: str | None = None) -> list[tuple[str, RuleChange]]:
    """Who changed what, the settings first; of every subject where none is given."""
    settings = [
        RuleChange(r.rule, r.subject or "", r.limit, r.when, r.on_delay_s, r.off_delay_s, r.wakes)
        for r in reader.settings.rules
    ]
    rows = [(SETTINGS, c) for c in settings]
    rows += [(CREW, c) for c in reader.snapshot.calls.changes]
    return [(who, c) for who, c in rows if c.rule == rule and subject in (None, c.subject)]


def in_unit(reader: Reader, rule: str, value: float) -> str:
    """A limit with its unit, as the reader has it."""
    return number(shown_as(reader, rule, value), reader.dress) + GAP + unit_of(reader, rule)


def figure(reader: Reader, rule: str, value: float | None) -> str:
    """The same without the unit, as it stands in a field and is read from there."""
    if value is None or not known(value):
        return ""
    return f"{shown_as(reader, rule, value):.6g}".replace(".", decimal_mark(reader.dress.language))


def shown_as(reader: Reader, rule: str, value: float) -> float:
    unit = _unit(reader, rule)
    return value if unit is None else value * unit.per + unit.offset


def taken_as(reader: Reader, rule: str, shown: float) -> float:
    """The inverse: what a limit is inside."""
    unit = _unit(reader, rule)
    return shown if unit is None else (shown - unit.offset) / unit.per


def unit_of(reader: Reader, rule: str) -> str:
    unit, own = LIMITS[rule].unit, _unit(reader, rule)
    if own is None:
        return reader.word(unit)
    return reader.word("{volume} a day", volume=own.symbol) if unit == A_DAY else own.symbol


def _unit(reader: Reader, rule: str) -> Unit | None:
    """The reader's own unit for a limit, where there is a choice."""
    unit = LIMITS[rule].unit
    if unit in ("L", A_DAY):
        return reader.dress.volume
    return reader.dress.temperature if unit == "°C" else None


def whens(reader: Reader, rule: str, subject: str) -> dict[str, float]:
    """The limits of other modes that are set for this subject, or for all."""
    found: dict[str, float] = {}
    for about in dict.fromkeys(("", subject)):
        for _, change in changes_of(reader, rule, about):
            found |= change.when
    return found


def _row(reader: Reader, book: Rulebook, rule: Rule) -> RuleRow:
    states = states_of(reader, rule.id)
    wakes = {
        Severity.ALARM: N_("sounds, always"),
        Severity.WARNING: N_("one tone, asleep too") if rule.wakes else N_("one tone, awake"),
        Severity.CAUTION: N_("no sound"),
    }[rule.severity]
    grade = reader.word(GRADES[rule.severity])
    if rule.raised:
        grade = reader.word("{grade}, worse: {raised:text}", grade=grade, raised=GRADE_WORDS[rule.raised])
    return RuleRow(
        rule_href(rule.id), rule_name(reader, rule.id), grade, delays(reader, rule),
        span(rule.respond_s, reader.dress), tuple(_limits(reader, book, rule.id, states)), reader.word(wakes),
        changed=", ".join(dict.fromkeys(reader.word(who) for who, _ in changes_of(reader, rule.id))),
        state=_state(reader, states), calls=any(s.state in ("active", "returned") for s in states),
        todo=reader.say(f"{rule.id}: do"), otherwise=reader.say(f"{rule.id}: otherwise"),
    )  # fmt: skip


def delays(reader: Reader, rule: Rule) -> str:
    on, off = (
        span(s, reader.dress) if s else reader.word("at once") for s in (rule.on_delay_s, rule.off_delay_s)
    )
    if rule.off_delay_s:
        return reader.word("{on}, over after {off}", on=on, off=off)
    return reader.word("{on}, over at once", on=on)


def _limits(
    reader: Reader, book: Rulebook, rule: str, states: Sequence[RuleState]
) -> Iterable[tuple[str, str]]:
    if rule not in LIMITS:
        return
    whose: list[tuple[str, float | None]] = [(s.subject, s.limit) for s in states if s.limit is not None]
    if not whose and not LIMITS[rule].of_banks:
        crew = reader.settings.boat.crew
        whose = [("", book.limit(rule, "", reader.snapshot.mode, crew))]
    for subject, limit in whose[:MOST_SUBJECTS]:
        if limit is not None:
            also = [
                f"{reader.word(m)} {in_unit(reader, rule, v)}"
                for m, v in whens(reader, rule, subject).items()
            ]
            yield subject, ", ".join([in_unit(reader, rule, limit), *also])


def _state(reader: Reader, states: Sequence[RuleState]) -> str:
    """ "house: calm, navigation: waits out its delay"; counted where there are many."""
    if len(states) <= 3:
        return states_told(reader, states) or reader.word("watches nothing here")
    counted = Counter(s.state for s in states)
    return ", ".join(f"{n} {reader.word(TOLD.get(state, state))}" for state, n in counted.items())


def states_told(reader: Reader, states: Sequence[RuleState]) -> str:
    return ", ".join(reader.titled(s.subject, reader.word(TOLD.get(s.state, s.state))) for s in states)


TOLD = {
    "normal": N_("calm"), "pending": N_("waits out its delay"), "stale": N_("not heard"),
    "active": N_("calls"), "returned": N_("gone, not seen"), "acknowledged": N_("seen, lasts"),
    "shelved": N_("put aside"), "suppressed": N_("explained"),
}  # fmt: skip
"""A rule's state about one subject, in words."""


def bounds(settings: Settings, rule: str, subject: str, heads: int) -> tuple[float, float]:
    row = LIMITS[rule]
    return row.least(settings, subject, heads), row.most(settings, subject, heads)
