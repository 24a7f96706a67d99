"""The yardsticks of the households' proof, by hand."""

import numpy as np
import pytest

from tests.proof.household_oracle import passages
from tests.proof.oracle import Horizon, worst
from tests.proof.rolling import loss


def test_the_pinball_loss_is_least_at_the_true_quantile() -> None:
    """Koenker and Bassett (1978): a tenth of what the truth lies above, nine tenths of what it lies below;
    over a sample its least is at the sample's own quantile."""
    every = np.ones(1, dtype=bool)
    assert loss(np.array([3.0]), np.array([2.0]), every) == pytest.approx(0.1)
    assert loss(np.array([3.0]), np.array([4.0]), every) == pytest.approx(0.9)
    truth = np.random.default_rng(1).exponential(3.0, 4001)
    at = np.linspace(0.05, 1.5, 146)
    losses = [loss(truth, np.full(4001, q), np.ones(4001, dtype=bool)) for q in at]

    assert at[int(np.argmin(losses))] == pytest.approx(np.quantile(truth, 0.1), abs=0.02)


def test_the_oracle_counts_hours_as_one_does_by_hand() -> None:
    """1000 Wh at 100 W last 10 h; with 300 W made in the first two hours into a bank that holds 1100, 11 h
    after them; with 100 W made in every hour they last beyond the ten days."""
    drain = np.full((3, 240), -100.0)
    drain[1, :2] = 200.0
    drain[2] = 0.0

    assert passages(1000.0, drain, 1100.0) * 24 == pytest.approx([10.0, 13.0, 240.0])


def test_misses_that_come_alone_lie_as_far_as_binomial_ones() -> None:
    """One in ten by independent draws, 325 times: 99 in 100 years between the quantiles of the binomial
    distribution, 19 and 47 of 325 (scipy: 19.0 and 47.0), to two forecasts of sampling error."""
    rng = np.random.default_rng(4)
    truth = np.where(rng.random((4000, 325)) < 0.1, 0.5, 2.0)

    low, high, _ = Horizon(10).judge(np.ones(325), truth)

    assert low * 325 == pytest.approx(19, abs=2)
    assert high * 325 == pytest.approx(47, abs=2)


def test_the_worst_sixty_days_are_where_the_misses_are() -> None:
    early = np.zeros(325, dtype=bool)
    early[100:130] = True

    assert worst(early, np.ones(325, dtype=bool)) == pytest.approx(0.5)
    assert worst(early, early) == pytest.approx(1.0)
    assert worst(early, np.zeros(325, dtype=bool)) == 0.0
