"""The month in alerts: which called most and in vain, and whether each was true."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Outlook
from monitor.alerts.score import FALSE, TRUE, Life, Worst, a_hundred_nights, candidates, lives, proposal
from monitor.alerts.score import tallies as tallied
from monitor.alerts.score import worst as the_worst
from monitor.clock import DAY_S, MINUTE_S, Interval
from monitor.errors import StorageError
from monitor.records import EventKind, Reason, RuleChange
from monitor.words.say import named, say
from monitor.words.units import span
from web.presentation.alert_cards import GRADES, rule_name
from web.presentation.figures import Reader
from web.presentation.rule import ONE_LIMIT
from web.presentation.rule_preview import often
from web.presentation.rules import bounds, figure, rule_href, rulebook, shown_as, unit_of
from web.watch import Foresees, Record

MONTH_S = 30 * DAY_S
SHOWN = 60
DEEDS = (
    EventKind.FILL, EventKind.CHARGE, EventKind.JOB, EventKind.MODE, EventKind.TEST, EventKind.SERVICE,
)  # fmt: skip
"""What the crew did that may have ended an alert."""
Offer = tuple[Reason, RuleChange] | None


@dataclass(frozen=True, slots=True)
class Vain:
    title: str
    href: str
    told: str
    why: str
    find_href: str
    """Where a change that would help is looked for; empty where that cannot be."""
    proposal: str
    """What was found, if it was looked for."""
    try_href: str


@dataclass(frozen=True, slots=True)
class Scored:
    alert: str
    title: str
    told: str
    score: str
    """ "true" or "false" as the crew said; empty: nobody has."""


@dataclass(frozen=True, slots=True)
class Month:
    first: str
    worst: tuple[Vain, ...]
    lived: tuple[Scored, ...]
    more: str


def month(reader: Reader, record: Record | None, asked: str = "", offer: Offer = None) -> Month:
    """`asked`: the rule for which a change was looked for, and what was found."""
    now_s = reader.snapshot.utc_s
    if record is None or now_s is None:
        return Month(reader.say("no record" if record is None else "month: no clock"), (), (), "")
    try:
        told, days = _lives(reader, record, now_s)
    except StorageError:
        return Month(reader.say("no record"), (), (), "")
    sounded = sum(life.sounded for life in told)
    judged = [life for life in told if life.word in (TRUE, FALSE)]
    id = "month: nothing" if not told else "month: first, scored" if judged else "month: first"
    first = reader.say(
        id,
        alerts=reader.say("alerts: one" if len(told) == 1 else "alerts: many", count=len(told)),
        heard=_heard(reader, sounded, a_hundred_nights(sounded, days)),
        scored=len(judged),
        false=sum(life.word == FALSE for life in judged),
    )
    vain = [_vain(reader, w, asked, offer) for w in the_worst(tallied(told, days))]
    newest = sorted(told, key=lambda life: -life.began_s)
    more = len(told) - SHOWN
    return Month(
        first, tuple(vain), tuple(_scored(reader, life) for life in newest[:SHOWN]),
        reader.say("month: more", count=more) if more > 0 else "",
    )  # fmt: skip


def look_for(reader: Reader, watch: Foresees, rule: str, during: Interval) -> Offer:
    """The smallest change that would have called half as often, tried on the history. Raises as
    `Foresees.previews` does."""
    if rule not in LIMITS:
        return None
    stands = [p for p in watch.previews(None, during, rule) if p.outlook is not None]
    most = max(stands, key=lambda p: len(p.outlook.sounded_s) if p.outlook else 0, default=None)
    if most is None or most.outlook is None:
        return None
    row, crew, book = LIMITS[rule], reader.settings.boat.crew, rulebook(reader)
    subject = "" if rule in ONE_LIMIT else most.subject
    limit = book.limit(rule, subject, reader.snapshot.mode, crew)
    if limit is None:
        return None
    least, greatest = bounds(reader.settings, rule, subject, crew)
    deadband = row.deadband(reader.settings, subject, crew)
    tries = candidates(book.rules[rule], row, subject, limit, least, greatest, deadband)

    def run(change: RuleChange) -> Outlook | None:
        found = [p.outlook for p in watch.previews(change, during) if p.subject == most.subject]
        return found[0] if found else None

    return proposal(most.outlook, tries, run, row.unit)


def _lives(reader: Reader, record: Record, now_s: float) -> tuple[list[Life], float]:
    """What became of each, and over how many days. Raises StorageError."""
    during = Interval(now_s - MONTH_S, now_s + 1)
    events = [(e, utc_s) for e, utc_s, _ in record.events(None, during) if utc_s is not None]
    said = {e.subject: bool(e.facts.get("true")) for e, _ in events if e.kind is EventKind.SCORE}
    deeds = sorted(utc_s for e, utc_s in events if e.kind in DEEDS)
    changes = [(c, s) for c, s in record.alert_changes(during) if s is not None and s >= during.start_s]
    first_s = min([s for _, s in changes] + [s for _, s in events if s >= during.start_s], default=now_s)
    days = min(MONTH_S, max(DAY_S, now_s - first_s)) / DAY_S
    return lives(changes, said, rulebook(reader).rules, now_s, deeds), days


def _vain(reader: Reader, w: Worst, asked: str, offer: Offer) -> Vain:
    t = w.tally
    told = reader.say("month: how often", times=named(often(reader, t.count)),
                      heard=_heard(reader, t.sounding, t.a_hundred_nights))  # fmt: skip
    found, try_href = "", ""
    if asked == t.rule:
        found = reader.say("month: no change helps") if offer is None else _offered(reader, *offer)
        try_href = "" if offer is None else _try_href(reader, offer[1])
    find = f"/alerts/month?rule={quote(t.rule)}" if t.rule in LIMITS and t.sounding > 1 else ""
    return Vain(
        rule_name(reader, t.rule), rule_href(t.rule), told, say(w.why, reader.dress),
        find if asked != t.rule else "", found, try_href,
    )  # fmt: skip


def _offered(reader: Reader, reason: Reason, change: RuleChange) -> str:
    """The change in the reader's own unit."""
    if change.limit is None:
        return say(reason, reader.dress)
    own = {"limit": shown_as(reader, change.rule, change.limit), "unit": unit_of(reader, change.rule)}
    return reader.say(reason.id, **{**reason.facts, **own})


