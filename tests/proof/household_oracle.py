"""The oracle that the days of energy are held against (`oracle`): first passages of a bank that overflows."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from tests.proof.household_kinds import AHEAD, Kind, State, beginning, live, recorded
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

HORIZON = Horizon(AHEAD)


def passages(left: float, net: Floats, holds: float) -> Floats:
    """Days until `left` above the reserve is gone, hour by hour, with what overflows `holds` thrown away.

    `net` by future and hour. The horizon where it is not gone.
    """
    level = np.full(len(net), left)
    days = np.full(len(net), float(AHEAD))
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
        :, LEARN * 24 : HORIZON.last * 24 : 24
    ]
    return passages(left, windows.reshape(-1, AHEAD * 24), holds).reshape(len(net), -1)


@lru_cache
def of_kind(kind: Kind) -> Known[State]:
    axes = [
        KNOTS * kind.day_sd,
        KNOTS * kind.wander_sd,
        np.arange(2.0) if kind.sun_share else ONLY,
        np.arange(2.0) if kind.guests != 1.0 else ONLY,
        np.arange(7.0) if kind.weekend != 1.0 else ONLY,
        np.linspace(0.0, YEAR, 13) if kind.sun_share else ONLY,
    ]

    def lasts(rng: np.random.Generator, point: Sequence[float]) -> Floats:
        day, wander, bright, guests, week, season = point
        every = np.ones(FUTURES)
        state = State(every * day, every * wander, every * bright > 0.5, every * guests > 0.5)
        future = live(kind, rng, int(week) or int(season), AHEAD, state)
        return passages(kind.budget_Wh, future.sun - future.used, kind.holds_Wh)

    def state(s: State, day: int) -> list[Floats]:
        whole = np.ones(len(s.day))
        return [s.day, s.wander, whole * s.bright, whole * s.guests, whole * (day % 7), whole * day]

    says = HORIZON.on_grid(axes, lasts, state)
    lives = live(kind, np.random.default_rng(77), 0, YEAR, beginning(YEARS))
    truth = truths(kind.budget_Wh, lives.sun - lives.used, kind.holds_Wh)
    return Known(says, *HORIZON.judge(says(lives.states), truth))


@lru_cache
def of_record(number: int) -> Verdict:
    year = recorded(number)
    return HORIZON.of_record(
        number,
        (year.sun - year.used).reshape(YEAR, 24),
        lambda net: passages(year.budget_Wh, net, year.holds_Wh),
        lambda net: truths(year.budget_Wh, net, year.holds_Wh),
    )
