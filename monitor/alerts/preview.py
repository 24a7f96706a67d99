"""When a rule would have been open over recorded values, before it is switched on.

The arithmetic of the book of alerts over whole arrays: the delays, what was not seen, and the longer off
delay of what comes and goes. It takes a rule by itself: what a graver alert or a job would have explained is
shown, and nobody is taken to have acknowledged anything.
"""

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.alerts.book import BLIND_S
from monitor.alerts.findings import NEAR_LIMIT_PCT
from monitor.alerts.limits import CHARGE_DEADBAND_PCT, Limit
from monitor.alerts.lines import CHATTER_BEGINS, CHATTER_MOST, CHATTER_S
from monitor.alerts.rules import Rule
from monitor.clock import DAY_S, Interval
from monitor.records import Severity

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

OFTEN_SHARE = 0.5
ENDLESS_S = 7 * DAY_S
"""Open for more of the time that was heard, or for so much of it without an end, is no alert but a fact."""


class Situation(NamedTuple):
    """What a rule finds at every step: parallel arrays. Neither `holds` nor `clears` is the deadband, or
    silence where `heard` is false, too."""

    at_s: Floats
    holds: Mask
    clears: Mask
    heard: Mask
    urgent: Mask | None = None
    """Bad enough for the rule's `urgent_delay_s`."""
    raised: Mask | None = None
    """Of the rule's `raised` grade."""


class Span(NamedTuple):
    """Open from one step to another, by their numbers; `end` is None where it is not over."""

    begin: int
    end: int | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """What would have come of a rule. Times in UTC seconds."""

    spans: tuple[tuple[float, float], ...]
    """When it would have been open; the last ends with what is recorded where `lasts`."""
    lasts: bool
    sounded_s: tuple[float, ...]
    """When it would have sounded: an alarm at once, a warning when somebody is awake, a caution never."""
    sounding_s: float
    """For how long, had nobody acknowledged it."""
    open_s: float
    """Open while the instrument was heard,"""
    heard_s: float
    """and how long it was heard at all."""
    nights: int
    """Nights in which it would have been open,"""
    of_nights: int
    """of so many."""
    for_ever: bool
    """It would have sounded for ever: such a limit is refused."""

    @property
    def times(self) -> int:
        return len(self.spans)

    @property
    def share(self) -> float:
        """Of the time that was heard, 0 to 1."""
        return self.open_s / self.heard_s if self.heard_s else 0.0

    @property
    def longest_s(self) -> float:
        return max((end_s - begin_s for begin_s, end_s in self.spans), default=0.0)


def situation(row: Limit, at_s: Floats, values: Floats, limit: Floats | float, deadband: float) -> Situation:
    """Against a limit, which may differ from step to step. NaN is silence."""
    with np.errstate(invalid="ignore"):
        if row.below:
            holds, clears = values < limit, values >= limit + deadband
        else:
            holds, clears = values >= limit, values < limit - deadband
    return Situation(at_s, holds, clears, ~np.isnan(values))


def low_charge(at_s: Floats, likely: Floats, low: Floats, limit: Floats | float) -> Situation:
    """As `monitor.alerts.findings` judges a charge: by the likely one, and near the limit by its low edge."""
    with np.errstate(invalid="ignore"):
        holds = (likely < limit) | ((likely <= limit + NEAR_LIMIT_PCT) & (low < limit))
        clears = (low >= limit + CHARGE_DEADBAND_PCT) | (
            likely >= limit + NEAR_LIMIT_PCT + CHARGE_DEADBAND_PCT
        )
    heard = ~np.isnan(likely) & ~np.isnan(low)
    return Situation(at_s, holds & heard, clears & heard & ~holds, heard)


def open_spans(rule: Rule, s: Situation) -> list[Span]:
    """When the alert would have been open: what the book of alerts does when it is stepped at these times."""
    fresh = _fresh(s.at_s)
    due = _lasted(s.at_s, s.holds, fresh, rule.on_delay_s)
    if rule.urgent_delay_s is not None and s.urgent is not None:
        due |= _lasted(s.at_s, s.holds & s.urgent, fresh, rule.urgent_delay_s)
    begins, ends = np.flatnonzero(due).tolist(), _Ends(rule, s, fresh)
    spans: list[Span] = []
    at = 0
    while (n := bisect_left(begins, at)) < len(begins):
        span = Span(begins[n], ends.after(begins[n]))
        spans.append(span)
        if span.end is None:
            break
        at = span.end
    return spans