def _try_href(reader: Reader, change: RuleChange) -> str:
    given = {"subject": change.subject} if change.subject else {}
    if change.limit is not None:
        given["limit"] = figure(reader, change.rule, change.limit)
    if change.on_delay_s is not None:
        given["on_delay"] = f"{change.on_delay_s / MINUTE_S:.4g} min"
    return f"{rule_href(change.rule)}?{urlencode(given)}#preview"


def _scored(reader: Reader, life: Life) -> Scored:
    return Scored(
        life.alert,
        reader.titled(reader.word(GRADES[life.severity]), rule_name(reader, life.rule, life.subject)),
        " ".join(_told(reader, life)),
        life.word if life.word in (TRUE, FALSE) else "",
    )


def _told(reader: Reader, life: Life) -> Iterable[str]:
    dress = reader.dress
    began = reader.word("{at:date}, {at:time}", at=life.began_s)
    if life.over_after_s is None:
        yield reader.say("life: lasts", began=began)
    else:
        yield reader.say("life: over", began=began, lasted=span(life.over_after_s, dress))
    if life.seen_after_s is not None:
        yield reader.say("life: seen", after_s=life.seen_after_s)
    else:
        yield reader.say("life: not seen")
    for word in ("escalated", "shelved", "chattered"):
        if getattr(life, word):
            yield reader.say(f"life: {word}")


def _heard(reader: Reader, times: int, a_hundred: float) -> str:
    """ "heard twice: 7 in a hundred nights"."""
    if not times:
        return reader.say("month: not heard")
    return reader.say("month: heard", times=often(reader, times), a_hundred=a_hundred)
