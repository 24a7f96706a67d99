"""Households for the proof of the days of energy: none of them shares anything with the estimator.

Made-up ones are drawn from a generator whose true distribution is known: daily use is log-normal with a
slow wander, a day-to-day memory, weekends and guests, spread over the hours by habits; sun is a clear sky
(Ineichen's, by pvlib), shaded hour by hour, times a two-state weather chain. Others are years of a
published load model (`loads/recipe.py`), alone and under the measured sun of two TMY3 stations that
pvlib's wheel carries.
"""

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd  # type: ignore[import-untyped]
import pvlib

from tests.proof.oracle import START_S, YEAR, Floats

AHEAD = 10
_WANDER = 0.97


class Kind(NamedTuple):
    """Daily use: its mean [Wh], standard deviations of logarithms (day, slow wander), the day's memory
    of the day before, how much more at weekends and with guests; what an array makes of a mean day's
    sun, as a share of that use; days of net use that lie above the reserve when a forecast is made, and
    what the bank holds above it, in days of use."""

    name: str
    mean_Wh: float
    day_sd: float
    wander_sd: float
    memory: float
    weekend: float = 1.0
    guests: float = 1.0
    sun_share: float = 0.0
    budget_days: float = 3.0
    holds_days: float = 9.0

    @property
    def budget_Wh(self) -> float:
        return self.budget_days * self.mean_Wh

    @property
    def holds_Wh(self) -> float:
        return self.holds_days * self.mean_Wh


KINDS = (
    Kind("steady", 1500.0, 0.18, 0.10, 0.3),
    Kind("varied", 2600.0, 0.28, 0.18, 0.5, weekend=1.25),
    Kind("restless", 1200.0, 0.35, 0.25, 0.4, weekend=1.6),
    Kind("some sun", 1800.0, 0.22, 0.12, 0.4, sun_share=0.55, budget_days=1.4, holds_days=4.0),
    Kind("more sun", 2200.0, 0.30, 0.15, 0.5, sun_share=0.8, budget_days=1.0, holds_days=3.0),
    Kind(
        "sunny, guests", 1600.0, 0.20, 0.08, 0.3, guests=2.0, sun_share=1.5, budget_days=1.5, holds_days=2.2
    ),
)
PLACE = (38.0, -9.0)
_SHADE = np.array([0.9, 0.8, 0.6, 0.5, 0.6, 0.9, 1.0, 1.0])
"""By hour of UTC from 6 on: mast and boom in the morning; 1 elsewhere."""
_BRIGHT_STAYS, _BRIGHT_COMES = 0.75, 0.35
_GUESTS_COME, _GUESTS_GO = 0.03, 0.1
_MEAN_SKY = 0.9 * 0.5833 + 0.375 * 0.4167
"""Mean clearness of the weather chain: 35/60 of the days are bright."""


class State(NamedTuple):
    """What the next day depends on, one element a household."""

    day: Floats
    wander: Floats
    bright: npt.NDArray[np.bool_]
    guests: npt.NDArray[np.bool_]


class Life(NamedTuple):
    """Used and what the sun could make, by household and hour [Wh]; the states before each day."""

    used: Floats
    sun: Floats
    states: list[State]


def beginning(count: int) -> State:
    none = np.zeros(count)
    return State(none, none, none < 1, none > 0)


def live(kind: Kind, rng: np.random.Generator, first_day: int, days: int, state: State) -> Life:
    """So many days of so many households, from `first_day` of the year on."""
    count = len(state.day)
    used, sun, states = np.empty((count, days, 24)), np.zeros((count, days, 24)), []
    habit = _habit()
    for n in range(days):
        states.append(state)
        state, sky = _next(kind, rng, state)
        week = kind.weekend if (first_day + n) % 7 in (2, 3) else 1.0
        a_day = kind.mean_Wh * np.exp(state.day + state.wander) * week
        a_day *= np.where(state.guests, kind.guests, 1.0)
        parts = habit * rng.standard_gamma(3.0, (count, 24))
        used[:, n] = a_day[:, None] * parts / parts.sum(axis=1, keepdims=True)
        if kind.sun_share:
            sun[:, n] = _array_Wh(kind)[(first_day + n) % YEAR] * sky[:, None]
    return Life(used.reshape(count, -1), sun.reshape(count, -1), states)


