"""Which span is asked for: a night by its date, any span by the ship's clock, while you were away."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

from monitor.clock import DAY_S, Interval
from monitor.records import Account, EventKind, NightLedger
from monitor.words.tongues import N_
from monitor.words.units import between, clock_time
from monitor.words.units import date as told_date
from web.presentation.figures import Reader
from web.watch import Record, Watch

LONGEST_S = 31 * DAY_S
LOOK_BACK_S = 400 * DAY_S
"""An absence is looked for so far back."""
SETTLED_S = 900.0
"""A span that ended longer ago than this changes no more."""
FORMAT = "%Y-%m-%dT%H:%M"


class SpanError(Exception):
    """No such span can be told: the sentence says why."""


@dataclass(frozen=True, slots=True)
class Away:
    during: Interval | None
    note: str


def asked(reader: Reader, start: str, end: str) -> Interval:
    """From and to by the ship's clock. Raises SpanError."""
    now_s, say = reader.snapshot.utc_s, reader.say
    if now_s is None:
        raise SpanError(say("span: no clock"))
    if not start or not end:
        raise SpanError(say("span: missing end"))
    start_s, end_s = moment_of(reader, N_("From"), start), moment_of(reader, N_("To"), end)
    if end_s <= start_s:
        raise SpanError(say("span: backwards", start=start, end=end))
    if start_s >= now_s:
        raise SpanError(say("span: ahead", now=now_s))
    if end_s - start_s > LONGEST_S:
        raise SpanError(say("span: too long", length=end_s - start_s, most=LONGEST_S))
    return Interval(start_s, min(end_s, now_s))


def moment_of(reader: Reader, which: str, text: str) -> float:
    """By the ship's clock; an hour that comes twice is the first one, as Python's datetime has it."""
    plain = text.strip().replace(" ", "T")
    try:
        at = datetime.strptime(plain, FORMAT if "T" in plain else "%Y-%m-%d")  # noqa: DTZ007
        if not 1990 <= at.year <= 2200:
            raise ValueError
        return at.replace(tzinfo=reader.dress.zone).timestamp()
    except (ValueError, OverflowError):
        raise SpanError(reader.say("span: malformed", which=reader.word(which), got=text)) from None


def away(reader: Reader, record: Record | None) -> Away:
    """The last time that nobody was aboard, by the crew's own word."""
    now_s = reader.snapshot.utc_s
    if now_s is None:
        return Away(None, reader.say("span: no clock"))
    if record is None:
        return Away(None, reader.say("no record"))
    left_s, back_s = None, None
    told = record.events(EventKind.MODE, Interval(now_s - LOOK_BACK_S, now_s))
    for event, at_s, _ in sorted(
        (t for t in told if t[1] is not None), key=lambda t: t[1] or 0.0
    ):  # fmt: skip
        if event.facts.get("people") == "away":
            if left_s is None or back_s is not None:
                left_s, back_s = at_s, None
        elif left_s is not None and back_s is None:
            back_s = at_s
    if left_s is None:
        return Away(None, reader.say("away: never"))
    end_s = now_s if back_s is None else back_s
    note = reader.say("away: still", start=left_s) if back_s is None else ""
    if end_s - left_s > LONGEST_S:
        note = reader.say("away: long", length=end_s - left_s, most=LONGEST_S)
        left_s = end_s - LONGEST_S
    return Away(Interval(left_s, end_s), note)


def night_date(ledger: NightLedger, reader: Reader) -> date:
    """A night bears the date of its dusk by the ship's clock."""
    return datetime.fromtimestamp(ledger.start_s, UTC).astimezone(reader.dress.zone).date()


def find(reader: Reader, wanted: date | None) -> NightLedger | None:
    """The night of that date; without one the last that has ended, or else the one under way."""
    nights = reader.snapshot.nights
    if wanted is not None:
        return next((n for n in nights if night_date(n, reader) == wanted), None)
    now_s = reader.snapshot.utc_s
    ended = [n for n in nights if now_s is None or n.end_s <= now_s]
    return ended[-1] if ended else nights[-1] if nights else None


