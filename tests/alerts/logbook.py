"""Stories for the book: what a rule says minute by minute, and what is written down."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

from monitor.alerts.book import AlertBook
from monitor.records import AlertChange, Finding, Reason, Severity

SAYS: Mapping[str, tuple[bool | None, bool | None]] = {
    "holds": (True, False),
    "severe": (True, False),
    "between": (False, False),
    "clear": (False, True),
    "silent": (None, None),
}


def finding(
    rule: str,
    says: str,
    subject: str = "it",
    *,
    severity: Severity | None = None,
    under: tuple[tuple[str, str], ...] = (),
) -> Finding:
    holds, clears = SAYS[says]
    reason = Reason(f"test: {says}")
    return Finding(rule, subject, holds, clears, reason, severity, says == "severe", under)


def tell(rule: str, story: Sequence[tuple[float, str]], *, every_s: float = 10.0) -> list[tuple[float, str]]:
    """Live through the story, a step every `every_s`, and return when the book wrote what.

    Each (from, says) lasts until the next one; "seen" acknowledges at that moment; the last one is
    the end of the story.
    """
    book = AlertBook()
    written: list[tuple[float, str]] = []
    says = "clear"
    for (from_s, now), (until_s, _) in pairwise(story):
        if now == "seen":
            written.append((from_s, book.acknowledge(book.open()[0].alert, 1, from_s).state))
        else:
            says = now
        at_s = from_s
        while at_s < until_s:
            written += [(at_s, _told(change)) for change in book.step(1, at_s, [finding(rule, says)])]
            at_s += every_s
    return written


def _told(change: AlertChange) -> str:
    """The state, and what happened where the state alone does not tell."""
    apart = change.what in ("escalated", "fell silent", "heard again")
    return f"{change.state}: {change.what}" if apart else change.state


def one(changes: Sequence[AlertChange]) -> AlertChange:
    (change,) = changes
    return change
