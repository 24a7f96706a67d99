"""The oracle that the forecast is held against: it knows the distribution the future is drawn from.

For made-up households it knows the generator and the household's hidden state, draws the future many
times from there and issues its own cautious day. For recorded years the distribution is not known: there
the future is drawn, in blocks of days, from the days of the same year within 45 days of the season and of
the same kind of weekday (a block bootstrap of the year itself, which no forecaster could know).

Even so its misses are no smooth tenth: overlapping forecasts miss together. How far a year's count may
lie from a tenth is found by letting the oracle live many years of the same kind.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RegularGridInterpolator  # type: ignore[import-untyped]

from tests.proof.household_kinds import (
    AHEAD,
    KINDS,
    YEAR,
    Floats,
    Kind,
    Recorded,
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
    """Of one household-year: the oracle's cautious day for each forecast, and how its own share of misses
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
    seen = np.convolve(counts, ones, "valid")
    missed = np.convolve(early & counts, ones, "valid")
    some = seen >= WINDOW / 2
    return float((missed[some] / seen[some]).max()) if some.any() else 0.0


def passages(left: float, net: Floats, holds: float) -> Floats:
    """Days until `left` above the reserve is gone, hour by hour, with what overflows `holds` thrown away.

    `net` by future and hour. The horizon where it is not gone.
    """
    level = np.full(len(net), left)
    days = np.full(len(net), HORIZON)
    gone = np.zeros(len(net), dtype=bool)
    for hour in range(net.shape[1]):
        after = np.minimum(level + net[:, hour], holds)
        now = ~gone & (after <= 0)
        days[now] = (hour + level[now] / (level[now] - after[now])) / 24
        gone |= now
        level = after
    return days


def truths(left: float, net: Floats, holds: float) -> Floats:
    """The same from each midnight of a year that a forecast is made at; `net` by year and hour."""
    windows = np.lib.stride_tricks.sliding_window_view(net, AHEAD * 24, axis=1)[
        :, LEARN * 24 : LAST * 24 : 24
    ]
    return passages(left, windows.reshape(-1, AHEAD * 24), holds).reshape(len(net), -1)


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
    truth = truths(kind.budget_Wh, lives.sun - lives.used, kind.holds_Wh)
    return Known(says, *judge(says(lives.states), truth))


def _said(kind: Kind) -> Callable[[list[State]], Floats]:
    """The cautious day by the hidden state: drawn on a grid of states, straight between."""
    weeks = np.arange(7.0) if kind.weekend != 1.0 else np.zeros(1)
    seasons = np.linspace(0.0, YEAR, 13) if kind.sun_share else np.zeros(1)
    axes = [
        _KNOTS * kind.day_sd,
        _KNOTS * kind.wander_sd,
        np.arange(2.0) if kind.sun_share else np.zeros(1),
        np.arange(2.0) if kind.guests != 1.0 else np.zeros(1),
        weeks,
        seasons,
    ]
    shape = tuple(len(axis) for axis in axes)
    found = np.empty(shape)
    rng = np.random.default_rng(78)
    for at in np.ndindex(shape):
        day, wander, bright, guests, week, season = (axis[n] for axis, n in zip(axes, at, strict=True))
        state = State(
            np.full(_FUTURES, day),
            np.full(_FUTURES, wander),
            np.full(_FUTURES, bright > 0.5),
            np.full(_FUTURES, guests > 0.5),
        )
        future = live(kind, rng, int(week) or int(season), AHEAD, state)
        passed = passages(kind.budget_Wh, future.sun - future.used, kind.holds_Wh)
        found[at] = np.quantile(passed, 0.1)
    wide = [n for n, length in enumerate(shape) if length > 1]
    grid = RegularGridInterpolator([axes[n] for n in wide], np.log(found.squeeze()), "linear")

    def says(states: list[State]) -> Floats:
        """By household and day that a forecast is made on; `states` of every day of a year."""
        columns = []
        for day in range(LEARN, LAST):
            s = states[day]
            here = [
                s.day,
                s.wander,
                s.bright,
                s.guests,
                np.full(len(s.day), day % 7),
                np.full(len(s.day), day),
            ]
            ranges = [(axes[n][0], axes[n][-1]) for n in wide]
            points = [np.clip(here[n].astype(float), *r) for n, r in zip(wide, ranges, strict=True)]
            columns.append(np.exp(grid(np.column_stack(points))))
        return np.column_stack(columns)

    return says


# ---- recorded years


@lru_cache
def of_record(number: int) -> Verdict:
    year = recorded(number)
    rng = np.random.default_rng(79 + number)
    cautious = np.array([_cautious(year, day, rng) for day in range(LEARN, LAST)])
    again = _drawn(np.broadcast_to(np.arange(YEAR), (_YEARS, YEAR)), rng)
    truth = truths(year.budget_Wh, _net(year)[again].reshape(_YEARS, -1), year.holds_Wh)
    return Verdict(cautious, *judge(cautious, truth))


def _net(year: Recorded) -> Floats:
    return (year.sun - year.used).reshape(YEAR, 24)


def _cautious(year: Recorded, day: int, rng: np.random.Generator) -> float:
    days = _drawn(np.broadcast_to(day + np.arange(AHEAD), (_FUTURES, AHEAD)), rng)
    passed = passages(year.budget_Wh, _net(year)[days].reshape(_FUTURES, -1), year.holds_Wh)
    return float(np.quantile(passed, 0.1))


def _drawn(days: npt.NDArray[np.int64], rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """For each row of days others of the year in blocks, shifted by whole weeks: weekends stay so."""
    weeks = _SEASON_DAYS // 7
    blocks = -(-days.shape[1] // _BLOCK_DAYS)
    shift = 7 * rng.integers(-weeks, weeks + 1, (len(days), blocks))
    return (days + np.repeat(shift, _BLOCK_DAYS, axis=1)[:, : days.shape[1]]) % (52 * 7)


def kind_of(seed: int) -> Kind | None:
    """The made-up kind of a part; None for a recorded year."""
    return KINDS[seed % len(KINDS)] if seed < 6 * len(KINDS) else None
