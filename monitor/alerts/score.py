"""How the alerts of a month did: what became of each, which rules call in vain, and what might be changed.

Outside yardsticks, all for an operator who is paid to look, so here they are upper bounds only and from
memory: EEMUA 191 and IEC 62682 hold about 144 to 150 alarms a day to be acceptable, call more than ten in ten
minutes a flood, and an alarm that comes three times or more in a minute chattering. A crew that sleeps wants
a hundredth of that.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from monitor.alerts.limits import Limit
from monitor.alerts.lines import CHATTER_BEGINS, CHATTER_S, GRADE
from monitor.alerts.preview import Outlook
from monitor.alerts.rules import MINUTE_S, Rule
from monitor.clock import DAY_S
from monitor.records import CALLS, AlertChange, Reason, RuleChange, Severity

A_DAY_MOST, TEN_MINUTES_MOST = 150, 10
"""Of EEMUA 191, from memory: beyond them an attended console is not to be managed."""
BRIEF_S = 10 * MINUTE_S
"""An alert that has gone by then, before anybody saw it, is doubtful."""
TRUE, FALSE, DOUBTFUL, UNKNOWN = "true", "false", "doubtful", "unknown"
STEPS, LONGER = (1, 2, 4), (2, 4, 8)
"""How far candidates go: steps of the limit, times the delay."""
LIMIT_STEPS = 20
"""A step is so small a part of how far a limit may be moved, and no less than its deadband."""


@dataclass(frozen=True, slots=True)
class Life:
    """What became of one alert. Times in seconds; None is not known, or has not come."""

    alert: str
    rule: str
    subject: str
    began_s: float
    """UTC."""
    severity: Severity
    """The gravest it reached."""
    seen_after_s: float | None
    over_after_s: float | None
    sounded: bool
    escalated: bool
    shelved: bool
    chattered: bool
    acted: bool | None
    """Seen within its rule's time to respond and then over; or over within it after the crew did something.
    None while there is time yet, or while it lasts although it was seen in time."""
    word: str
    """TRUE or FALSE by the crew; DOUBTFUL; UNKNOWN."""


@dataclass(frozen=True, slots=True)
class Tally:
    """One rule over a span."""

    rule: str
    count: int
    sounding: int
    a_hundred_nights: float
    """Of those that sounded."""
    seen_median_s: float | None
    never_acted_on: bool
    """Some were judged and none was acted on."""
    false: int
    doubtful: int
    chattering: int
    escalated: int


@dataclass(frozen=True, slots=True)
class Worst:
    """A rule that calls in vain."""

    tally: Tally
    why: Reason


def lives(
    changes: Iterable[tuple[AlertChange, float | None]],
    said: Mapping[str, bool],
    rules: Mapping[str, Rule],
    now_s: float,
    deeds: Sequence[float] = (),
) -> list[Life]:
    """What became of every alert that is dated, in the order they began.

    Args:
        changes: With their UTC seconds, in the order they happened.
        said: The crew's word by alert: whether it was true.
        deeds: When the crew did something that may have ended an alert (UTC, in order): a command of theirs,
            a fill, a charger or an engine begun.
    """
    by_alert: dict[str, list[tuple[AlertChange, float]]] = {}
    for change, utc_s in changes:
        if utc_s is not None and change.rule in rules:
            by_alert.setdefault(change.alert, []).append((change, utc_s))
    told = sorted(by_alert.values(), key=lambda changed: changed[0][1])
    begins: dict[tuple[str, str], list[float]] = {}
    for changed in told:
        for change, utc_s in changed:
            if change.what in ("began", "came back"):
                begins.setdefault((change.rule, change.subject), []).append(utc_s)
    for times in begins.values():
        times.sort()
    return [_life(changed, said, rules[changed[0][0].rule], now_s, deeds, begins) for changed in told]


def _life(
    changed: Sequence[tuple[AlertChange, float]],
    said: Mapping[str, bool],
    rule: Rule,
    now_s: float,
    deeds: Sequence[float],
    begins: Mapping[tuple[str, str], Sequence[float]],
) -> Life:
    first, began_s = changed[0]
    seen_s = next((s for c, s in changed if c.what == "acknowledged"), None)
    over_s = _over_s(changed) if changed[-1][0].state in ("ended", "returned") else None
    severity = min((c.severity for c, _ in changed), key=GRADE.__getitem__)
    calls = [c for c, _ in changed if c.what in CALLS and c.state == "active"]
    seen_after_s = None if seen_s is None else seen_s - began_s
    over_after_s = None if over_s is None else over_s - began_s
    brief = over_after_s is not None and over_after_s <= BRIEF_S
    unseen = over_s is not None and (seen_s is None or seen_s > over_s)
    crew = {True: TRUE, False: FALSE}.get(said[first.alert]) if first.alert in said else None
    return Life(
        first.alert,
        first.rule,
        first.subject,
        began_s,
        severity,
        seen_after_s,
        over_after_s,
        any(c.severity is not Severity.CAUTION for c in calls),
        any(c.what == "escalated" for c, _ in changed),
        any(c.what == "shelved" for c, _ in changed),
        _chatters(begins.get((first.rule, first.subject), ()), began_s),
        _acted(rule, began_s, seen_after_s, over_after_s, now_s, deeds),
        crew or (DOUBTFUL if brief and unseen else UNKNOWN),
    )


def _over_s(changed: Sequence[tuple[AlertChange, float]]) -> float:
    """When its situation was over: one that nobody had seen goes first and ends when it is seen."""
    last, last_s = changed[-1]
    if last.what == "acknowledged":
        return next(s for c, s in reversed(changed) if c.what == "went") if _went(changed) else last_s
    return last_s


def _went(changed: Sequence[tuple[AlertChange, float]]) -> bool:
    return any(c.what == "went" for c, _ in changed)


def _chatters(times: Sequence[float], began_s: float) -> bool:
    """Whether it is one of several that began within the book's ten minutes."""
    n = bisect_left(times, began_s)
    for begin in range(max(0, n - CHATTER_BEGINS + 1), n + 1):
        end = begin + CHATTER_BEGINS - 1
        if end < len(times) and times[end] - times[begin] <= CHATTER_S:
            return True
    return False


