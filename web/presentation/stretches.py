"""Which stretch of the record is drawn: the last day, any chosen, a year, all years; and its neighbours."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import urlencode

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import StorageError
from monitor.words.tongues import N_
from monitor.words.units import clock_time
from monitor.words.units import date as told_date
from web.presentation.figures import Reader, called
from web.presentation.spans import by_clock, moment_of
from web.watch import Begun, Record

SPANS = {
    N_("6 hours"): 0.25, N_("day"): 1.0, N_("week"): 7.0, N_("month"): 30.0, N_("year"): 365.0,
    N_("all years"): 0.0,
}  # fmt: skip
"""The spans to choose from, in days; the last one is as long as the record."""
ALL = "all years"
LAST = {
    "6 hours": N_("{channel}, the last 6 hours"), "day": N_("{channel}, the last day"),
    "week": N_("{channel}, the last week"), "month": N_("{channel}, the last month"),
    "year": N_("{channel}, the last year"), ALL: N_("{channel}, all years"),
}  # fmt: skip
LONG_S = 32 * DAY_S
"""A longer stretch is read in the worker."""
NO_YEARS_S = 366 * DAY_S
"""All years, where nobody knows when the record begins."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the address says. `until` goes before `day`: the moment, or the day, with which it ends."""

    channel: str = ""
    also: str = ""
    span: str = "day"
    until: str = ""
    day: str = ""
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    during: Interval
    title: str
    day: str
    """Its last day, as the form is filled in."""
    earlier: str
    later: str

    @property
    def long(self) -> bool:
        return self.during.seconds > LONG_S


def stretch(reader: Reader, record: Record, asked: Asked) -> Stretch | None:
    """None without a clock. Raises SpanError for a moment or a day that is none."""
    now_s = reader.snapshot.utc_s
    if now_s is None:
        return None
    first_s = begun(record)
    end_s, chosen = _end(reader, asked, now_s)
    length_s = SPANS[asked.span] * DAY_S
    start_s = end_s - length_s
    if asked.span == ALL:
        end_s, chosen = now_s, False
        start_s = now_s - NO_YEARS_S if first_s is None else min(first_s, now_s - HOUR_S)
    elif chosen and asked.day and not asked.until and length_s >= DAY_S:
        start_s = _midnight(reader, _day_of(reader, end_s - 1) - timedelta(days=int(SPANS[asked.span]) - 1))
    during = Interval(start_s, end_s)
    earlier = later = ""
    if asked.span != ALL:
        earlier = "" if first_s is not None and start_s <= first_s else _href(reader, asked, start_s)
        later = _href(reader, asked, end_s + length_s, now_s) if chosen and end_s < now_s else ""
    title = called(asked.channel, reader.dress)
    if chosen:
        first, last = (moment_of_year(t, reader) for t in during)
        title = reader.word("{channel}, {first} to {last}", channel=title, first=first, last=last)
    else:
        title = reader.word(LAST[asked.span], channel=title)
    return Stretch(_even(during), title, f"{_day_of(reader, end_s - 1):%Y-%m-%d}", earlier, later)


def begun(record: Record) -> float | None:
    """When the record begins; None where it does not say."""
    if not isinstance(record, Begun):
        return None
    try:
        return min((s for boot in record.boots() if (s := boot.utc_s(0.0)) is not None), default=None)
    except StorageError:
        return None


def _even(during: Interval) -> Interval:
    """A long one by whole hours: whoever asks within the same hour asks for the same."""
    if during.seconds <= LONG_S:
        return during
    return Interval(during.start_s // HOUR_S * HOUR_S, -(-during.end_s // HOUR_S) * HOUR_S)


def _end(reader: Reader, asked: Asked, now_s: float) -> tuple[float, bool]:
    """Where it ends, and whether somebody chose that."""
    if asked.until:
        end_s = moment_of(reader, N_("Until"), asked.until)
    elif asked.day:
        day = _day_of(reader, moment_of(reader, N_("The day"), asked.day))
        end_s = _midnight(reader, day + timedelta(days=1))
    else:
        return now_s, False
    return (now_s, False) if end_s >= now_s else (end_s, True)


def _midnight(reader: Reader, day: date) -> float:
    return datetime.combine(day, time(), reader.dress.zone).timestamp()


def _day_of(reader: Reader, utc_s: float) -> date:
    return datetime.fromtimestamp(utc_s, UTC).astimezone(reader.dress.zone).date()


def _href(reader: Reader, asked: Asked, end_s: float, now_s: float | None = None) -> str:
    """The page with the stretch that ends then; up to now it needs no end."""
    fields = {"channel": asked.channel, "also": asked.also, "span": asked.span}
    if now_s is None or end_s < now_s:
        fields["until"] = by_clock(reader, end_s)
    return "/history?" + urlencode({name: value for name, value in fields.items() if value})


def moment_of_year(utc_s: float, reader: Reader) -> str:
    """ "Tue 24 Nov 2026, 15:21"."""
    at = datetime.fromtimestamp(utc_s, UTC).astimezone(reader.dress.zone)
    return f"{told_date(utc_s, reader.dress)} {at.year}, {clock_time(utc_s, reader.dress)}"
