"""The oracle that the days of water are held against (`oracle`): first passages of an amount that is used."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from tests.proof.oracle import (
    FUTURES,
    KNOTS,
    LEARN,
    ONLY,
    YEAR,
    YEARS,
    Floats,
    Horizon,
    Known,
    Verdict,
)  # fmt: skip
from tests.proof.water_households import AHEAD, Kind, State, beginning, live, recorded

HORIZON = Horizon(AHEAD)


def lasts(litres: float, used: Floats) -> Floats:
    """Days until so much is used, straight within the hour; `used` by future and hour. The horizon where
    it is not."""
    total = np.cumsum(used, axis=1)
    gone = total >= litres
    at = gone.argmax(axis=1)
    rows = np.arange(len(used))
    part = 1 - (total[rows, at] - litres) / np.maximum(used[rows, at], 1e-12)
    return np.where(gone.any(axis=1), (at + part) / 24, float(AHEAD))


def truths(litres: float, used: Floats) -> Floats:
    """The same from each midnight of a year that a forecast is made at; by year and forecast."""
    total = np.concatenate([np.zeros((len(used), 1)), np.cumsum(used, axis=1)], axis=1)
    starts = np.arange(LEARN, HORIZON.last) * 24
    hours = np.arange(total.shape[1], dtype=float)
    rows = [np.interp(row[starts] + litres, row, hours, right=np.inf) - starts for row in total]
    found: Floats = np.minimum(np.array(rows) / 24, float(AHEAD))
    return found


@lru_cache
def of_kind(kind: Kind) -> Known[State]:
    hot = bool(kind.heat_per_C)
    axes = [
        KNOTS * kind.day_sd,
        KNOTS * kind.wander_sd,
        np.arange(2.0) if kind.guests else ONLY,
        np.arange(7.0) if kind.wash != 1.0 else ONLY,
        np.array([-5.0, 0.0, 5.0]) if hot else ONLY,
        np.linspace(0.0, YEAR, 9) if hot else ONLY,
    ]

    def drawn(rng: np.random.Generator, point: Sequence[float]) -> Floats:
        day, wander, guest, week, weather, season = point
        every = np.ones(FUTURES)
        state = State(every * day, every * wander, every * guest > 0.5, every * weather)
        return lasts(kind.budget_L, live(kind, rng, int(week) or int(season), AHEAD, state).used)

    def state(s: State, day: int) -> list[Floats]:
        whole = np.ones(len(s.day))
        return [s.day, s.wander, whole * s.guest, whole * (day % 7), s.weather, whole * day]

    says = HORIZON.on_grid(axes, drawn, state)
    lives = live(kind, np.random.default_rng(77), 0, YEAR, beginning(YEARS))
    return Known(says, *HORIZON.judge(says(lives.states), truths(kind.budget_L, lives.used)))


@lru_cache
def of_record(number: int) -> Verdict:
    year = recorded(number)
    return HORIZON.of_record(
        number,
        year.used.reshape(YEAR, 24),
        lambda used: lasts(year.budget_L, used),
        lambda used: truths(year.budget_L, used),
    )
