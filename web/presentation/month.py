"""The month in alerts: which called most and why, and whether each was true."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from urllib.parse import urlencode

from monitor.alerts.rules import Rule
from monitor.clock import DAY_S, MINUTE_S, Interval
from monitor.errors import StorageError
from monitor.records import CALLS, AlertChange, EventKind, Severity
from monitor.words.say import named, say
from monitor.words.units import clock_time, date, span
from web.presentation.alert_cards import GRADES, rule_name
from web.presentation.figures import Reader
from web.presentation.rule_preview import often
from web.presentation.rules import rule_href, rulebook
from web.watch import Record

MONTH_S = 30 * DAY_S
WORST = 5
SHOWN = 60
SHORT_S = 10 * MINUTE_S
FEW = 3
"""So many are needed before anything is said of how they go."""
OVER = ("ended", "went")


@dataclass(frozen=True, slots=True)
class Lived:
    """One alert of the month, from its first call to its end, if that is known."""

    alert: str
    rule: str
    subject: str
    severity: Severity
    began_s: float
    ended_s: float | None
    calls: int
    """How often it called somebody,"""
    heard: int
    """and how often that was to be heard: a caution makes no sound."""
    because: str
    true: bool | None

    @property
    def lasted_s(self) -> float | None:
        return None if self.ended_s is None else self.ended_s - self.began_s


@dataclass(frozen=True, slots=True)
class Worst:
    title: str
    href: str
    told: str
    reason: str
    proposal: str
    try_href: str
    """A change to look at, where one is proposed."""


@dataclass(frozen=True, slots=True)
class Scored:
    alert: str
    when: str
    title: str
    lasted: str
    because: str
    score: str
    """ "true", "false", or empty: nobody has said."""


@dataclass(frozen=True, slots=True)
class Month:
    first: str
    worst: tuple[Worst, ...]
    lived: tuple[Scored, ...]
    more: str


def month(reader: Reader, record: Record | None) -> Month:
    now_s = reader.snapshot.utc_s
    if record is None or now_s is None:
        return Month(reader.say("no record" if record is None else "month: no clock"), (), (), "")
    try:
        lives = lived(reader, record, Interval(now_s - MONTH_S, now_s + 1))
    except StorageError:
        return Month(reader.say("no record"), (), (), "")
    heard = sum(one.heard for one in lives)
    scored = [one for one in lives if one.true is not None]
    id = "month: nothing" if not lives else "month: first, scored" if scored else "month: first"
    more = len(lives) - SHOWN
    return Month(
        reader.say(id, alerts="1 alert" if len(lives) == 1 else f"{len(lives)} alerts",
                   heard=_heard(reader, heard), scored=len(scored), false=sum(one.true is False for one in scored)),
        tuple(_worst(reader, lives)),
        tuple(_scored(reader, one) for one in lives[:SHOWN]),
        reader.say("month: more", count=more) if more > 0 else "",
    )  # fmt: skip


def lived(reader: Reader, record: Record, during: Interval) -> list[Lived]:
    """The newest first. Raises StorageError."""
    scores = {e.subject: bool(e.facts.get("true")) for e, _, _ in record.events(EventKind.SCORE, during)}
    by_alert: dict[str, list[tuple[AlertChange, float]]] = {}
    for change, utc_s in record.alert_changes(during):
        if utc_s is not None and during.start_s <= utc_s:
            by_alert.setdefault(change.alert, []).append((change, utc_s))
    found = [_life(reader, alert, told, scores) for alert, told in by_alert.items()]
    return sorted(found, key=lambda one: -one.began_s)


def _life(
    reader: Reader, alert: str, told: Sequence[tuple[AlertChange, float]], scores: Mapping[str, bool]
) -> Lived:
    first, began_s = told[0]
    ends = [utc_s for change, utc_s in told if change.state in ("ended", "returned")]
    calls = [c for c, _ in told if c.what in CALLS and c.state == "active"]
    heard = sum(c.severity is not Severity.CAUTION for c in calls)
    gravest = min((c.severity for c, _ in told), key=list(GRADES).index)
    return Lived(
        alert, first.rule, first.subject, gravest, began_s, ends[-1] if ends else None, len(calls), heard,
        say(first.reason, reader.dress), scores.get(alert),
    )  # fmt: skip


def _worst(reader: Reader, lives: Sequence[Lived]) -> Iterable[Worst]:
    """By how often they were to be heard; what was false counts threefold."""
    kinds: dict[tuple[str, str], list[Lived]] = {}
    for one in lives:
        kinds.setdefault((one.rule, one.subject), []).append(one)

    def weight(key: tuple[str, str]) -> tuple[int, int]:
        ones = kinds[key]
        return sum(o.heard + 3 * (o.true is False) for o in ones), sum(o.calls for o in ones)

    for key in sorted(kinds, key=weight, reverse=True)[:WORST]:
        ones = kinds[key]
        heard = sum(o.heard for o in ones)
        times = reader.say("month: how often", times=named(often(len(ones))), heard=_heard(reader, heard))
        reason, proposal, try_href = _why(reader, key[0], ones)
        yield Worst(rule_name(reader, *key), rule_href(*_page(key)), times, reason, proposal, try_href)


def _page(key: tuple[str, str]) -> tuple[str, str]:
    return (key[0], key[1] if key[0] == "low voltage" else "")


def _why(reader: Reader, rule: str, ones: Sequence[Lived]) -> tuple[str, str, str]:
    """What is odd about it, what may be done, and the change to look at, if there is one."""
    row: Rule | None = rulebook(reader).rules.get(rule)
    scored = [o for o in ones if o.true is not None]
    false = sum(o.true is False for o in scored)
    lasted = [o.lasted_s for o in ones if o.lasted_s is not None]
    if row is None:
        return "", "", ""
    if false * 2 > len(scored):
        facts = {"false": false, "scored": len(scored)}
        return reader.say("month: false", **facts), reader.say("month: look at its limit"), ""
    if len(lasted) >= FEW and median(lasted) < SHORT_S:
        longer_s = max(2 * row.on_delay_s, 1.5 * median(lasted))
        reason = reader.say("month: short", half_s=median(lasted))
        if longer_s < row.respond_s:
            minutes = max(1, round(longer_s / MINUTE_S))
            href = f"{rule_href(rule)}?{urlencode({'on_delay': f'{minutes} min'})}#preview"
            return reason, reader.say("month: wait longer", on_s=minutes * MINUTE_S), href
        return reason, reader.say("month: look at its limit"), ""
    return reader.say("month: as told"), reader.say(f"{rule}: do"), ""


def _scored(reader: Reader, one: Lived) -> Scored:
    return Scored(
        one.alert,
        f"{date(one.began_s, reader.dress)}, {clock_time(one.began_s, reader.dress)}",
        f"{GRADES[one.severity]}: {rule_name(reader, one.rule, one.subject)}",
        "" if one.lasted_s is None else span(one.lasted_s, reader.dress),
        one.because,
        "" if one.true is None else "true" if one.true else "false",
    )


def _heard(reader: Reader, times: int) -> str:
    """ "heard twice: 7 in a hundred nights": from the month's thirty."""
    if not times:
        return reader.say("month: not heard")
    return reader.say("month: heard", times=often(times), a_hundred=100 * times / (MONTH_S / DAY_S))
