"""The one time axis: the past, from now to noon, and the coming ten days, each on its own scale.

The change of scale at noon is part of the drawing (the seam), so that nobody reads ten days as one.
"""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from monitor.clock import DAY_S, HOUR_S
from monitor.words.tongues import ENGLISH, weekday

PAST_S = 18 * HOUR_S
PAST_SHARE = 0.19
NEAR_SHARE = 0.27
"""A third of what lies ahead: the rest belongs to the ten days after the noon."""
SHORTEST_NEAR_S = 5 * HOUR_S
"""A noon nearer than this is passed over for the next, so that "near" is never a sliver."""


@dataclass(frozen=True, slots=True)
class Tick:
    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Axis:
    """`edges_s` are where the scale changes, `edges_x` where they are drawn."""

    edges_s: tuple[float, ...]
    edges_x: tuple[float, ...]
    now_s: float
    zone: tzinfo

    @property
    def start_s(self) -> float:
        return self.edges_s[0]

    @property
    def end_s(self) -> float:
        return self.edges_s[-1]

    @property
    def seam_s(self) -> float:
        return self.edges_s[-2]

    @property
    def now_x(self) -> float:
        return self.x(self.now_s)

    @property
    def seam_x(self) -> float:
        return self.edges_x[-2]

    def x(self, utc_s: float) -> float:
        """Where that moment is drawn; moments off the axis lie on its ends."""
        inside = min(max(utc_s, self.start_s), self.end_s)
        n = min(bisect_right(self.edges_s, inside), len(self.edges_s) - 1)
        s0, s1 = self.edges_s[n - 1], self.edges_s[n]
        x0, x1 = self.edges_x[n - 1], self.edges_x[n]
        return x0 + (x1 - x0) * (inside - s0) / (s1 - s0)

    def spans(self, intervals: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        """Left edge and width of each interval that shows."""
        seen = [(s, e) for s, e in intervals if e > self.start_s and s < self.end_s]
        return tuple((self.x(s), self.x(e) - self.x(s)) for s, e in seen)

    def hours(self, every: int = 6) -> tuple[Tick, ...]:
        """Ship's hours before the seam; none so near to an edge that it would touch another word."""
        day = datetime.fromtimestamp(self.start_s, UTC).astimezone(self.zone).date()
        ticks = []
        while _ship_s(day, 0, self.zone) < self.seam_s:
            ticks += [(_ship_s(day, h, self.zone), f"{h:02d}") for h in range(0, 24, every)]
            day += timedelta(days=1)
        room = 0.012
        return tuple(
            Tick(x, label)
            for s, label in ticks
            if room < (x := self.x(s)) < self.seam_x - room and abs(x - self.now_x) > room
        )

    def midnights(self) -> tuple[Tick, ...]:
        """The days after the seam: each midnight's line."""
        return tuple(Tick(self.x(s), "") for s, _ in self._days() if s > self.seam_s)

    def days(self, language: str = ENGLISH) -> tuple[Tick, ...]:
        """The days after the seam, each named at its noon (the first one's afternoon is too short)."""
        named = []
        for s, day in self._days():
            noon = _ship_s(day, 12, self.zone)
            if s >= self.seam_s and self.x(noon) < 0.97:
                named.append(Tick(self.x(noon), weekday(datetime.combine(day, time()), language)))
        return tuple(named)

    def _days(self) -> list[tuple[float, date]]:
        first = datetime.fromtimestamp(self.seam_s, UTC).astimezone(self.zone).date()
        days = [first + timedelta(days=n) for n in range(12)]
        return [(s, d) for d in days if (s := _ship_s(d, 0, self.zone)) < self.end_s]


def ahead_axis(now_s: float, zone: tzinfo, past_s: float = PAST_S) -> Axis:
    """The axis of Ahead: a past of `past_s`, now, the next noon, ten days after now."""
    noon_s = next_noon(now_s, zone)
    edges_s = (now_s - past_s, now_s, noon_s, now_s + 10 * DAY_S)
    return Axis(edges_s, (0.0, PAST_SHARE, PAST_SHARE + NEAR_SHARE, 1.0), now_s, zone)


def even_axis(start_s: float, end_s: float, zone: tzinfo) -> Axis:
    """One scale throughout: a night, a span of the history."""
    edges_s = (start_s, start_s + (end_s - start_s) * 0.999, end_s)
    return Axis(edges_s, (0.0, 0.999, 1.0), end_s + 1, zone)


def next_noon(now_s: float, zone: tzinfo) -> float:
    """The first noon by the ship's clock that is at least SHORTEST_NEAR_S away."""
    day = datetime.fromtimestamp(now_s, UTC).astimezone(zone).date()
    while (noon_s := _ship_s(day, 12, zone)) < now_s + SHORTEST_NEAR_S:
        day += timedelta(days=1)
    return noon_s


def _ship_s(day: date, hour: int, zone: tzinfo) -> float:
    return datetime.combine(day, time(hour), zone).timestamp()