def days(reader: Reader, now_s: float, number: int = 7) -> list[Interval]:
    """The last days by the ship's clock, midnight to midnight, today as far as it has come."""
    zone = reader.dress.zone
    today = datetime.fromtimestamp(now_s, UTC).astimezone(zone).date()
    firsts = [today - timedelta(days=n) for n in range(number - 1, -2, -1)]
    edges = [datetime.combine(day, time(), zone).timestamp() for day in firsts]
    return [Interval(a, min(b, now_s)) for a, b in pairwise(edges) if a < now_s]


def told_span(reader: Reader, during: Interval) -> str:
    """ "Tue 24 Nov 18:03 to Wed 25 Nov 08:45", the day once where it is one."""
    days, times = zip(
        *((told_date(t, reader.dress), clock_time(t, reader.dress)) for t in during), strict=True
    )
    last = times[1] if days[0] == days[1] else f"{days[1]} {times[1]}"
    return between(f"{days[0]} {times[0]}", last, reader.dress)


def by_clock(reader: Reader, utc_s: float) -> str:
    """As a form and an address write it."""
    return datetime.fromtimestamp(utc_s, UTC).astimezone(reader.dress.zone).strftime(FORMAT)


class Accounts:
    """Accounts of spans that are over are asked for once: every open page asks again each second."""

    KEPT = 24

    def __init__(self) -> None:
        self._kept: dict[tuple[object, ...], Account] = {}

    def of(self, watch: Watch, reader: Reader, during: Interval) -> Account | None:
        """A span explained, up to now. None where nothing was heard. Raises StorageError."""
        now_s = reader.snapshot.utc_s
        if now_s is not None and during.end_s > now_s:
            during = Interval(during.start_s, now_s // 60 * 60)
        if during.end_s <= during.start_s:
            return None
        settled = now_s is None or now_s - during.end_s > SETTLED_S
        loads = tuple((k.id, k.name, k.confidence, k.watts) for k in reader.snapshot.loads)
        key = (during, loads, 0 if settled else now_s and now_s // 60)
        found = self._kept.get(key) or watch.account(during)
        if found is not None:
            self._kept.pop(key, None)
            while len(self._kept) >= self.KEPT:
                self._kept.pop(next(iter(self._kept)), None)
            self._kept[key] = found
        return found


def completed(account: Account | None, night: NightLedger) -> NightLedger:
    """A night's ledger by the loads known now; what only the night's own knows is kept."""
    if account is None:
        return night
    now = account.ledger
    return replace(
        now,
        end_s=night.end_s,
        water_L=night.water_L if now.water_L is None else now.water_L,
        pump_starts=night.pump_starts if now.pump_starts is None else now.pump_starts,
        dusk_pct=night.dusk_pct if now.dusk_pct is None else now.dusk_pct,
        dawn_pct=night.dawn_pct if now.dawn_pct is None else now.dawn_pct,
        lowest_V=now.lowest_V or night.lowest_V,
        place=now.place or night.place,
        usual=now.usual or night.usual,
        changed=now.changed or night.changed,
        health=now.health or night.health,
    )


def engine_runs(record: Record | None, n: NightLedger, now_s: float) -> dict[str, tuple[float, float]]:
    """Watt-hours and seconds of the runs of each source of `made_by`: its own, or the charges on record."""
    found = {s.what: (s.Wh, sum(b - a for a, b in s.runs)) for s in n.made_by if s.runs}
    asked_for = {s.what for s in n.made_by if not s.runs}
    if record is None or not asked_for:
        return found
    for event, start_s, end_s in record.events(
        EventKind.CHARGE, Interval(n.start_s, min(n.end_s, now_s))
    ):  # fmt: skip
        name, made_Wh = event.subject, event.facts.get("made_Wh")
        if name in asked_for and made_Wh is not None and start_s is not None and end_s is not None:
            Wh, seconds = found.get(name, (0.0, 0.0))
            found[name] = (Wh + made_Wh, seconds + end_s - start_s)
    return found
