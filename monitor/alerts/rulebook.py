"""The rules in force: the table's, as the settings and then the crew have changed them.

Immutable: a change makes another book.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from functools import cached_property
from typing import Any

from monitor.alerts.limits import LIMITS
from monitor.alerts.rules import RULES, Rule
from monitor.errors import CommandError, SettingsError, plainly
from monitor.records import PEOPLE, PLACES, Mode, RuleChange, Severity
from monitor.settings import Settings
from monitor.words.tongues import N_

ALL = "{mistakes}"
Mistake = tuple[str, dict[str, object]]
"""A text with gaps, and what fills them."""


@dataclass(frozen=True)
class Rulebook:
    """What each rule's limit, delays and sound are now. Raises SettingsError from `checked`."""

    settings: Settings
    crew: tuple[RuleChange, ...] = ()
    """What the crew has changed on the dashboard: it goes before the settings."""

    @cached_property
    def rules(self) -> Mapping[str, Rule]:
        """Every rule with its delays and whether it wakes. Delays are a rule's, whatever it is about."""
        changed = dict(RULES)
        for change in self._changes():
            if change.subject == "":
                given = {name: getattr(change, name) for name in ("on_delay_s", "off_delay_s", "wakes")}
                known = {name: value for name, value in given.items() if value is not None}
                changed[change.rule] = replace(changed[change.rule], **known)
        return changed

    @cached_property
    def _by_key(self) -> Mapping[tuple[str, str], RuleChange]:
        """What was changed last of each rule and subject."""
        found: dict[tuple[str, str], RuleChange] = {}
        for change in self._changes():
            key = (change.rule, change.subject)
            before = found.get(key)
            found[key] = change if before is None else _over(before, change)
        return found

    def limit(self, rule: str, subject: str, mode: Mode, heads: int) -> float | None:
        """The limit now, in the rule's own unit; None for a rule that has none to move. What is said of
        this subject goes before what is said of all, the people's state before the place."""
        row = LIMITS.get(rule)
        if row is None or (row.of_banks and not self._is_bank(subject)):
            return None
        for change in (self._by_key.get((rule, subject)), self._by_key.get((rule, ""))):
            if change is not None:
                for at in (mode.people, mode.place):
                    if at in change.when:
                        return change.when[at]
                if change.limit is not None:
                    return change.limit
        return row.stands(self.settings, subject, heads)

    def _is_bank(self, subject: str) -> bool:
        return any(bank.name == subject for bank in self.settings.banks)

    def changed(self, change: RuleChange, heads: int) -> "Rulebook":
        """With one more change of the crew's. Raises CommandError, naming what was expected."""
        mistakes = [[text, facts] for text, facts in _mistakes(self.settings, change, heads)]
        if mistakes:
            raise CommandError(ALL, mistakes=mistakes)
        kept = [c for c in self.crew if (c.rule, c.subject) != (change.rule, change.subject)]
        before = next((c for c in self.crew if c not in kept), None)
        return replace(self, crew=(*kept, change if before is None else _over(before, change)))

    def reset(self, rule: str, subject: str) -> "Rulebook":
        """As the settings have it. Raises CommandError where the crew has changed nothing."""
        kept = tuple(c for c in self.crew if (c.rule, c.subject) != (rule, subject))
        if len(kept) == len(self.crew):
            raise CommandError("nothing was changed of the rule {rule!r}", rule=rule)
        return replace(self, crew=kept)

    def state(self) -> list[dict[str, Any]]:
        """What the crew has changed, as JSON values."""
        return [asdict(change) for change in self.crew]

    def restored(self, state: Iterable[Mapping[str, Any]]) -> "Rulebook":
        """Take up what `state` gave; what is no rule any more is left behind."""
        known = {f.name for f in fields(RuleChange)}
        rows = [RuleChange(**{k: v for k, v in row.items() if k in known}) for row in state]
        return replace(self, crew=tuple(row for row in rows if row.rule in RULES))

    def checked(self) -> "Rulebook":
        """Itself. Raises SettingsError for rows of the settings that cannot be."""
        mistakes = []
        seen: set[tuple[str, str]] = set()
        for n, change in enumerate(_of_settings(self.settings)):
            key = (change.rule, change.subject)
            if key in seen:
                about = f" about {change.subject!r}" if change.subject else ""
                mistakes.append(
                    f"rules[{n}].rule: {change.rule!r}{about} stands there twice: they contradict"
                )
            seen.add(key)
            mistakes += [
                f"rules[{n}].{plainly(*why)}"
                for why in _mistakes(self.settings, change, self.settings.boat.crew)
            ]
        if mistakes:
            raise SettingsError(mistakes)
        return self

    def _changes(self) -> Iterator[RuleChange]:
        yield from _of_settings(self.settings)
        yield from self.crew


def _of_settings(settings: Settings) -> Iterator[RuleChange]:
    for row in settings.rules:
        yield RuleChange(
            row.rule, row.subject or "", row.limit, row.when, row.on_delay_s, row.off_delay_s, row.wakes
        )


def _over(before: RuleChange, change: RuleChange) -> RuleChange:
    """The earlier change with the later one laid over it."""
    given = {f.name: getattr(change, f.name) for f in fields(RuleChange)}
    known = {name: value for name, value in given.items() if value is not None and name != "when"}
    return replace(before, **known, when={**before.when, **change.when})


def _mistakes(settings: Settings, change: RuleChange, heads: int) -> Iterator[Mistake]:
    rule, row = RULES.get(change.rule), LIMITS.get(change.rule)
    if rule is None:
        facts: dict[str, object] = {"rule": change.rule, "known": ", ".join(RULES)}
        yield N_("rule: no rule is called {rule!r}; there are: {known}"), facts
        return
    on_s = rule.on_delay_s if change.on_delay_s is None else change.on_delay_s
    if not 0 <= on_s < rule.respond_s:
        text = N_("on_delay_s: {got:span} contradicts the time to respond; expected under {most:span}")
        yield text, {"got": on_s, "most": rule.respond_s}
    if change.off_delay_s is not None and not 0 <= change.off_delay_s <= 7 * 86400:
        yield N_("off_delay_s: expected 0 to 604800 s, got {got:number}"), {"got": change.off_delay_s}
    if change.wakes is False and rule.severity is Severity.ALARM:
        yield N_("wakes: an alarm always sounds"), {}
    limits = {"limit": change.limit, **{f"when.{at}": value for at, value in change.when.items()}}
    given = {where: value for where, value in limits.items() if value is not None}
    if given and row is None:
        yield N_("limit: the rule {rule!r} has no limit to move"), {"rule": change.rule}
        return
    banks = {b.name for b in settings.banks}
    if given and row is not None and row.of_banks and change.subject not in banks:
        text = N_("subject: {subject!r} is no bank; {rule!r} has a limit for each")
        yield text, {"subject": change.subject, "rule": change.rule}
        return
    for where, value in given.items():
        if where != "limit" and where[5:] not in (*PLACES, *PEOPLE):
            yield (
                N_("{where}: expected one of: {known}"),
                {"where": where, "known": ", ".join((*PLACES, *PEOPLE))},
            )
        assert row is not None
        least, most = (of(settings, change.subject, heads) for of in (row.least, row.most))
        if not least <= value <= most:
            text = N_("{where}: expected {least:number} to {most:number} {unit}, got {got:number}")
            yield text, {"where": where, "least": least, "most": most, "unit": row.unit, "got": value}
