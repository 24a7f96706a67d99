"""One rule: what it looks for, what of it can be moved and how far."""

from dataclasses import dataclass

from monitor.alerts.limits import LIMITS
from monitor.alerts.rules import Rule
from monitor.records import PEOPLE, PLACES, RuleChange, Severity
from monitor.words.tongues import N_
from monitor.words.units import number, span
from web.presentation.alert_cards import GRADE_WORDS, GRADES, rule_name
from web.presentation.figures import Reader
from web.presentation.rule_preview import Shown
from web.presentation.rules import (
    CREW,
    bounds,
    changes_of,
    delays,
    figure,
    in_unit,
    rule_href,
    rulebook,
    shown_as,
    states_of,
    states_told,
    unit_of,
    whens,
)

ONE_LIMIT = ("plumbing may freeze", "water old")
"""Rules that have one limit, whatever they are about."""


@dataclass(frozen=True, slots=True)
class Field:
    name: str
    label: str
    value: str
    unit: str
    hint: str


@dataclass(frozen=True, slots=True)
class Changed:
    told: str
    subject: str
    by_crew: bool


@dataclass(frozen=True, slots=True)
class RulePage:
    rule: str
    subject: str
    title: str
    told: tuple[str, ...]
    todo: str
    otherwise: str
    subjects: tuple[tuple[str, str, bool], ...]
    """Address, words, and whether it is the one shown."""
    states: str
    changed: tuple[Changed, ...]
    limit: Field | None
    whens: tuple[Field, ...]
    delays: tuple[Field, ...]
    wakes: str | None
    """ "yes" or "no"; None where that cannot be chosen."""
    preview: Shown | None


def rule_page(
    reader: Reader, rule: str, subject: str, given: dict[str, str], preview: Shown | None
) -> RulePage:
    """`given` is what was typed, by field, where a change is looked at."""
    row = rulebook(reader).rules[rule]
    states = states_of(reader, rule)
    whose = [] if rule in ONE_LIMIT or rule not in LIMITS else [s.subject for s in states]
    everything = reader.say("rule: for all")
    links = [(rule_href(rule), everything, subject == "")]
    links += [(rule_href(rule, s), s, s == subject) for s in whose]
    limit, modes = _limits(reader, rule, subject, given)
    return RulePage(
        rule, subject, rule_name(reader, rule, subject), tuple(_told(reader, row)),
        reader.say(f"{rule}: do"), reader.say(f"{rule}: otherwise"),
        subjects=tuple(links) if len(links) > 1 else (),
        states=states_told(reader, states[:20]),
        changed=tuple(_changed(reader, who, c) for who, c in changes_of(reader, rule)),
        limit=limit, whens=modes,
        delays=_delays(reader, row, given) if subject == "" else (),
        wakes=_wakes(row, given) if subject == "" else None,
        preview=preview,
    )  # fmt: skip


def _told(reader: Reader, row: Rule) -> list[str]:
    told = [reader.say("rule: told", grade=reader.word(GRADES[row.severity]), delays=delays(reader, row),
                       respond_s=row.respond_s)]  # fmt: skip
    if row.raised is not None:
        told.append(reader.say("rule: raised", grade=GRADE_WORDS[row.raised]))
    if row.urgent_delay_s is not None:
        told.append(reader.say("rule: urgent", urgent_s=row.urgent_delay_s))
    return told


def _limits(
    reader: Reader, rule: str, subject: str, given: dict[str, str]
) -> tuple[Field | None, tuple[Field, ...]]:
    """The limit and those of other modes; none where a rule has none, or wants a subject first."""
    row, crew = LIMITS.get(rule), reader.settings.boat.crew
    if row is None or (row.of_banks and subject not in {b.name for b in reader.settings.banks}):
        return None, ()
    least, most = bounds(reader.settings, rule, subject, crew)
    hint = reader.say(
        "rule: bounds",
        least=number(shown_as(reader, rule, least), reader.dress),
        most=in_unit(reader, rule, most),
    )
    plain = _plain_limit(reader, rule, subject)
    limit = Field("limit", reader.say("rule: below" if row.below else "rule: above"),
                  given.get("limit") or figure(reader, rule, plain), unit_of(reader, rule), hint)  # fmt: skip
    other = whens(reader, rule, subject)
    modes = tuple(
        Field(
            f"when {at}",
            reader.word(at),
            given.get(f"when {at}") or figure(reader, rule, other.get(at)),
            unit_of(reader, rule),
            hint,
        )
        for at in (*PLACES, *PEOPLE)
    )
    return limit, modes


def _plain_limit(reader: Reader, rule: str, subject: str) -> float | None:
    """Where no mode has its own."""
    found = LIMITS[rule].stands(reader.settings, subject, reader.settings.boat.crew)
    for about in dict.fromkeys(("", subject)):
        for _, change in changes_of(reader, rule, about):
            found = found if change.limit is None else change.limit
    return found


def _delays(reader: Reader, row: Rule, given: dict[str, str]) -> tuple[Field, ...]:
    on, off = (
        given.get(name) or _span(reader, seconds)
        for name, seconds in (("on_delay", row.on_delay_s), ("off_delay", row.off_delay_s))
    )
    bound = reader.say("rule: on delay, bounds", respond_s=row.respond_s)
    return (
        Field("on_delay", reader.say("rule: on delay"), on, "", bound),
        Field("off_delay", reader.say("rule: off delay"), off, "", reader.say("rule: off delay, bounds")),
    )


def _span(reader: Reader, seconds: float) -> str:
    return span(seconds, reader.dress).replace("\u00a0", " ")


def _wakes(row: Rule, given: dict[str, str]) -> str | None:
    """Of a warning alone: an alarm always sounds, a caution never does."""
    if row.severity is not Severity.WARNING:
        return None
    return given.get("wakes") or ("yes" if row.wakes else "no")


def _changed(reader: Reader, who: str, c: RuleChange) -> Changed:
    said = []
    if c.limit is not None:
        said.append(reader.say("changed: limit", limit=in_unit(reader, c.rule, c.limit)))
    said += [reader.say("changed: when", at=at, limit=in_unit(reader, c.rule, v)) for at, v in c.when.items()]
    for name in ("on_delay_s", "off_delay_s"):
        if (seconds := getattr(c, name)) is not None:
            said.append(reader.say(f"changed: {name}", seconds=seconds))
    if c.wakes is not None:
        said.append(reader.say("changed: wakes" if c.wakes else "changed: wakes not"))
    text = N_("By {who:text} ({subject}): {said}.") if c.subject else N_("By {who:text}: {said}.")
    told = reader.word(text, who=who, subject=c.subject, said=", ".join(said))
    return Changed(told, c.subject, who == CREW)
