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
from monitor.words.units import GAP, number, span
from web.presentation.alert_cards import GRADES, rule_name
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
MOST_SUBJECTS = 6


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
    groups: dict[str, list[RuleRow]] = {"Energy": [], "Water": [], "Supplies": [], "The watch itself": []}
    for rule in RULES:
        groups[group_of(rule)].append(_row(reader, book, book.rules[rule]))
    return Rules(
        reader.say(id, count=len(RULES), changed=len(changed)),
        tuple((title, tuple(rows)) for title, rows in groups.items()),
    )


def group_of(rule: str) -> str:
    if rule in WATER:
        return "Water"
    if rule in SUPPLIES:
        return "Supplies"
    return "The watch itself" if rule in ITSELF else "Energy"


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
    rows = [("the settings", c) for c in settings]
    rows += [("the crew", c) for c in reader.snapshot.calls.changes]
    return [(who, c) for who, c in rows if c.rule == rule and subject in (None, c.subject)]


def in_unit(reader: Reader, rule: str, value: float) -> str:
    return number(value, reader.dress) + GAP + LIMITS[rule].unit


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
        Severity.ALARM: "sounds, always",
        Severity.WARNING: "one tone, asleep too" if rule.wakes else "one tone, awake",
        Severity.CAUTION: "no sound",
    }[rule.severity]
    grade = GRADES[rule.severity] + (f", worse: {rule.raised.value}" if rule.raised else "")
    return RuleRow(
        rule_href(rule.id), rule_name(reader, rule.id), grade, delays(reader, rule),
        span(rule.respond_s, reader.dress), tuple(_limits(reader, book, rule.id, states)), wakes,
        changed=", ".join(dict.fromkeys(who for who, _ in changes_of(reader, rule.id))),
        state=_state(states), calls=any(s.state in ("active", "returned") for s in states),
        todo=reader.say(f"{rule.id}: do"), otherwise=reader.say(f"{rule.id}: otherwise"),
    )  # fmt: skip


def delays(reader: Reader, rule: Rule) -> str:
    on, off = (span(s, reader.dress) if s else "at once" for s in (rule.on_delay_s, rule.off_delay_s))
    return f"{on}, over after {off}" if rule.off_delay_s else f"{on}, over at once"


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
            also = [f"{m} {in_unit(reader, rule, v)}" for m, v in whens(reader, rule, subject).items()]
            yield subject, ", ".join([in_unit(reader, rule, limit), *also])


def _state(states: Sequence[RuleState]) -> str:
    """ "house normal, navigation pending"; counted where there are many."""
    if len(states) <= 3:
        return (
            ", ".join(f"{s.subject}: {TOLD.get(s.state, s.state)}" for s in states) or "watches nothing here"
        )
    return ", ".join(f"{n} {TOLD.get(state, state)}" for state, n in Counter(s.state for s in states).items())


TOLD = {
    "normal": "calm", "pending": "waits out its delay", "stale": "not heard", "active": "calls",
    "returned": "gone, not seen", "acknowledged": "seen, lasts", "shelved": "put aside",
    "suppressed": "explained",
}  # fmt: skip
"""A rule's state about one subject, in words."""


def bounds(settings: Settings, rule: str, subject: str, heads: int) -> tuple[float, float]:
    row = LIMITS[rule]
    return row.least(settings, subject, heads), row.most(settings, subject, heads)
