"""What every way out looks at: the time, the quiet hours, what is to be heard, which alerts stand."""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from typing import NamedTuple

from monitor.clock import HOUR_S
from monitor.records import Notice, OpenAlert, Severity, Snapshot, Sound
from monitor.settings import Settings
from monitor.system_clock import Clock
from monitor.words.units import UNITS, Dress


class Standing(NamedTuple):
    """An open alert as the ways tell of it."""

    rule: str
    subject: str
    grade: Severity
    state: str
    escalated: bool = False


class Desk:
    """Written by the watch's thread, read by every way's: what is read is replaced whole."""

    def __init__(self, settings: Settings, clock: Clock) -> None:
        boat, night, units = settings.boat, settings.night, settings.units
        self.boat, self.zone = boat.name, boat.zone
        self.dress = Dress(
            boat.zone, UNITS[units.volume], UNITS[units.pressure], UNITS[units.temperature], boat.language
        )
        self._quiet = (night.quiet_from, night.quiet_until)
        self._clock = clock
        self._wall: tuple[float, float] | None = None
        self.sound = Sound()
        self.standing: dict[str, Standing] = {}
        """The open alerts."""
        self.looks = 0
        """How often the watch has looked: it stands still when the watch does."""

    def look(self, snapshot: Snapshot) -> None:
        """How things stand now."""
        trusted = snapshot.clock_trusted and snapshot.utc_s is not None
        self._wall = (snapshot.at_s, snapshot.utc_s or 0.0) if trusted else None
        self.standing = {a.alert: _standing(a) for a in snapshot.alerts}
        self.sound = snapshot.calls.sound
        self.looks += 1

    def take(self, notices: Sequence[Notice]) -> None:
        """What has just changed and is in no snapshot yet."""
        standing = dict(self.standing)
        for n in notices:
            if n.kind == "alert" and n.state == "ended":
                standing.pop(n.alert, None)
            elif n.kind == "alert" and n.severity is not None:
                known = standing.get(n.alert)
                escalated = n.second or (known is not None and known.escalated)
                standing[n.alert] = Standing(n.rule, n.subject, n.severity, n.state, escalated)
        self.standing = standing

    def over(self, alert: str) -> bool:
        """Whether it stands no more."""
        standing = self.standing.get(alert)
        return standing is None or standing.state == "returned"

    def elapsed_s(self) -> float:
        return self._clock.elapsed_s()

    def utc_s(self) -> float | None:
        """None while the clock is not trusted."""
        wall = self._wall
        return None if wall is None else wall[1] + self._clock.elapsed_s() - wall[0]

    def quiet(self, utc_s: float | None) -> bool:
        """Whether that lies in the boat's quiet hours; never while the time is not known."""
        start, end = self._quiet
        if utc_s is None or start == end:
            return False
        hour = datetime.fromtimestamp(utc_s, self.zone).hour
        return start <= hour < end if start < end else hour >= start or hour < end

    def day_of_test(self, hour: int) -> str:
        """The ship's day whose test is due in this hour; empty where none is, or the time is not known.

        Counted from the hour's first passing: a clock put forward over it, or back, changes nothing.
        """
        utc_s = self.utc_s()
        if utc_s is None:
            return ""
        today = datetime.fromtimestamp(utc_s, self.zone).date()
        for day in (today, today - timedelta(days=1)):  # An hour may reach into the next day.
            begins_s = datetime.combine(day, time(hour), self.zone).timestamp()
            if begins_s <= utc_s < begins_s + HOUR_S:
                return day.isoformat()
        return ""


def iso(utc_s: float | None) -> str | None:
    """ISO 8601 in UTC to the second; None where the time is not known."""
    if utc_s is None:
        return None
    return datetime.fromtimestamp(round(utc_s), UTC).isoformat().replace("+00:00", "Z")


def _standing(alert: OpenAlert) -> Standing:
    return Standing(alert.rule, alert.subject, alert.severity, alert.state, alert.escalated)
