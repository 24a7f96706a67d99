"""Where a strip of time is looked into: the stretch that is shown, and the links that show another."""

from dataclasses import dataclass
from datetime import tzinfo
from math import ceil
from urllib.parse import urlencode

from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.words.tongues import N_
from monitor.words.units import between, clock, clock_time, date
from web.presentation.figures import Reader
from web.presentation.ship_ticks import day_of, exact, shift_s

PARTS = 6
"""The strip is looked into by sixths: a day by its watches of four hours."""
SHORTEST_S, LONGEST_S = 30.0, 8 * DAY_S


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of time that is shown."""

    start_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        return self.end_s - self.start_s

    def moved(self, shares: float) -> "Window":
        return Window(self.start_s + shares * self.seconds, self.end_s + shares * self.seconds)

    def scaled(self, factor: float) -> "Window":
        """About its middle, within what can be shown."""
        middle_s = (self.start_s + self.end_s) / 2
        half_s = min(LONGEST_S, max(SHORTEST_S, self.seconds * factor)) / 2
        return Window(middle_s - half_s, middle_s + half_s)


@dataclass(frozen=True, slots=True)
class Look:
    """A link that shows another stretch."""

    id: str
    href: str
    label: str


@dataclass(frozen=True, slots=True)
class Part:
    """A sixth of the strip, to be looked into."""

    x: float
    href: str
    told: str


def window(now_s: float, zone: tzinfo, asked: tuple[float, float] | None) -> Window:
    """What was asked for, within reason; else the last day, up to the end of the watch under way."""
    if asked is not None:
        seconds = min(LONGEST_S, max(SHORTEST_S, asked[1] - asked[0]))
        end_s = min(asked[0] + seconds, now_s + DAY_S)
        return Window(end_s - seconds, end_s)
    watch_s = 4 * HOUR_S
    ahead_s = shift_s(now_s, zone)
    end_s = ceil((now_s + ahead_s) / watch_s) * watch_s - ahead_s
    return Window(end_s - DAY_S, end_s)


def href(shown: Window) -> str:
    """The page with that stretch in its strip."""
    asked = urlencode({"from": f"{shown.start_s:.0f}", "to": f"{shown.end_s:.0f}"})
    return f"/water?{asked}#strip"


def parts(shown: Window, reader: Reader) -> tuple[Part, ...]:
    """The sixths of what is shown; none where they would be too short to be worth a look."""
    if shown.seconds <= PARTS * SHORTEST_S / 2:
        return ()
    each_s = shown.seconds / PARTS
    found = []
    for n in range(PARTS):
        part = Window(shown.start_s + n * each_s, shown.start_s + (n + 1) * each_s)
        told = reader.say("look closer", when=when(part, reader))
        found.append(Part(n / PARTS, href(part), told))
    return tuple(found)


def looks(shown: Window, default: bool, now_s: float) -> tuple[Look, ...]:
    """Earlier, later, closer, wider, and back to the last day, as far as each is of use."""
    found = [Look("earlier", href(shown.moved(-0.5)), N_("Earlier"))]
    if shown.end_s < now_s:
        found.append(Look("later", href(shown.moved(0.5)), N_("Later")))
    if shown.seconds > SHORTEST_S:
        found.append(Look("closer", href(shown.scaled(1 / 4)), N_("Closer")))
    if shown.seconds < LONGEST_S:
        found.append(Look("wider", href(shown.scaled(4)), N_("Wider")))
    if not default:
        found.append(Look("day", "/water#strip", N_("The last day")))
    return tuple(found)


def when(shown: Window, reader: Reader) -> str:
    """ "Tue 16:00 to Wed 16:00", with dates past a week ago and seconds in short stretches."""
    now_s, dress = reader.snapshot.utc_s or shown.end_s, reader.dress
    if shown.seconds < 10 * MINUTE_S:
        first, last = (exact(t, reader)[:8] for t in (shown.start_s, shown.end_s))
        return between(f"{day_of(shown.start_s, reader)} {first}", last, dress)
    one_day = day_of(shown.start_s, reader) == day_of(shown.end_s, reader)
    last = clock_time(shown.end_s, dress) if one_day else clock(shown.end_s, dress)
    told = between(clock(shown.start_s, dress), last, dress)
    return told if now_s - shown.start_s < 6 * DAY_S else f"{date(shown.start_s, dress)}, {told}"
