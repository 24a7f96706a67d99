"""The oracle that the days of water are held against: it knows the distribution the future is drawn from.

For made-up households it knows the generator and the household's hidden state, draws the future many
times from there and issues its own cautious day. For years of the published model the future is drawn, in
blocks of days, from the days of the same year within 45 days of the season (a block bootstrap of the year
itself, which no forecaster could know). How far a year's count may lie from a tenth is found by letting
the oracle live many years of the same kind: forecasts that overlap miss together.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RegularGridInterpolator  # type: ignore[import-untyped]

from tests.proof.water_households import (
    AHEAD,
    KINDS,
    YEAR,
    Floats,
    Kind,
    State,
    beginning,
    live,
    recorded,
)  # fmt: skip

LEARN = 30
LAST = YEAR - AHEAD
HORIZON = float(AHEAD)
WINDOW = 60
_FUTURES = 1000
_YEARS = 400
_KNOTS = np.linspace(-2.5, 2.5, 5)
_SEASON_DAYS, _BLOCK_DAYS = 45, 3


class Verdict(NamedTuple):
    """The oracle's cautious day for each forecast of a household-year, and how its own share of misses
    and its worst sixty days lie over many such years: 99 in 100 between the two, 99 in 100 below."""

    cautious: Floats
    lowest_share: float
    highest_share: float
    worst: float


def counted(cautious: Floats) -> npt.NDArray[np.bool_]:
    """The forecasts that can miss at all: for the others even the oracle's day lies past the horizon."""
    return cautious < HORIZON - 0.01


def worst(early: npt.NDArray[np.bool_], counts: npt.NDArray[np.bool_]) -> float:
    """The largest share of misses in sixty days on end, where at least half of the days count."""
    ones = np.ones(WINDOW)
    seen, missed = np.convolve(counts, ones, "valid"), np.convolve(early & counts, ones, "valid")
    some = seen >= WINDOW / 2
    return float((missed[some] / seen[some]).max()) if some.any() else 0.0


def lasts(litres: float, used: Floats) -> Floats:
    """Days until so much is used, straight within the hour; `used` by future and hour. The horizon where
    it is not."""
    total = np.cumsum(used, axis=1)
    gone = total >= litres
    at = gone.argmax(axis=1)
    rows = np.arange(len(used))
    part = 1 - (total[rows, at] - litres) / np.maximum(used[rows, at], 1e-12)
    return np.where(gone.any(axis=1), (at + part) / 24, HORIZON)


def truths(litres: float, used: Floats) -> Floats:
    """The same from each midnight of a year that a forecast is made at; by year and forecast."""
    total = np.concatenate([np.zeros((len(used), 1)), np.cumsum(used, axis=1)], axis=1)
    starts = np.arange(LEARN, LAST) * 24
    hours = np.arange(total.shape[1], dtype=float)
    rows = [np.interp(row[starts] + litres, row, hours, right=np.inf) - starts for row in total]
    found: Floats = np.minimum(np.array(rows) / 24, HORIZON)
    return found


def judge(cautious: Floats, truth: Floats) -> tuple[float, float, float]:
    """Over many years: the shares of misses that 99 in 100 lie between, and the worst sixty days."""
    counts = np.broadcast_to(counted(cautious), truth.shape)
    early = (truth < cautious) & counts
    share = early.sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
    worsts = [worst(e, c) for e, c in zip(early, counts, strict=True)]
    low, high = np.quantile(share, (0.005, 0.995))
    return float(low), float(high), float(np.quantile(worsts, 0.99))


# ---- made-up households


class Known(NamedTuple):
    """What the oracle says of a kind in any state, and what many years of it came to."""

    says: Callable[[list[State]], Floats]
    lowest_share: float
    highest_share: float
    worst: float


@lru_cache
def of_kind(kind: Kind) -> Known:
    says = _said(kind)
    lives = live(kind, np.random.default_rng(77), 0, YEAR, beginning(_YEARS))
    return Known(says, *judge(says(lives.states), truths(kind.budget_L, lives.used)))


def _said(kind: Kind) -> Callable[[list[State]], Floats]:
    """The cautious day by the hidden state: drawn on a grid of states, straight between."""
    hot, one = bool(kind.heat_per_C), np.zeros(1)
    axes = [
        _KNOTS * kind.day_sd,
        _KNOTS * kind.wander_sd,
        np.arange(2.0) if kind.guests else one,
        np.arange(7.0) if kind.wash != 1.0 else one,
        np.array([-5.0, 0.0, 5.0]) if hot else one,
        np.linspace(0.0, YEAR, 9) if hot else one,
    ]
    found = np.empty(tuple(len(axis) for axis in axes))
    rng = np.random.default_rng(78)
    for at in np.ndindex(found.shape):
        day, wander, guest, week, weather, season = (axis[n] for axis, n in zip(axes, at, strict=True))
        every = np.ones(_FUTURES)
        state = State(every * day, every * wander, every * guest > 0.5, every * weather)
        future = live(kind, rng, int(week) or int(season), AHEAD, state)
        found[at] = np.quantile(lasts(kind.budget_L, future.used), 0.1)
    wide = [n for n, axis in enumerate(axes) if len(axis) > 1]
    grid = RegularGridInterpolator([axes[n] for n in wide], np.log(found.squeeze()), "linear")

    def says(states: list[State]) -> Floats:
        """By household and day that a forecast is made on; `states` of every day of a year."""
        columns = []
        for day in range(LEARN, LAST):
            s = states[day]
            whole = np.ones(len(s.day))
            here = [s.day, s.wander, s.guest, whole * (day % 7), s.weather, whole * day]
            points = [np.clip(here[n].astype(float), axes[n][0], axes[n][-1]) for n in wide]
            columns.append(np.exp(grid(np.column_stack(points))))
        return np.column_stack(columns)

    return says


# ---- years of the published model


@lru_cache
def of_record(number: int) -> Verdict:
    year = recorded(number)
    rng = np.random.default_rng(79 + number)
    used = year.used.reshape(YEAR, 24)

    def cautious_on(day: int) -> float:
        days = _drawn(np.broadcast_to(day + np.arange(AHEAD), (_FUTURES, AHEAD)), rng)
        return float(np.quantile(lasts(year.budget_L, used[days].reshape(_FUTURES, -1)), 0.1))

    cautious = np.array([cautious_on(day) for day in range(LEARN, LAST)])
    again = _drawn(np.broadcast_to(np.arange(YEAR), (_YEARS, YEAR)), rng)
    return Verdict(cautious, *judge(cautious, truths(year.budget_L, used[again].reshape(_YEARS, -1))))


def _drawn(days: npt.NDArray[np.int64], rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """For each row of days others of the year in blocks, shifted by whole weeks."""
    weeks = _SEASON_DAYS // 7
    blocks = -(-days.shape[1] // _BLOCK_DAYS)
    shift = 7 * rng.integers(-weeks, weeks + 1, (len(days), blocks))
    return (days + np.repeat(shift, _BLOCK_DAYS, axis=1)[:, : days.shape[1]]) % (52 * 7)


def kind_of(seed: int) -> Kind | None:
    """The made-up kind of a part; None for a year of the published model."""
    return KINDS[seed % len(KINDS)] if seed < 6 * len(KINDS) else None
