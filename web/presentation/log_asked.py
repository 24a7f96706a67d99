"""What is asked of the Log: kinds, subject, span, words, and the place where a page of it begins."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from urllib.parse import urlencode

from monitor.clock import DAY_S, Interval
from monitor.records import EventKind
from monitor.words.tongues import N_
from web.presentation.figures import Reader
from web.presentation.log_words import ALERT, KINDS

SPANS = {
    "week": N_("the last seven days"),
    "month": N_("the last thirty days"),
    "all": N_("all that is recorded"),
    "own": N_("from and to"),
}
DAYS = {"week": 7, "month": 30}
LONGEST_WORDS, LONGEST_SUBJECT = 200, 300
FOREVER_S = 4e9
"""Later than anything that is recorded: the year 2096."""
ALWAYS = Interval(0.0, FOREVER_S)
MOMENT, DAY = "%Y-%m-%dT%H:%M", "%Y-%m-%d"
PLACE = re.compile(r"(-?\d{1,11}(?:\.\d{1,9})?)~(\d{1,9})")


class AskError(Exception):
    """The Log cannot be asked so: the sentence says why, in the reader's language."""


class Place(NamedTuple):
    """A line's place in the order of time: its moment, and which of those of the same moment it is."""

    at_s: float
    nth: int

    def __str__(self) -> str:
        return f"{self.at_s!r}~{self.nth}"


@dataclass(frozen=True, slots=True)
class Asked:
    """`start` and `end` as they were typed; `during` is what they mean, in UTC."""

    kinds: tuple[str, ...] = ()
    subject: str = ""
    span: str = "week"
    start: str = ""
    end: str = ""
    words: str = ""
    before: Place | None = None
    after: Place | None = None
    during: Interval = ALWAYS
    placed: bool = True
    """The time of now is known."""

    def query(self, **more: object) -> str:
        """The same in an address, without a place; `more` beside it."""
        given: list[tuple[str, object]] = [("kind", kind) for kind in self.kinds]
        given += [("about", self.subject)] if self.subject else []
        given += [("span", self.span)] if self.span != "week" else []
        given += [("from", self.start)] if self.start and self.span == "own" else []
        given += [("to", self.end)] if self.end and self.span == "own" else []
        given += [("search", self.words)] if self.words else []
        return urlencode(given + list(more.items()))

    @property
    def narrowed(self) -> bool:
        """Something else is asked for than the last seven days of everything."""
        return bool(self.kinds or self.subject or self.words or self.span != "week")


def asked(reader: Reader, fields: Mapping[str, str], kinds: Sequence[str], last_s: float | None) -> Asked:
    """What the fields of an address mean. Raises AskError.

    Args:
        kinds: Each that was ticked.
        last_s: The last known time, in UTC, where now is not known.
    """
    chosen = tuple(dict.fromkeys(kind for kind in kinds if kind))
    for kind in chosen:
        if kind not in (ALERT, *EventKind):
            known = ", ".join(reader.word(k) for k in KINDS.values())
            raise AskError(
                reader.word("The Log has no kind “{got}”. It has: {known}.", got=kind[:60], known=known)
            )
    subject, words = fields.get("about", "").strip(), " ".join(fields.get("search", "").split())
    for text, most in ((subject, LONGEST_SUBJECT), (words, LONGEST_WORDS)):
        if len(text) > most:
            raise AskError(
                reader.word(
                    "Look for {most:count} characters at most; that were {got:count}.",
                    most=most, got=len(text),
                )
            )  # fmt: skip
    start, end = fields.get("from", "").strip(), fields.get("to", "").strip()
    span = fields.get("span", "") or ("own" if start or end else "week")
    if span not in SPANS:
        raise AskError(reader.word("The Log has no span “{got}”.", got=span[:60]))
    during = _during(reader, span, start, end, last_s)
    before, after = (_place(reader, fields.get(name, "")) for name in ("before", "after"))
    placed = reader.snapshot.utc_s is not None
    return Asked(chosen, subject, span, start, end, words, before, after, during, placed)


def _during(reader: Reader, span: str, start: str, end: str, last_s: float | None) -> Interval:
    now_s = reader.snapshot.utc_s
    until_s = FOREVER_S if now_s is None else now_s + 1
    if span == "all":
        return Interval(0.0, until_s)
    if span in DAYS:
        newest_s = last_s if now_s is None else now_s
        return Interval(0.0 if newest_s is None else newest_s - DAYS[span] * DAY_S, until_s)
    if not start and not end:
        raise AskError(reader.word("A span of your own needs a from or a to."))
    start_s = moment(reader, N_("From"), start) if start else 0.0
    if now_s is not None and start_s > now_s:
        raise AskError(reader.word("The span begins in the future: it is {now:clock} now.", now=now_s))
    end_s = moment(reader, N_("To"), end, to_its_end=True) if end else until_s
    if end_s <= start_s:
        raise AskError(
            reader.word("The span ends before it begins: from {start}, to {end}.", start=start, end=end)
        )
    return Interval(start_s, min(end_s, until_s))


def moment(reader: Reader, which: str, text: str, *, to_its_end: bool = False) -> float:
    """UTC of a time by the ship's clock; an hour that comes twice is the first one. Raises AskError.

    `to_its_end`: a day or a minute counts whole.
    """
    plain = text.replace(" ", "T")
    try:
        at = datetime.strptime(plain[:16], MOMENT if "T" in plain else DAY)  # noqa: DTZ007
        if not 1990 <= at.year <= 2090 or len(plain) > 19:
            raise ValueError
    except ValueError:
        raise AskError(
            reader.word(
                "{which:text}: expected a date and time like 2026-11-20T18:00, got “{got}”.",
                which=which, got=text[:40],
            )
        ) from None  # fmt: skip
    if to_its_end:
        at += timedelta(minutes=1) if "T" in plain else timedelta(days=1)
    return at.replace(tzinfo=reader.dress.zone).astimezone(UTC).timestamp()


def _place(reader: Reader, text: str) -> Place | None:
    if not text:
        return None
    found = PLACE.fullmatch(text)
    if found is None:
        raise AskError(reader.word("There is no such place in the Log; begin with its newest page."))
    return Place(float(found[1]), int(found[2]))
