"""What each rule that has a limit rested on, as it stands in the store."""

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from monitor.alerts.findings import SEVERE_V_PER_CELL
from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Floats, Mask, Situation, low_charge, situation
from monitor.alerts.silence import BLIND_S
from monitor.clock import HOUR_S, MINUTE_S, Interval
from monitor.estimation.freezing import ALARM_C, near_plumbing
from monitor.estimation.scoring import EVERY_S
from monitor.estimation.water_age import DEADBAND_DAYS
from monitor.pipeline.account import pump_runs
from monitor.pipeline.minute_grid import MinuteGrid, held, minutes_of
from monitor.records import EventKind
from monitor.settings import Settings
from monitor.storage.history import History

MINUTES, LOWEST, HOURS = (
    "preview: by the minute",
    "preview: by the lowest of each minute",
    "preview: by the hour",
)
FORECASTS, RUNS, JUDGE = "preview: by forecasts", "preview: by the pump's runs", "preview: by the leak judge"
LEFT_ALONE, LABEL = "preview: while nobody is aboard", "preview: by the label's capacity"
"""What a preview rests on: ids of `monitor.words.previews`."""

LimitAt = Callable[[Floats], Floats]
"""The limit at each of these times, in the rule's own unit."""
Judge = Callable[[LimitAt], Situation]


class Recorded(NamedTuple):
    """What a rule would have looked at: what that was, and how it judges it."""

    by: str
    judge: Judge


class Asked(NamedTuple):
    """Of whom, where and when."""

    history: History
    settings: Settings
    subject: str
    during: Interval
    left: Callable[[Floats], Mask]
    """Whether nobody was aboard at each of these times."""

    def minutes(self, quantity: str, subject: str | None = None) -> MinuteGrid:
        """What was measured."""
        return minutes_of(self.history, f"{subject or self.subject} {quantity}", self.during)

    def kept(self, quantity: str, subject: str | None = None) -> MinuteGrid:
        """What the watch kept once a minute: its one value, not the mean with the one before."""
        grid = self.minutes(quantity, subject)
        return grid if grid.hourly else grid._replace(mean=grid.low)


def recorded(rule: str, asked: Asked) -> Recorded | None:
    """None where nothing of it was recorded in the span. Raises StorageError."""
    return _READERS[rule](asked)


def subjects(rule: str, settings: Settings) -> Iterator[str]:
    """Everything that a rule with a limit watches."""
    house = [bank.name for bank in settings.banks if bank.role == "house"]
    if rule == "low voltage":
        watched = [b for b in settings.banks if b.role != "buffer" or b.chemistry != "lead"]
        yield from (bank.name for bank in watched)
    elif rule in ("low charge", "few energy days"):
        yield from house
    elif rule in ("pump running on", "leak suspected"):
        yield from (pump.name for pump in settings.pumps)
    elif rule == "water old":
        yield from (tank.name for tank in settings.tanks)
    elif rule == "source silent":
        yield from (source.name for source in settings.sources if source.kind != "recording")
    else:
        yield "water"


def _by(grid: MinuteGrid, by: str) -> str:
    return HOURS if grid.hourly else by


def _limited(
    rule: str, asked: Asked, by: str, at_s: Floats, values: Floats, deadband: float | None = None
) -> Recorded:
    row = LIMITS[rule]
    if deadband is None:
        deadband = row.deadband(asked.settings, asked.subject, 1)
    apart = deadband
    return Recorded(by, lambda limit: situation(row, at_s, values, limit(at_s), apart))


def _voltage(asked: Asked) -> Recorded | None:
    """By the lowest of each minute: two dips in minutes that follow are taken as one that lasted."""
    grid = asked.minutes("voltage")
    bank = next((b for b in asked.settings.banks if b.name == asked.subject), None)
    if bank is None or not grid.heard:
        return None
    severe_V = SEVERE_V_PER_CELL * bank.cells
    plain = _limited("low voltage", asked, _by(grid, LOWEST), grid.at_s, grid.low)

    def judge(limit: LimitAt) -> Situation:
        with np.errstate(invalid="ignore"):
            return plain.judge(limit)._replace(urgent=grid.low < limit(grid.at_s) - severe_V)

    return plain._replace(judge=judge)


def _charge(asked: Asked) -> Recorded | None:
    likely, low = asked.kept("counted charge"), asked.kept("counted charge low")
    by = _by(likely, MINUTES)
    if not likely.heard:
        house = [bank for bank in asked.settings.banks if bank.role == "house"]
        if [bank.name for bank in house] != [asked.subject]:
            return None
        likely, low = asked.kept("energy left", "house"), asked.kept("energy left low", "house")
        if not likely.heard:
            return None
        to_pct = 100 / house[0].nominal_Wh
        likely, low = (grid._replace(mean=grid.mean * to_pct) for grid in (likely, low))
        by = LABEL
    at_s = likely.at_s
    return Recorded(by, lambda limit: low_charge(at_s, likely.mean, low.mean, limit(at_s)))


def _energy_days(asked: Asked) -> Recorded | None:
    return _days("few energy days", "energy", asked)


def _water_days(asked: Asked) -> Recorded | None:
    return _days("few water days", "water", asked)


def _days(rule: str, what: str, asked: Asked) -> Recorded | None:
    """By the minute where that is kept, else by the forecasts that are kept every six hours."""
    grid = asked.kept("days left low")
    if grid.heard:
        return _limited(rule, asked, _by(grid, MINUTES), grid.at_s, grid.mean)
    told = [
        (utc_s, float(event.facts["cautious_days"]))
        for event, utc_s, _ in asked.history.events(EventKind.FORECAST, asked.during)
        if event.subject == what and utc_s is not None
    ]
    if not told:
        return None
    return _limited(rule, asked, FORECASTS, grid.at_s, held(told, grid.at_s, EVERY_S + HOUR_S))


