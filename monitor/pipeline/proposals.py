"""What might be changed of a rule that calls in vain, by what it would have done on the record."""

from collections.abc import Sequence
from pathlib import Path

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Outlook
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.score import candidates, proposal
from monitor.clock import Interval
from monitor.errors import CommandError
from monitor.pipeline.preview import previews
from monitor.records import Mode, Reason, RuleChange
from monitor.settings import Settings
from monitor.storage.history import History


def proposed(
    path: Path,
    settings: Settings,
    crew: Sequence[RuleChange],
    rule: str,
    subject: str,
    during: Interval,
    heads: int,
    mode: Mode,
) -> tuple[Reason, RuleChange] | None:
    """The smallest change that would have sounded half as often or less, for the worker; None where the rule
    has no limit, nothing is recorded, or nothing helps. Raises StorageError."""
    row = LIMITS.get(rule)
    if row is None:
        return None
    history, book = History(path), Rulebook(settings, tuple(crew))
    of_one = subject if rule == "low voltage" else ""
    limit = book.limit(rule, of_one, mode, heads)

    def run(change: RuleChange | None) -> Outlook | None:
        try:
            found = previews(history, settings, crew, change, during, heads, rule)
        except CommandError:
            return None  # A candidate that the rulebook refuses is none.
        return next((p.outlook for p in found if p.subject == subject), None)

    try:
        now = run(None)
        if now is None or limit is None:
            return None
        least, most, deadband = (of(settings, subject, heads) for of in (row.least, row.most, row.deadband))
        tries = candidates(book.rules[rule], row, of_one, limit, least, most, deadband)
        return proposal(now, tries, run, row.unit)
    finally:
        history.close()