def _acted(
    rule: Rule,
    began_s: float,
    seen_after_s: float | None,
    over_after_s: float | None,
    now_s: float,
    deeds: Sequence[float],
) -> bool | None:
    seen_in_time = seen_after_s is not None and seen_after_s <= rule.respond_s
    if over_after_s is None:
        return None if seen_in_time or now_s - began_s < rule.respond_s else False
    if seen_in_time and seen_after_s is not None and over_after_s >= seen_after_s:
        return True
    if over_after_s > rule.respond_s:
        return False
    return bisect_right(deeds, began_s + over_after_s) > bisect_left(deeds, began_s)


def tallies(told: Iterable[Life], days: float) -> list[Tally]:
    """By rule, the one that sounded most first; `days` is the span they were taken from."""
    by_rule: dict[str, list[Life]] = {}
    for life in told:
        by_rule.setdefault(life.rule, []).append(life)
    found = [_tally(rule, some, days) for rule, some in by_rule.items()]
    return sorted(found, key=lambda t: (-t.sounding, -t.count, t.rule))


def _tally(rule: str, some: Sequence[Life], days: float) -> Tally:
    seen = [life.seen_after_s for life in some if life.seen_after_s is not None]
    judged = [life.acted for life in some if life.acted is not None]
    sounding = sum(life.sounded for life in some)
    return Tally(
        rule,
        len(some),
        sounding,
        a_hundred_nights(sounding, days),
        median(seen) if seen else None,
        bool(judged) and not any(judged),
        sum(life.word == FALSE for life in some),
        sum(life.word == DOUBTFUL for life in some),
        sum(life.chattered for life in some),
        sum(life.escalated for life in some),
    )


def a_hundred_nights(count: int, days: float) -> float:
    """The rolling figure: so many in a hundred nights."""
    return 100 * count / days if days > 0 else 0.0


def loudest(told: Iterable[Life]) -> tuple[int, int]:
    """The most that began within any day and within any ten minutes: to be held against the yardsticks."""
    times = sorted(life.began_s for life in told)
    found = []
    for span_s in (DAY_S, 10 * MINUTE_S):
        found.append(max((n - bisect_right(times, s - span_s) + 1 for n, s in enumerate(times)), default=0))
    return found[0], found[1]


def worst(told: Sequence[Tally], most: int = 5) -> list[Worst]:
    """Those that call in vain, the worst first: what was false counts three calls, what chatters two."""
    weights = [(t.sounding + 3 * t.false + 2 * t.chattering + t.doubtful, t) for t in told]
    ranked = sorted((w for w in weights if w[0]), key=lambda w: (-w[0], w[1].rule))
    return [Worst(tally, _why(tally)) for _, tally in ranked[:most]]


def _why(t: Tally) -> Reason:
    facts = {
        "count": t.count,
        "sounding": t.sounding,
        "false": t.false,
        "doubtful": t.doubtful,
        "chattering": t.chattering,
    }
    if t.false:
        return Reason("score: false", facts)
    if t.chattering:
        return Reason("score: comes and goes", facts)
    if t.never_acted_on:
        return Reason("score: never acted on", facts)
    if t.doubtful * 2 > t.count:
        return Reason("score: gone before seen", facts)
    return Reason("score: often", facts)


def candidates(
    rule: Rule, row: Limit, subject: str, limit: float, least: float, most: float, deadband: float
) -> list[RuleChange]:
    """Limits and on delays that would call less, the smallest change first."""
    step = max(deadband, (most - least) / LIMIT_STEPS)
    limits = [limit - n * step if row.below else limit + n * step for n in STEPS]
    found = [RuleChange(rule.id, subject, limit=round(x, 2)) for x in limits if least <= x <= most]
    delays = [max(MINUTE_S, rule.on_delay_s) * times for times in LONGER]
    return found + [RuleChange(rule.id, on_delay_s=s) for s in delays if s < rule.respond_s]


def proposal(
    now: Outlook, tries: Iterable[RuleChange], run: Callable[[RuleChange], Outlook | None], unit: str
) -> tuple[Reason, RuleChange] | None:
    """The smallest change that would have sounded half as often or less, but not never where it can be
    helped: a rule that says nothing is no rule."""
    instead, silent = len(now.sounded_s), None
    if instead < 2:
        return None
    for change in tries:
        found = run(change)
        if found is None or found.for_ever or len(found.sounded_s) * 2 > instead:
            continue
        facts = {
            "limit": change.limit, "unit": unit, "on_s": change.on_delay_s,
            "times": len(found.sounded_s), "instead": instead,
        }  # fmt: skip
        id = "score: another limit" if change.limit is not None else "score: a longer delay"
        offer = Reason(id, facts), change
        if found.sounded_s:
            return offer
        silent = silent or offer
    return silent
