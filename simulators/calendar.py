"""The ship's clock of a voyage: which day it is, and when the scenario's day 0 began."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.clock import DAY_S, HOUR_S

AT_LEAST_ALONGSIDE_S = 6 * HOUR_S
DEPARTURE_HOUR = 10


@dataclass(frozen=True, slots=True)
class Calendar:
    """Days are the ship's; day 0 is the one of the first departure."""

    zone: ZoneInfo
    day0: date

    @classmethod
    def of(cls, start_utc_s: float, zone: ZoneInfo) -> "Calendar":
        """Day 0 is the first whose 10:00 comes at least six hours after the start."""
        earliest = datetime.fromtimestamp(start_utc_s + AT_LEAST_ALONGSIDE_S, UTC).astimezone(zone)
        late = earliest.time() > time(DEPARTURE_HOUR)
        return cls(zone, earliest.date() + timedelta(days=1 if late else 0))

    def midnight_s(self, day: int) -> float:
        """UTC of the beginning of that ship's day."""
        return datetime.combine(self.day0 + timedelta(days=day), time(0), self.zone).timestamp()

    def utc_s(self, day: float) -> float:
        """UTC of a scenario time: 3.25 is 06:00 by the clock of day 3 (but for clock changes)."""
        whole = int(day // 1)
        return self.midnight_s(whole) + (day - whole) * DAY_S

    def day(self, utc_s: float) -> int:
        """The ship's day that holds this moment."""
        return (datetime.fromtimestamp(utc_s, self.zone).date() - self.day0).days
