"""What an oracle would say of how long an amount lasts, and how far even its misses lie from a tenth.

For made-up households it knows the generator and the household's hidden state, draws the future many
times from there and issues its own cautious day. For years that were not drawn by us the distribution is
not known: there the future is drawn, in blocks of days, from the days of the same year within 45 days of
the season and of the same kind of weekday (a block bootstrap of the year itself, which no forecaster could
know).

Even so its misses are no smooth tenth: overlapping forecasts miss together. How far a year's count may lie
from a tenth is found by letting the oracle live many years of the same kind.
"""

from collections.abc import Callable, Sequence
from typing import Generic, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RegularGridInterpolator  # type: ignore[import-untyped]

Floats = npt.NDArray[np.float64]
Kind = TypeVar("Kind")
State = TypeVar("State")

YEAR = 365
START_S = 1_767_225_600.0
"""Midnight of UTC, 1 January 2026: a Thursday."""
LEARN = 30
"""Days before the first forecast."""
FUTURES = 1000
YEARS = 400
KNOTS = np.linspace(-2.5, 2.5, 5)
"""Of a hidden state, in its standard deviations."""
ONLY = np.zeros(1)
"""The axis of what a kind does not have."""
_WINDOW = 60
_SEASON_DAYS, _BLOCK_DAYS = 45, 3


class Verdict(NamedTuple):
    """Of one household-year: the oracle's cautious day for each forecast, and how its own share of misses
    and its worst sixty days lie over many such years: 99 in 100 between the two, 99 in 100 below."""

    cautious: Floats
    lowest_share: float
    highest_share: float
    worst: float


class Known(NamedTuple, Generic[State]):
    """What the oracle says of a kind in any state, and what many years of it came to."""

    says: Callable[[list[State]], Floats]
    lowest_share: float
    highest_share: float
    worst: float

    def of(self, states: list[State]) -> Verdict:
        """Of the household that went through these."""
        return Verdict(self.says(states)[0], self.lowest_share, self.highest_share, self.worst)


def worst(early: npt.NDArray[np.bool_], counts: npt.NDArray[np.bool_]) -> float:
    """The largest share of misses in sixty days on end, where at least half of the days count."""
    ones = np.ones(_WINDOW)
    seen, missed = np.convolve(counts, ones, "valid"), np.convolve(early & counts, ones, "valid")
    some = seen >= _WINDOW / 2
    return float((missed[some] / seen[some]).max()) if some.any() else 0.0


def kind_of(kinds: Sequence[Kind], seed: int) -> Kind | None:
    """The made-up kind of a part, six years of each; None for a recorded year."""
    return kinds[seed % len(kinds)] if seed < 6 * len(kinds) else None


class Horizon(NamedTuple):
    """So many days ahead are looked at: an amount that lasts longer lasts so long."""

    days: int

    @property
    def last(self) -> int:
        """The day of the year on which no forecast is made any more."""
        return YEAR - self.days

    def counted(self, cautious: Floats) -> npt.NDArray[np.bool_]:
        """The forecasts that can miss at all: for the others even the oracle's day lies past the horizon."""
        return cautious < self.days - 0.01

    def judge(self, cautious: Floats, truth: Floats) -> tuple[float, float, float]:
        """Over many years: the shares of misses that 99 in 100 lie between, and the worst sixty days."""
        counts = np.broadcast_to(self.counted(cautious), truth.shape)
        early = (truth < cautious) & counts
        share = early.sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
        worsts = [worst(e, c) for e, c in zip(early, counts, strict=True)]
        low, high = np.quantile(share, (0.005, 0.995))
        return float(low), float(high), float(np.quantile(worsts, 0.99))

    def on_grid(
        self,
        axes: Sequence[Floats],
        lasts: Callable[[np.random.Generator, Sequence[float]], Floats],
        state: Callable[[State, int], Sequence[npt.NDArray[np.generic]]],
    ) -> Callable[[list[State]], Floats]:
        """The cautious day by the hidden state: drawn on a grid of states, straight between.

        `lasts` draws futures from a point of the grid; `state` is where households are on a day, as one
        number of each for every axis.
        """
        found = np.empty(tuple(len(axis) for axis in axes))
        rng = np.random.default_rng(78)
        for at in np.ndindex(found.shape):
            point = [float(axis[n]) for axis, n in zip(axes, at, strict=True)]
            found[at] = np.quantile(lasts(rng, point), 0.1)
        wide = [n for n, axis in enumerate(axes) if len(axis) > 1]
        grid = RegularGridInterpolator([axes[n] for n in wide], np.log(found.squeeze()), "linear")

        def says(states: list[State]) -> Floats:
            """By household and day that a forecast is made on; `states` of every day of a year."""
            columns = []
            for day in range(LEARN, self.last):
                here = state(states[day], day)
                points = [np.clip(here[n].astype(float), axes[n][0], axes[n][-1]) for n in wide]
                columns.append(np.exp(grid(np.column_stack(points))))
            return np.column_stack(columns)

        return says

    def of_record(
        self,
        number: int,
        hours: Floats,
        lasts: Callable[[Floats], Floats],
        truths: Callable[[Floats], Floats],
    ) -> Verdict:
        """Of a recorded year by day and hour.

        `lasts` tells how long the amount does in each future, `truths` from each midnight of each year;
        both take what is lost or used, a row a future or year.
        """
        rng = np.random.default_rng(79 + number)

        def cautious_on(day: int) -> float:
            days = _drawn(np.broadcast_to(day + np.arange(self.days), (FUTURES, self.days)), rng)
            return float(np.quantile(lasts(hours[days].reshape(FUTURES, -1)), 0.1))

        cautious = np.array([cautious_on(day) for day in range(LEARN, self.last)])
        again = _drawn(np.broadcast_to(np.arange(YEAR), (YEARS, YEAR)), rng)
        return Verdict(cautious, *self.judge(cautious, truths(hours[again].reshape(YEARS, -1))))


def _drawn(days: npt.NDArray[np.int64], rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """For each row of days others of the year in blocks, shifted by whole weeks: weekends stay so."""
    weeks = _SEASON_DAYS // 7
    blocks = -(-days.shape[1] // _BLOCK_DAYS)
    shift = 7 * rng.integers(-weeks, weeks + 1, (len(days), blocks))
    return (days + np.repeat(shift, _BLOCK_DAYS, axis=1)[:, : days.shape[1]]) % (52 * 7)