def _next(kind: Kind, rng: np.random.Generator, now: State) -> tuple[State, Floats]:
    count = len(now.day)
    day_news = kind.day_sd * np.sqrt(1 - kind.memory**2) * rng.standard_normal(count)
    wander_news = kind.wander_sd * np.sqrt(1 - _WANDER**2) * rng.standard_normal(count)
    bright = rng.random(count) < np.where(now.bright, _BRIGHT_STAYS, _BRIGHT_COMES)
    turn = rng.random(count)
    guests = np.where(now.guests, turn >= _GUESTS_GO, turn < _GUESTS_COME)
    sky = np.where(bright, rng.uniform(0.8, 1.0, count), rng.uniform(0.15, 0.6, count))
    return State(kind.memory * now.day + day_news, _WANDER * now.wander + wander_news, bright, guests), sky


def _habit() -> Floats:
    hour = np.arange(24)
    habit: Floats = 0.5 + np.exp(-(((hour - 8) / 1.5) ** 2)) + 2 * np.exp(-(((hour - 20) / 2.5) ** 2))
    return habit


@lru_cache
def _array_Wh(kind: Kind) -> Floats:
    """Of a cloudless day, by day of the year and hour: the year's mean day makes its share of the use."""
    times = pd.to_datetime(START_S + (np.arange(YEAR * 144) + 0.5) * 600, unit="s", utc=True)
    at = pvlib.solarposition.get_solarposition(times, *PLACE)
    air = pvlib.atmosphere.get_relative_airmass(at.apparent_zenith)
    sky = pvlib.clearsky.ineichen(at.apparent_zenith, air, 3.0).ghi.fillna(0.0)
    clear = sky.to_numpy().reshape(YEAR, 24, 6).mean(axis=2)
    shade = np.ones(24)
    shade[6:14] = _SHADE
    made = clear * shade
    scaled: Floats = made * (kind.sun_share * kind.mean_Wh / (made.sum(axis=1).mean() * _MEAN_SKY))
    return scaled


# ---- the published load model, and measured sun


class Recorded(NamedTuple):
    """A year that was not drawn by us."""

    name: str
    used: Floats
    sun: Floats
    position: tuple[float, float]
    budget_Wh: float
    holds_Wh: float


MEAN_WH = 2000.0
"""The load model's houses are larger than a boat: each year is scaled to this mean day."""
STATIONS = (("703165TY.csv", 0.6), ("723170TYA.CSV", 0.9))
"""And what an array makes of the year's mean day there, as a share of the use."""


def recorded(number: int) -> Recorded:
    """Of twelve: six years of the load model, each alone and under one station's sun."""
    watts = np.load(Path(__file__).parent / "loads" / "households.npz")["watts"].astype(float)
    used = watts[number % 6]
    used = used * (MEAN_WH * YEAR / used.sum())
    if number < 6:
        return Recorded("load model", used, np.zeros_like(used), PLACE, 3 * MEAN_WH, 9 * MEAN_WH)
    station, share = STATIONS[number % 2]
    sun, position = _station(station)
    sun = sun * (share * MEAN_WH * YEAR / sun.sum())
    return Recorded("load model, TMY3 sun", used, sun, position, 1.2 * MEAN_WH, 3 * MEAN_WH)


@lru_cache
def _station(name: str) -> tuple[Floats, tuple[float, float]]:
    """Global horizontal irradiance of a typical year, by hour of UTC, and where that is."""
    path = Path(pvlib.__file__).parent / "data" / name
    data, about = pvlib.iotools.read_tmy3(path, map_variables=True)
    west_h = round(float(about["TZ"]))
    # TMY3 hours are named by their end, in the station's standard time.
    return np.roll(data["ghi"].to_numpy(float), -west_h), (about["latitude"], about["longitude"])
