"""Hours, litres and starts that add up for good, and the usual pace of each."""

from collections.abc import Iterable, KeysView, Mapping
from typing import Any

from monitor.clock import DAY_S, HOUR_S, MINUTE_S

BIN_DAYS, BINS = 5, 7
"""The pace is that of the last thirty days and the five under way."""
LEAST_DAYS = 3.0
"""Watched, before there is a pace."""
STUCK_H = 1.0
"""An hour meter that stands for so long while the engine turns is stuck."""
CLOCK_MIN = 30
SLACK_H = 0.2
"""Two steps of a meter that tells tenths."""


class Counted:
    """Sums by name. Days on which nobody watched are no days without use: they do not count."""

    def __init__(self, names: Iterable[str]) -> None:
        self._bin: int | None = None
        self._watched_d = [0.0] * BINS
        self._totals = dict.fromkeys(names, 0.0)
        self._bins = {name: [0.0] * BINS for name in self._totals}

    @property
    def names(self) -> KeysView[str]:
        return self._totals.keys()

    def minute(self, utc_s: float | None) -> None:
        """Another minute is watched. Bins are of UTC; a clock put back moves nothing."""
        if utc_s is not None:
            now = int(utc_s // (BIN_DAYS * DAY_S))
            passed = 0 if self._bin is None else min(max(0, now - self._bin), BINS)
            for bins in (self._watched_d, *self._bins.values()):
                bins[:] = ([0.0] * passed + bins)[:BINS]
            self._bin = now
        self._watched_d[0] += MINUTE_S / DAY_S

    def add(self, name: str, amount: float) -> None:
        self._totals[name] += amount
        self._bins[name][0] += amount

    def total(self, name: str) -> float:
        """Since the watch began."""
        return self._totals[name]

    def a_day(self, name: str) -> float | None:
        """The usual pace; None until enough was watched lately."""
        days = sum(self._watched_d)
        return sum(self._bins[name]) / days if days >= LEAST_DAYS else None

    def state(self) -> dict[str, Any]:
        kept = {n: [round(t, 4), *_short(self._bins[n])] for n, t in self._totals.items() if t}
        return {"bin": self._bin, "watched": _short(self._watched_d), "sums": kept}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._bin = None if state["bin"] is None else int(state["bin"])
        self._watched_d = _whole(state["watched"])
        for name, (total, *bins) in state["sums"].items():
            if name in self._totals:
                self._totals[name], self._bins[name] = float(total), _whole(bins)


def _short(bins: list[float]) -> list[float]:
    """Rounded, without the zeros at the far end."""
    kept = [round(x, 3) for x in bins]
    while kept and not kept[-1]:
        kept.pop()
    return kept


def _whole(bins: Iterable[Any]) -> list[float]:
    kept = [float(x) for x in bins][:BINS]
    return kept + [0.0] * (BINS - len(kept))


class HourMeter:
    """Hours of a machine: by its own meter, which also tells what ran unwatched, else by seeing it run.

    What was seen while the meter was silent or stood is not counted twice when it goes on. A reading that
    went back, or further than time did, is another meter's or a wrong one: it is counted from there.
    """

    def __init__(self) -> None:
        self._told_h: float | None = None
        self._utc_s: float | None = None
        self._since_h: float | None = None
        """Since that reading; None while nobody knows how long that is."""
        self._unplaced_min = 0
        self._seen_h = self._given_h = 0.0
        """Seen to run since that reading, and counted of it."""

    def take(self, told_h: float | None, ran_h: float | None, utc_s: float | None) -> float:
        """The hours that a minute adds."""
        self._seen_h += ran_h or 0.0
        if self._since_h is not None:
            self._since_h += MINUTE_S / HOUR_S
        passed_h = self._since_h
        if utc_s is not None and self._utc_s is not None:
            passed_h = max(passed_h or 0.0, (utc_s - self._utc_s) / HOUR_S)
        if told_h is None or self._unplaced(passed_h, utc_s):
            return self._give(self._seen_h)
        moved_h = None if self._told_h is None else told_h - self._told_h
        if moved_h == 0.0 and self._since_h is not None:
            return self._give(self._seen_h) if self._seen_h > STUCK_H else 0.0
        believed = moved_h is not None and 0.0 <= moved_h <= (passed_h or 0.0) + SLACK_H
        added_h = self._give(moved_h if believed and moved_h is not None else self._seen_h)
        self._told_h, self._utc_s, self._since_h = told_h, utc_s, 0.0
        self._seen_h = self._given_h = 0.0
        return added_h

    def _unplaced(self, passed_h: float | None, utc_s: float | None) -> bool:
        """After a time off a clock is waited for, half an hour long: it tells how far the meter may
        have gone."""
        if self._told_h is None or passed_h is not None or utc_s is not None:
            return False
        self._unplaced_min += 1
        return self._unplaced_min <= CLOCK_MIN

    def _give(self, hours: float) -> float:
        added_h = max(0.0, hours - self._given_h)
        self._given_h = max(self._given_h, hours)
        return added_h

    def interrupted(self) -> None:
        """The watch was off, nobody knows how long."""
        self._since_h, self._unplaced_min = None, 0

    def state(self) -> list[float | None]:
        return [self._told_h, self._utc_s, round(self._seen_h, 4), round(self._given_h, 4)]

    def restore(self, state: list[float | None]) -> None:
        self._told_h, self._utc_s = state[0], state[1]
        self._seen_h, self._given_h = state[2] or 0.0, state[3] or 0.0
        self._since_h = None
