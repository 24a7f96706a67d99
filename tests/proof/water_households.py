"""Households for the proof of the days of water: none of them shares anything with the estimator.

Made-up ones are drawn from a generator whose true distribution is known: a day's use by the head is
log-normal with a slow wander and a day-to-day memory, more on wash days, in the heat, and with every guest,
spread over the hours by habits. Others are years of a published model of water use (`draws/recipe.py`).
"""

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tests.proof.oracle import YEAR, Floats

AHEAD = 20
_WANDER, _AIR = 0.97, 0.8


class Kind(NamedTuple):
    """A day's use by the head: its mean [L], standard deviations of logarithms (day, slow wander), the
    day's memory of the day before, how much more on a wash day (one a week), and for each degree; whether a
    guest comes and goes, and whether the crew tells the watch; how many are aboard without; and how many
    days of mean use lie above the reserve when a forecast is made."""

    name: str
    mean_L: float
    day_sd: float
    wander_sd: float
    memory: float
    wash: float = 1.0
    heat_per_C: float = 0.0
    guests: bool = False
    told: bool = True
    heads: int = 2
    budget_days: float = 8.0

    @property
    def budget_L(self) -> float:
        return self.budget_days * self.mean_L * self.heads


KINDS = (
    Kind("steady", 12.0, 0.25, 0.10, 0.3),
    Kind("wash days", 15.0, 0.30, 0.15, 0.2, wash=2.5, budget_days=10.0),
    Kind("restless", 10.0, 0.45, 0.22, 0.4, budget_days=6.0),
    Kind("thirsty in the heat", 14.0, 0.25, 0.08, 0.3, heat_per_C=0.03, heads=3),
    Kind("guests, told", 12.0, 0.28, 0.10, 0.3, guests=True, budget_days=7.0),
    Kind("guests, not told", 9.0, 0.35, 0.12, 0.4, guests=True, told=False, heads=4, budget_days=9.0),
)
_GUEST_COMES, _GUEST_GOES = 0.02, 0.1
_MEAN_C, _SEASON_C, _WEATHER_C = 17.0, 6.0, 2.5


class State(NamedTuple):
    """What the next day depends on, one element a household."""

    day: Floats
    wander: Floats
    guest: npt.NDArray[np.bool_]
    weather: Floats


class Life(NamedTuple):
    """Litres used by household and hour; how warm and how many aboard each day; the states before it."""

    used: Floats
    air_C: Floats
    heads: npt.NDArray[np.int64]
    states: list[State]


def beginning(count: int) -> State:
    none = np.zeros(count)
    return State(none, none, none > 0, none)


def live(kind: Kind, rng: np.random.Generator, first_day: int, days: int, state: State) -> Life:
    """So many days of so many households, from `first_day` of the year on."""
    count = len(state.day)
    used, states = np.empty((count, days, 24)), []
    air, heads = np.empty((count, days)), np.empty((count, days), dtype=np.int64)
    habit = _habit()
    for n in range(days):
        states.append(state)
        state = _next(kind, rng, state)
        air[:, n] = season_C(first_day + n) + state.weather
        heads[:, n] = kind.heads + state.guest
        a_day = kind.mean_L * heads[:, n] * np.exp(state.day + state.wander)
        a_day *= kind.wash if (first_day + n) % 7 == 4 else 1.0
        a_day *= np.exp(kind.heat_per_C * (air[:, n] - _MEAN_C))
        parts = habit * rng.standard_gamma(0.7, (count, 24))
        used[:, n] = a_day[:, None] * parts / parts.sum(axis=1, keepdims=True)
    return Life(used.reshape(count, -1), air, heads, states)


def season_C(day: int) -> float:
    return float(_MEAN_C - _SEASON_C * np.cos(2 * np.pi * (day - 25) / YEAR))


def _next(kind: Kind, rng: np.random.Generator, now: State) -> State:
    count = len(now.day)
    news = rng.standard_normal((3, count))
    turn = rng.random(count)
    guest = np.where(now.guest, turn >= _GUEST_GOES, turn < _GUEST_COMES) & kind.guests
    return State(
        kind.memory * now.day + kind.day_sd * np.sqrt(1 - kind.memory**2) * news[0],
        _WANDER * now.wander + kind.wander_sd * np.sqrt(1 - _WANDER**2) * news[1],
        guest,
        _AIR * now.weather + _WEATHER_C * np.sqrt(1 - _AIR**2) * news[2],
    )


def _habit() -> Floats:
    hour = np.arange(24)
    habit: Floats = 0.05 + np.exp(-(((hour - 8) / 1.5) ** 2)) + 1.5 * np.exp(-(((hour - 19) / 2.0) ** 2))
    return habit


# ---- the published model


class Recorded(NamedTuple):
    """A year that was not drawn by us."""

    name: str
    used: Floats
    heads: int
    budget_L: float


MEAN_L = 12.0
"""By the head and day: a home uses five times what a boat does, so each year is scaled to this."""


@lru_cache
def recorded(number: int) -> Recorded:
    """Of twelve: six years of the model, each with water for 8 days of mean use and for 5."""
    kept = np.load(Path(__file__).parent / "draws" / "waters.npz")
    used, heads = kept["litres"][number % 6].astype(float), int(kept["heads"][number % 6])
    used *= MEAN_L * heads * YEAR / used.sum()
    return Recorded("end-use model", used, heads, (8.0 if number < 6 else 5.0) * MEAN_L * heads)
