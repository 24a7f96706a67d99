"""Must we charge today? With what, for how long, and beginning by when.

The forecast's cautious edge says how low the charge may come before the sun is up again: the next dawn
and the hours until the noon after it. What is missing there to the reserve must be put in before, by one
run of one source, as late as it still gets there and before the quiet hours. The sun that is expected is
in the forecast already.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

from monitor.clock import HOUR_S, MINUTE_S, Interval
from monitor.estimation.cautious_course import Ahead, look_ahead
from monitor.estimation.house_left import HouseLeft
from monitor.estimation.quiet import loud_hours
from monitor.estimation.tapering import NEARLY_FULL, added_Wh, minutes_to_add
from monitor.records import ChargeOption, ChargePlan, Course, Reason
from monitor.settings import Settings

AT_ONCE_S = 10 * MINUTE_S
LOUD = ("alternator", "generator")
ENOUGH = 0.999
LEAST_MIN = 30.0
"""An engine is not started for less: short runs leave it cold, wet and sooty. Common practice."""


class Way(NamedTuple):
    """A source that could be run: what it puts in, net, and the machine that must run for it."""

    source: str
    kind: str
    net_W: float
    learned: bool
    machine: str


def charge_plan(
    now_s: float,
    left: HouseLeft,
    course: Course,
    darkness: Sequence[tuple[float, float]],
    ways: Sequence[Way],
    settings: Settings,
    taper_share: float,
) -> ChargePlan:
    """Whether, and how, the cautious charge is kept above the reserve until the noon after the next dawn.

    Args:
        now_s: Wall time.
        left: What is left now: the course is shifted to it, since it was drawn some time ago.
        course: The forecast with the charging that is usual. [Wh]
        darkness: Dusk to dawn, in order. [UTC s]
        ways: The sources that could be run.
        settings: The quiet hours and the ship's clock.
        taper_share: See `monitor.estimation.tapering`.
    """
    ahead = look_ahead(now_s, left, course, darkness)
    lowest_s, lowest_Wh = ahead.lowest
    crossing_s = ahead.first_below(left.reserve_Wh)
    need = None
    if crossing_s is not None:
        missing_Wh = left.reserve_Wh - lowest_Wh
        need = _Need(missing_Wh, now_s, crossing_s, left, ahead, settings, taper_share)
    options = [_option(way, need, left, ahead) for way in ways]
    options.sort(key=lambda o: (not o.enough, o.kind in LOUD, -o.dawn_low_pct if not o.enough else o.minutes))
    told = {
        "dawn_s": ahead.dawn_s, "dawn_pct": left.pct(ahead.dawn_low_Wh), "lowest_s": lowest_s,
        "lowest_pct": left.pct(lowest_Wh), "reserve_pct": left.reserve_pct,
        "margin_pct": 100 * (lowest_Wh - left.reserve_Wh) / left.capacity_Wh,
    }  # fmt: skip
    return ChargePlan(
        need is not None,
        ahead.dawn_s,
        left.pct(ahead.dawn_low_Wh),
        None if ahead.dawn_likely_Wh is None else left.pct(ahead.dawn_likely_Wh),
        tuple(options),
        _reason(need is not None, now_s, options, ways, told),
    )


class _Run(NamedTuple):
    """One run, and what it adds to the lowest charge."""

    start_s: float
    minutes: float
    added_Wh: float

    @property
    def end_s(self) -> float:
        return self.start_s + self.minutes * MINUTE_S


class _Need(NamedTuple):
    """What must be added, before when, and what an option is reckoned with."""

    Wh: float
    now_s: float
    crossing_s: float
    left: HouseLeft
    ahead: Ahead
    settings: Settings
    taper_share: float

    def worth_Wh(self, way: Way) -> float:
        """What to add: no engine runs for less than half an hour."""
        return max(self.Wh, way.net_W * LEAST_MIN / 60) if way.kind in LOUD else self.Wh

    def windows(self, way: Way, until_s: float) -> list[Interval]:
        """When it may be run from now on."""
        span, night = Interval(self.now_s, until_s), self.settings.night
        if until_s <= self.now_s:
            return []
        if way.kind not in LOUD:
            return [span]
        return loud_hours(span, night.quiet_from, night.quiet_until, self.settings.boat.zone)

    def minutes(self, Wh: float, way: Way, from_s: float) -> float:
        return minutes_to_add(Wh, self.ahead.at(from_s), self.left.capacity_Wh, way.net_W, self.taper_share)

    def added_Wh(self, minutes: float, way: Way, from_s: float) -> float:
        return added_Wh(minutes, self.ahead.at(from_s), self.left.capacity_Wh, way.net_W, self.taper_share)


def _option(way: Way, need: _Need | None, left: HouseLeft, ahead: Ahead) -> ChargeOption:
    """The latest run that does it; where none does, the one that does most, or the first there is."""
    run, enough, by_dawn_Wh = None, True, 0.0
    dawn_s = ahead.dawn_s or ahead.lowest[0]
    if need is not None:
        late = _late(way, need)
        run = late or _soon(way, need)
        enough = run is not None and run.added_Wh >= ENOUGH * need.Wh
        enough = enough and run is not None and (run is late or run.end_s <= dawn_s)
    if need is not None and run is not None:
        until_min = (dawn_s - run.start_s) / MINUTE_S
        by_dawn_Wh = run.added_Wh if run.end_s <= dawn_s else need.added_Wh(until_min, way, run.start_s)
    return ChargeOption(
        way.source,
        way.kind,
        way.net_W,
        way.learned,
        0.0 if run is None else run.minutes,
        None if run is None else run.start_s,
        left.pct(ahead.dawn_low_Wh + by_dawn_Wh),
        enough,
    )


def _late(way: Way, need: _Need) -> _Run | None:
    """The latest run that adds it all before the charge would fall under the reserve; else the one that
    adds most. What the sun would then have no room for is not counted."""
    best: _Run | None = None
    lowest_s = need.ahead.lowest[0]
    for window in reversed(need.windows(way, need.crossing_s)):
        guess_s = max(window.start_s, window.end_s - need.worth_Wh(way) / way.net_W * HOUR_S)
        room_Wh = NEARLY_FULL * need.left.capacity_Wh - need.ahead.peak_Wh(guess_s, lowest_s)
        Wh = min(need.worth_Wh(way), max(0.0, room_Wh))
        minutes = need.minutes(Wh, way, guess_s)
        fits = minutes <= window.seconds / MINUTE_S
        if not fits:
            minutes = window.seconds / MINUTE_S
            Wh = min(Wh, need.added_Wh(minutes, way, window.start_s))
        run = _Run(window.end_s - minutes * MINUTE_S, minutes, Wh)
        if fits and run.added_Wh >= ENOUGH * need.Wh:
            return run
        if run.added_Wh > (best.added_Wh if best is not None else 0.0):
            best = run
    return best


def _soon(way: Way, need: _Need) -> _Run | None:
    """It is too late for before: as soon as it may be run."""
    window = next(iter(need.windows(way, float(need.ahead.utc_s[-1]))), None)
    if window is None:
        return None
    length_min = window.seconds / MINUTE_S
    Wh = need.worth_Wh(way)
    minutes = min(length_min, need.minutes(Wh, way, window.start_s))
    Wh = Wh if minutes < length_min else need.added_Wh(minutes, way, window.start_s)
    return _Run(window.start_s, minutes, Wh)


def _reason(
    needed: bool, now_s: float, options: Sequence[ChargeOption], ways: Sequence[Way], told: dict[str, Any]
) -> Reason:
    if not needed:
        return Reason("charge: not needed", told)
    if not options:
        return Reason("charge: nothing to run", told)
    best = options[0]
    machine = next(way.machine for way in ways if way.source == best.source)
    told |= {
        "machine": machine, "run_s": best.minutes * MINUTE_S, "start_s": best.latest_start_s,
        "then_pct": best.dawn_low_pct, "net_W": best.net_W,
    }  # fmt: skip
    if best.latest_start_s is None:
        return Reason("charge: nothing to run", told)
    if not best.enough:
        return Reason("charge: not enough", told)
    at_once = best.latest_start_s <= now_s + AT_ONCE_S
    return Reason("charge: run now" if at_once else "charge: run by", told)
