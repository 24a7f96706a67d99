"""The yardsticks of the proof of the days of water, by hand."""

import numpy as np
import pytest

from tests.proof.oracle import LEARN, YEAR
from tests.proof.water_households import AHEAD, KINDS, beginning, live, recorded
from tests.proof.water_oracle import HORIZON, lasts, truths


def test_an_amount_lasts_as_one_reckons_by_hand() -> None:
    """100 L at 10 L an hour last 10 h; with nothing used in the first two hours 12 h; at 7 L 14.29 h; with
    nothing used at all beyond the horizon."""
    used = np.full((4, AHEAD * 24), 10.0)
    used[1, :2] = 0.0
    used[2] = 7.0
    used[3] = 0.0

    assert lasts(100.0, used)[:3] * 24 == pytest.approx([10.0, 12.0, 100 / 7])
    assert lasts(100.0, used)[3] == AHEAD


def test_the_truth_of_every_midnight_is_that_of_its_own_future() -> None:
    rng = np.random.default_rng(3)
    used = rng.exponential(1.0, (2, YEAR * 24))
    found = truths(150.0, used)

    for day in (LEARN, LEARN + 1, 200, HORIZON.last - 1):
        hours = slice(day * 24, (day + AHEAD) * 24)
        assert found[:, day - LEARN] == pytest.approx(lasts(150.0, used[:, hours]))


def test_a_kind_uses_what_it_is_said_to() -> None:
    """The mean of a log-normal day is its median times exp(sd² / 2); guests by their share of the days,
    comes / (comes + goes) = 0.02 / 0.12; one day in seven is a wash day of so much more."""
    for kind in KINDS:
        if kind.heat_per_C:
            continue
        life = live(kind, np.random.default_rng(5), 0, YEAR, beginning(300))
        heads = kind.heads + (0.02 / 0.12 if kind.guests else 0.0)
        week = (6 + kind.wash) / 7
        mean_L = kind.mean_L * heads * week * np.exp((kind.day_sd**2 + kind.wander_sd**2) / 2)
        assert life.used.sum() / (300 * YEAR) == pytest.approx(mean_L, rel=0.04), kind.name


def test_years_of_the_published_model_are_scaled_to_a_boat() -> None:
    for number in range(12):
        year = recorded(number)
        assert year.used.sum() / YEAR / year.heads == pytest.approx(12.0)
        assert (year.used >= 0).all()
