"""What was used and made in every hour, for as long as it says anything about tomorrow.

The same history serves energy (Wh) and water (L). Hours are those of UTC: a forecast compares like
hours with like, whatever the ship's clock says.
"""

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S

KEPT_DAYS = 60
_SLOTS = (KEPT_DAYS + 2) * 24
_LEAST_COVER = 0.5
"""An hour of which less was heard says nothing; of more, the rest is taken to be alike."""
_LEAST_HOURS = 18
"""A day with fewer hours heard is not a day to learn from."""
_SAME_PLACE = 0.75

Floats = npt.NDArray[np.float64]


class Days(NamedTuple):
    """Past days of 24 h that end at one hour, the newest first; hours not heard are NaN.

    `age` counts days back: 1 is the last 24 h.
    """

    age: npt.NDArray[np.int64]
    used: Floats
    made: Floats


class UsualDay(NamedTuple):
    """The mean day of a place: by hour of UTC, and how many days it rests on."""

    used: Floats
    made: Floats
    days: int


class UseHistory:
    """Hours of use, each with the mode it was spent in. Older than 60 days is forgotten."""

    def __init__(self) -> None:
        self._hour = np.full(_SLOTS, -1, dtype=np.int64)
        self._used = np.zeros(_SLOTS)
        self._made = np.zeros(_SLOTS)
        self._covered_s = np.zeros(_SLOTS)
        self._place = np.zeros(_SLOTS, dtype=np.int64)
        self._people = np.zeros(_SLOTS, dtype=np.int64)
        self._names: list[str] = []

    def add(
        self, hour_utc_s: float, place: str, people: str, used: float, made: float | None, covered_s: float
    ) -> None:
        """Count what was used in (a part of) the hour that begins at `hour_utc_s`.

        `covered_s` is how much of it was heard; parts of one hour add up. `made` is None where
        charging is not metered, or where nothing can be made. Not finite or not heard: ignored.
        """
        if not covered_s > 0 or not np.isfinite(used):
            return
        hour = int(hour_utc_s // HOUR_S)
        slot = hour % _SLOTS
        if self._hour[slot] > hour:
            return
        if self._hour[slot] != hour:
            self._hour[slot] = hour
            self._used[slot] = self._made[slot] = self._covered_s[slot] = 0.0
        self._used[slot] += used
        self._made[slot] += np.nan if made is None else made
        self._covered_s[slot] = min(HOUR_S, self._covered_s[slot] + covered_s)
        self._place[slot] = self._number(place)
        self._people[slot] = self._number(people)

    def days(self, until_utc_s: float, place: str | None = None) -> Days:
        """The last 60 days before `until_utc_s` (its hour, rounded down) that were heard well enough.

        With a `place`, only the days of which three quarters were spent there.
        """
        last = int(until_utc_s // HOUR_S)
        age = np.arange(1, KEPT_DAYS + 1)
        hours = last - 24 * age[:, None] + np.arange(24)
        slots = hours % _SLOTS
        share = self._covered_s[slots] / HOUR_S
        heard = (self._hour[slots] == hours) & (share >= _LEAST_COVER)
        known = heard.sum(axis=1)
        good = known >= _LEAST_HOURS
        if place is not None:
            number = self._names.index(place) if place in self._names else -1
            there = (heard & (self._place[slots] == number)).sum(axis=1)
            good &= there >= _SAME_PLACE * known
        scale = np.where(heard, 1.0, np.nan) / np.where(heard, share, 1.0)
        return Days(age[good], (self._used[slots] * scale)[good], (self._made[slots] * scale)[good])

    def usual(self, until_utc_s: float, place: str | None = None) -> UsualDay | None:
        """The mean day before `until_utc_s`, by hour of UTC; None where no day was heard."""
        days = self.days(until_utc_s, place)
        if not len(days.age):
            return None
        turn = int(until_utc_s // HOUR_S) % 24
        used, made = (np.roll(mean_of_heard(x), turn) for x in (days.used, days.made))
        return UsualDay(used, made, len(days.age))

    def state(self) -> dict[str, Any]:
        """Everything, as JSON values: some 60 kB when full, so remember it hourly."""
        kept = np.flatnonzero(self._hour >= 0)
        made = [None if np.isnan(m) else round(float(m), 2) for m in self._made[kept]]
        return {
            "names": list(self._names),
            "hour": self._hour[kept].tolist(),
            "used": np.round(self._used[kept], 2).tolist(),
            "made": made,
            "covered_s": np.round(self._covered_s[kept], 1).tolist(),
            "place": self._place[kept].tolist(),
            "people": self._people[kept].tolist(),
        }

    def restore(self, state: dict[str, Any]) -> None:
        """The inverse of `state`."""
        self._hour[:] = -1
        self._names = list(state["names"])
        hours = np.array(state["hour"], dtype=np.int64)
        slots = hours % _SLOTS
        self._hour[slots] = hours
        self._used[slots] = state["used"]
        self._made[slots] = [np.nan if m is None else m for m in state["made"]]
        self._covered_s[slots] = state["covered_s"]
        self._place[slots] = state["place"]
        self._people[slots] = state["people"]

    def _number(self, name: str) -> int:
        if name not in self._names:
            self._names.append(name)
        return self._names.index(name)


def mean_of_heard(rows: Floats) -> Floats:
    """The mean of each column over the rows that are not NaN; NaN where there is none."""
    heard = ~np.isnan(rows)
    count = heard.sum(axis=0)
    total = np.where(heard, rows, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