class _Ends:
    """Finds where an alert is over, its off delay longer while it comes and goes."""

    def __init__(self, rule: Rule, s: Situation, fresh: Mask) -> None:
        self._rule, self._s, self._fresh = rule, s, fresh
        self._window_s = max(CHATTER_S, 4 * (rule.on_delay_s + rule.off_delay_s))
        self._at_s: list[float] = s.at_s.tolist()
        self._begins: deque[float] = deque()
        self._over: dict[int, list[int]] = {}

    def after(self, begin: int) -> int | None:
        at_s = self._at_s
        at, count = begin + 1, len(at_s)
        if self._rule.off_delay_s:
            self._begins.append(at_s[begin])
        while at < count:
            while self._begins and at_s[at] - self._begins[0] > self._window_s:
                self._begins.popleft()
            times = self._times()
            until = count if times == 1 else self._first_past(self._begins[0], at)
            over = self._over_after(times)
            n = bisect_left(over, at)
            if n < len(over) and over[n] < until:
                return over[n]
            at = until
        return None

    def _times(self) -> int:
        more = len(self._begins) - CHATTER_BEGINS + 1
        return 1 if more <= 0 else min(CHATTER_MOST, 2**more)

    def _first_past(self, begin_s: float, at: int) -> int:
        """The first step at which that begin lies too far back to count."""
        at_s = self._at_s
        until = max(at + 1, bisect_right(at_s, begin_s + self._window_s))
        while until < len(at_s) and at_s[until] - begin_s <= self._window_s:
            until += 1
        return until

    def _over_after(self, times: int) -> list[int]:
        if times not in self._over:
            delay_s = self._rule.off_delay_s * times
            over = _lasted(self._s.at_s, self._s.clears, self._fresh, delay_s)
            self._over[times] = np.flatnonzero(over).tolist()
        return self._over[times]


def outlook(rule: Rule, s: Situation, awake: Mask, nights: Sequence[Interval]) -> Outlook:
    """What would have come of the rule.

    Args:
        awake: Whether somebody was, at each step.
        nights: The ship's nights that lie in what is recorded.
    """
    spans, last = open_spans(rule, s), len(s.at_s) - 1
    weight_s = np.minimum(np.diff(s.at_s, append=s.at_s[-1:]), BLIND_S)
    ends = [last if span.end is None else span.end for span in spans]
    is_open = np.zeros(len(s.at_s), np.int8)
    is_open[[span.begin for span in spans]] += 1
    is_open[[span.end for span in spans if span.end is not None]] -= 1
    inside = np.cumsum(is_open).astype(bool)
    heard_s = float(weight_s[s.heard].sum())
    open_s = float(weight_s[s.heard & inside].sum())
    times = tuple(
        (float(s.at_s[span.begin]), float(s.at_s[end])) for span, end in zip(spans, ends, strict=True)
    )
    lasts = bool(spans) and spans[-1].end is None
    lasted_s = float(weight_s[spans[-1].begin :][s.heard[spans[-1].begin :]].sum()) if lasts else 0.0
    sounds = inside & _audible(rule, s, spans, awake)
    sounded = _firsts(sounds, spans)
    return Outlook(
        times,
        lasts,
        tuple(s.at_s[sounded].tolist()),
        float(weight_s[sounds].sum()),
        open_s,
        heard_s,
        sum(_touched(times, night) for night in nights),
        len(nights),
        open_s > OFTEN_SHARE * heard_s or lasted_s > ENDLESS_S,
    )


def _audible(rule: Rule, s: Situation, spans: Sequence[Span], awake: Mask) -> Mask:
    """Where an alert that is open is to be heard. A grade once raised stays so until it is over."""
    found = _heard_at(rule.severity, rule.wakes, awake)
    if rule.raised is None or s.raised is None:
        return found
    found = found.copy()
    graver, raised = _heard_at(rule.raised, rule.wakes, awake), np.flatnonzero(s.raised & s.holds).tolist()
    for begin, end in spans:
        n = bisect_left(raised, begin)
        if n < len(raised) and (end is None or raised[n] < end):
            found[raised[n] : end] = graver[raised[n] : end]
    return found


def _heard_at(grade: Severity, wakes: bool, awake: Mask) -> Mask:
    if grade is Severity.CAUTION:
        return np.zeros_like(awake)
    return np.ones_like(awake) if grade is Severity.ALARM or wakes else awake


def _firsts(sounds: Mask, spans: Sequence[Span]) -> list[int]:
    """The first step of each span that is to be heard."""
    where = np.flatnonzero(sounds).tolist()
    found = []
    for begin, end in spans:
        n = bisect_left(where, begin)
        if n < len(where) and (end is None or where[n] < end):
            found.append(where[n])
    return found


def _touched(spans: Sequence[tuple[float, float]], night: Interval) -> bool:
    n = bisect_left(spans, night.start_s, key=lambda span: span[1])
    return n < len(spans) and spans[n][0] < night.end_s


def _fresh(at_s: Floats) -> Mask:
    """Steps before which nobody looked: every delay starts anew."""
    apart_s = np.diff(at_s, prepend=-np.inf)
    return (apart_s > BLIND_S) | (apart_s < 0)


def _lasted(at_s: Floats, mask: Mask, fresh: Mask, delay_s: float) -> Mask:
    """Where it has been so for the delay without a break."""
    begins = mask & (fresh | ~np.concatenate(([False], mask[:-1])))
    since = np.maximum.accumulate(np.where(begins, np.arange(len(mask)), 0))
    lasted: Mask = mask & (at_s - at_s[since] >= delay_s)
    return lasted
