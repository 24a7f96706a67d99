"""What was used and made in every hour, for as long as it says anything about tomorrow.

The same history serves energy (Wh) and water (L). Hours are those of UTC: a forecast compares like
hours with like, whatever the ship's clock says.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import HOUR_S

KEPT_DAYS = 60
NOBODY = ("away", "laid up")
"""What `Mode.people` says when nobody is aboard to use anything."""
_SLOTS = (KEPT_DAYS + 2) * 24
_LEAST_COVER = 0.5
"""An hour of which less was heard says nothing; of more, the rest is taken to be alike."""
_LEAST_HOURS = 18
"""A day with fewer hours heard is not a day to learn from."""
_SAME_PLACE = 0.75

Floats = npt.NDArray[np.float64]


class Days(NamedTuple):
    """Past days of 24 h that end at one hour, the newest first; hours not heard are NaN.

    `age` counts days back: 1 is the last 24 h. `sun` is the part of `made` that came from the sun,
    NaN where no meter tells it. `full` is the share of the hour in which the bank took no more: what
    was made then is what was taken, not what could have been made.
    """

    age: npt.NDArray[np.int64]
    used: Floats
    made: Floats
    sun: Floats
    full: Floats


class UseHistory:
    """Hours of use, each with the mode it was spent in. Older than 60 days is forgotten."""

    def __init__(self) -> None:
        self._hour = np.full(_SLOTS, -1, dtype=np.int64)
        self._used, self._made, self._sun, self._full_s, self._covered_s = np.zeros((5, _SLOTS))
        self._place = np.zeros(_SLOTS, dtype=np.int64)
        self._nobody = np.zeros(_SLOTS, dtype=bool)
        self._names: list[str] = []

    def add(
        self,
        hour_utc_s: float,
        place: str,
        people: str,
        used: float,
        made: float | None,
        covered_s: float,
        sun: float | None = None,
        full_s: float = 0.0,
    ) -> None:
        """Count what was used in (a part of) the hour that begins at `hour_utc_s`.

        `covered_s` is how much of it was heard; parts of one hour add up. `made` is None where
        charging is not metered, or where nothing can be made; `sun` is the part of it that the sun
        made, None where that is not known. In `full_s` of it the bank took no more. Not finite or
        not heard: ignored.
        """
        if not covered_s > 0 or not np.isfinite(used):
            return
        hour = int(hour_utc_s // HOUR_S)
        slot = hour % _SLOTS
        if self._hour[slot] > hour:
            return
        if self._hour[slot] != hour:
            self._hour[slot] = hour
            for amounts in (self._used, self._made, self._sun, self._full_s, self._covered_s):
                amounts[slot] = 0.0
        self._used[slot] += used
        self._made[slot] += np.nan if made is None else made
        self._sun[slot] += np.nan if sun is None else sun
        self._full_s[slot] += full_s
        self._covered_s[slot] = min(HOUR_S, self._covered_s[slot] + covered_s)
        self._place[slot] = self._number(place)
        self._nobody[slot] = people in NOBODY

    def days(self, until_utc_s: float, place: str | None = None, aboard: bool | None = None) -> Days:
        """The last 60 days before `until_utc_s` (its hour, rounded down) that were heard well enough.

        With a `place`, only the days of which three quarters were spent there; with `aboard`, only
        those on three quarters of which somebody was aboard, or nobody.
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
        if aboard is not None:
            alike = (heard & (self._nobody[slots] != aboard)).sum(axis=1)
            good &= alike >= _SAME_PLACE * known
        scale = np.where(heard, 1.0, np.nan) / np.where(heard, share, 1.0)
        used, made, sun, full_s = (
            (amounts[slots] * scale)[good] for amounts in (self._used, self._made, self._sun, self._full_s)
        )
        return Days(age[good], used, made, sun, full_s / HOUR_S)

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