def _water(asked: Asked) -> Recorded | None:
    grid = asked.kept("water left", "boat")
    return _limited("low water", asked, _by(grid, MINUTES), grid.at_s, grid.mean) if grid.heard else None


def _running(asked: Asked) -> Recorded | None:
    """At every minute in which the watch listened, and where a run passes the limit and ends."""
    listened = _listened(asked)
    if not listened.heard:
        return None
    runs = pump_runs(asked.history, asked.settings, asked.during).get(asked.subject, [])
    starts, ends = (np.array([run[n] for run in runs], np.float64) for n in (0, 1))

    def judge(limit: LimitAt) -> Situation:
        limit_s = limit(starts) * MINUTE_S
        at_s = np.unique(np.concatenate((listened.at_s, starts + limit_s, starts + 2 * limit_s, ends)))
        at_s = at_s[(at_s >= asked.during.start_s) & (at_s < asked.during.end_s)]
        running_s = _since(at_s, starts, ends)
        minute = np.searchsorted(listened.at_s, at_s, side="right") - 1
        running_s[np.isnan(listened.mean[minute]) & (running_s == 0.0)] = np.nan
        now_s = limit(at_s) * MINUTE_S
        s = situation(LIMITS["pump running on"], at_s, running_s, now_s, 0.0)
        return s._replace(raised=s.holds & (running_s >= 2 * now_s))

    return Recorded(RUNS, judge)


def _since(at_s: Floats, starts: Floats, ends: Floats) -> Floats:
    """How long the run under way has lasted, to the millisecond; 0 at rest."""
    if not len(starts):
        return np.zeros(len(at_s))
    newest = np.searchsorted(starts, at_s, side="right") - 1
    known = np.maximum(newest, 0)
    running = (newest >= 0) & (at_s < ends[known])
    return np.where(running, np.round(at_s - starts[known], 3), 0.0)


def _leak(asked: Asked) -> Recorded | None:
    """By the judge's own word; what explained the refills otherwise is left out. It ends when the judge
    calls it tight, whatever the limit."""
    grid = asked.kept("leak")
    if not grid.heard:
        return None
    plain = _limited("leak suspected", asked, JUDGE, grid.at_s, grid.mean * 24)

    def judge(limit: LimitAt) -> Situation:
        s = plain.judge(limit)
        return s._replace(holds=s.holds & (grid.mean > 0), clears=grid.mean == 0)

    return Recorded(_by(grid, JUDGE), judge)


def _frost(asked: Asked) -> Recorded | None:
    """The coldest of the places where pipes run, while the crew had said that nobody is aboard."""
    grids = [asked.minutes("temperature", place.name) for place in near_plumbing(asked.settings)]
    grids = [grid for grid in grids if grid.heard]
    if not grids:
        return None
    at_s = grids[0].at_s
    each = np.array([grid.mean for grid in grids])
    coldest = np.fmin.reduce(each)
    silent = np.isnan(each).any(axis=0)
    watched = asked.left(at_s)
    plain = _limited(FROST, asked, LEFT_ALONE, at_s, np.where(watched, coldest, np.inf))

    def judge(limit: LimitAt) -> Situation:
        s = plain.judge(limit)
        unsure = watched & silent & ~s.holds  # The one that is silent may be the coldest.
        with np.errstate(invalid="ignore"):
            raised = s.holds & (coldest < ALARM_C)
        return s._replace(clears=s.clears & ~unsure, heard=s.heard & ~unsure, raised=raised)

    return Recorded(LEFT_ALONE, judge)


def _age(asked: Asked) -> Recorded | None:
    grid = asked.kept("water age")
    if not grid.heard:
        return None
    return _limited("water old", asked, _by(grid, MINUTES), grid.at_s, grid.mean, DEADBAND_DAYS)


def _silence(asked: Asked) -> Recorded | None:
    """Minutes in which the watch listened and the source said nothing, counted from the last in which it
    did."""
    listened, heard = asked.kept("up"), asked.kept("heard")
    if not listened.heard:
        return None
    spoke = np.nan_to_num(heard.mean) > 0
    counted = spoke | np.isnan(listened.mean)  # What was not listened to is not silence.
    steps = np.arange(len(spoke))
    last = np.maximum.accumulate(np.where(counted, steps, -1))
    silent_s = np.where(np.isnan(listened.mean), np.nan, MINUTE_S * (steps - last))
    plain = _limited("source silent", asked, _by(listened, MINUTES), listened.at_s, silent_s)
    house = {bank.name for bank in asked.settings.banks if bank.role == "house"}
    tells = any(
        feed.source == asked.subject
        for _, subject in asked.settings.subjects()
        if subject.name in house
        for feed in subject.feeds
    )

    def judge(limit: LimitAt) -> Situation:
        s = plain.judge(limit)
        return s._replace(clears=s.heard & ~s.holds, raised=s.holds & (silent_s >= BLIND_S) & tells)

    return plain._replace(judge=judge)


def _listened(asked: Asked) -> MinuteGrid:
    """The minutes in which the watch heard the source that tells of the subject."""
    subject = next((s for _, s in asked.settings.subjects() if s.name == asked.subject), None)
    feed = next(iter(subject.feeds), None) if subject is not None else None
    return asked.kept("up", feed.source if feed is not None else asked.subject)


FROST = "plumbing may freeze"
_READERS: dict[str, Callable[[Asked], Recorded | None]] = {
    "low voltage": _voltage,
    "low charge": _charge,
    "few energy days": _energy_days,
    "low water": _water,
    "few water days": _water_days,
    "pump running on": _running,
    "leak suspected": _leak,
    FROST: _frost,
    "water old": _age,
    "source silent": _silence,
}
