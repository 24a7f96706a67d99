"""A proposed change of a rule, run over the recorded history: when it would have been open and heard."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Floats, Mask, Outlook, outlook
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.sounding import asleep
from monitor.clock import DAY_S, Interval
from monitor.estimation.freezing import LEFT
from monitor.estimation.ships_nights import by_the_clock
from monitor.pipeline.heads import heads_aboard
from monitor.pipeline.recorded import Asked, recorded, subjects
from monitor.records import EventKind, Mode, Reason, RuleChange
from monitor.settings import Settings
from monitor.storage.history import History

NOT_RECORDED = Reason("preview: not recorded")
ALL_SUBJECTS = ("plumbing may freeze", "water old")
"""Rules that have one limit, whatever they are about."""
MODE_BEFORE_S = 60 * DAY_S
LONGEST_S = 20 * 366 * DAY_S


@dataclass(frozen=True, slots=True)
class Preview:
    """What would have come of a rule about one subject."""

    rule: str
    subject: str
    by: Reason
    """What it was reckoned from, or that nothing of it is recorded."""
    outlook: Outlook | None
    """None where nothing is recorded: then nobody knows."""

    @property
    def refused(self) -> bool:
        """It would have sounded for ever."""
        return self.outlook is not None and self.outlook.for_ever


def previews(
    history: History,
    settings: Settings,
    crew: Sequence[RuleChange],
    change: RuleChange | None,
    during: Interval,
    heads: int,
    rule: str = "",
) -> tuple[Preview, ...]:
    """One for each subject the rule watches; for the change's own where it names one.

    Args:
        crew: What the crew has changed so far.
        change: What is proposed; None to see the rule `rule` as it stands.
        heads: How many are aboard now.

    Raises CommandError where such a change cannot be, StorageError where the file cannot be read.
    """
    book = Rulebook(settings, tuple(crew))
    if change is not None:
        book, rule = book.changed(change, heads), change.rule
    if rule not in LIMITS:
        return (Preview(rule, change.subject if change else "", NOT_RECORDED, None),)
    during = _kept(history, during)
    if during.seconds <= 0:
        return tuple(Preview(rule, subject, NOT_RECORDED, None) for subject in subjects(rule, settings))
    modes = _Modes.read(history, during, heads)
    of_one = change is not None and change.subject
    return tuple(
        _preview(history, settings, book, rule, subject, during, modes)
        for subject in subjects(rule, settings)
        if not of_one or subject == change.subject  # type: ignore[union-attr]
    )


def previews_of(
    path: Path,
    settings: Settings,
    crew: Sequence[RuleChange],
    change: RuleChange | None,
    during: Interval,
    heads: int,
    rule: str = "",
) -> tuple[Preview, ...]:
    """The same from a file that is opened for reading only: for the worker."""
    history = History(path)
    try:
        return previews(history, settings, crew, change, during, heads, rule)
    finally:
        history.close()


def _preview(
    history: History,
    settings: Settings,
    book: Rulebook,
    rule: str,
    subject: str,
    during: Interval,
    modes: "_Modes",
) -> Preview:
    found = recorded(rule, Asked(history, settings, subject, during, modes.left))
    if found is None:
        return Preview(rule, subject, NOT_RECORDED, None)
    limited = "" if rule in ALL_SUBJECTS else subject
    limits = np.array([book.limit(rule, limited, mode, heads) for mode, heads in modes.stood], np.float64)
    s = found.judge(lambda at_s: limits[modes.at(at_s)])
    asleep_from, asleep_until = settings.night.asleep_from, settings.night.asleep_until
    nights = by_the_clock(asleep_from, asleep_until, settings.boat.zone, during)
    heard = [Interval(*night) for night in nights if _heard(s.at_s[s.heard], night)]
    told = outlook(book.rules[rule], s, modes.awake(s.at_s), heard)
    return Preview(rule, subject, Reason(found.by), told)


def _kept(history: History, during: Interval) -> Interval:
    """The part of a span that can be recorded at all: from the first boot on, twenty years at most."""
    begins = [begin_s for boot in history.boots() if (begin_s := boot.utc_s(0.0)) is not None]
    start_s = max(during.start_s, min(begins, default=during.end_s))
    return Interval(start_s, min(during.end_s, start_s + LONGEST_S))


def _heard(heard_s: Floats, night: tuple[float, float]) -> bool:
    first, last = np.searchsorted(heard_s, night)
    return bool(last > first)


class _Modes(NamedTuple):
    """How the boat and her people stood, and how many they were, from when on; the first from the begin."""

    since_s: tuple[float, ...]
    stood: tuple[tuple[Mode, int], ...]

    @classmethod
    def read(cls, history: History, during: Interval, heads: int) -> "_Modes":
        """By what was detected or said; before the first word at anchor and awake, as a watch begins."""
        changes = [
            (utc_s, Mode(event.facts["place"], event.facts["people"]))
            for event, utc_s, _ in history.events(
                EventKind.MODE, Interval(during.start_s - MODE_BEFORE_S, during.end_s)
            )
            if utc_s is not None
        ]
        aboard = heads_aboard(history, during.end_s, heads)
        stood = [(Mode("at anchor", "awake"), aboard(during.start_s))]
        stood += [(mode, aboard(utc_s)) for utc_s, mode in changes]
        return cls(tuple(utc_s for utc_s, _ in changes), tuple(stood))

    def at(self, at_s: Floats) -> NDArray[np.int64]:
        return np.searchsorted(np.array(self.since_s), at_s, side="right").astype(np.int64)

    def awake(self, at_s: Floats) -> Mask:
        return np.array([not asleep(mode) for mode, _ in self.stood], np.bool_)[self.at(at_s)]

    def left(self, at_s: Floats) -> Mask:
        return np.array([mode.people in LEFT for mode, _ in self.stood], np.bool_)[self.at(at_s)]
