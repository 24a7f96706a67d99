"""How well the fulls repeat, learned from closures; and what no closure shows."""

import json

import numpy as np
import pytest

from monitor.estimation.counting import ChargeCount
from monitor.estimation.priors import PRIORS
from monitor.estimation.repeats import Repeats

SEED = 11


@pytest.mark.parametrize("z", [0.0, 0.5, 1.0, 3.0])
def test_one_closure_is_the_mean_of_an_inverse_gamma(z: float) -> None:
    """Prior of mean 1 worth two closures: shape 2, scale 1; a normal miss adds 1/2 and z²/2. The mean
    is scale / (shape - 1) (any textbook of statistics)."""
    repeats = Repeats()

    repeats.closed(z, 4.0, 4.0)

    assert repeats.factor == pytest.approx((1 + z**2 / 2) / (2 + 1 / 2 - 1))


@pytest.mark.parametrize("true", [0.25, 1.0, 2.0])
def test_many_closures_find_the_boat_s_own_noise(true: float) -> None:
    """Misses of `true` times the variance believed. With every closure remembered to 97 % some 33 count:
    the variance's own error is sqrt(2 / 65) = 18 % of it; over the last 200 closures' mean it is less."""
    repeats, rng, seen = Repeats(), np.random.default_rng(SEED), []
    for miss_Ah in rng.normal(0.0, 2.0 * true**0.5, 400):
        repeats.closed(float(miss_Ah) / (4.0 * repeats.factor) ** 0.5, 4.0, 4.0 * repeats.factor)
        seen.append(repeats.factor)

    assert np.mean(seen[200:]) == pytest.approx(true, rel=0.2)


def test_a_miss_that_is_the_sensor_s_teaches_little() -> None:
    """Fulls and wander have a hundredth of the variance: a miss of three deviations weighs as much."""
    repeats = Repeats()

    repeats.closed(3.0, 4.0, 400.0)

    assert repeats.factor == pytest.approx((2 + 0.09) / (2 + 0.01))


def count_of(fulls: int, common_Ah: float) -> ChargeCount:
    """Full every second day, and every closure to the tenth of an ampere-hour."""
    count, rng = ChargeCount(400.0, PRIORS["lifepo4"]), np.random.default_rng(SEED)
    count.pin(2.0, 1.2, common_Ah)
    for _ in range(fulls):
        count.advance(24.0, -100.0, 0.0)
        count.advance(24.0, 100.0 / 0.997, 100.0 / 0.997)
        count.close(count.below_Ah + rng.normal(0.0, 0.1), 1.2, common_Ah)
    return count


def test_the_band_narrows_with_fulls_that_repeat() -> None:
    before, after = count_of(1, 0.0).below_sd_Ah, count_of(30, 0.0).below_sd_Ah

    assert after < 0.7 * before


def test_no_number_of_closures_shows_what_every_full_has_alike() -> None:
    assert count_of(30, 1.5).below_sd_Ah >= 1.5


def test_tails_that_differ_do_not_cancel() -> None:
    """A full at a long tail (0.2 Ah alike) after one at a short tail (1.2 Ah): a miss of 1 Ah more is normal.

    z² = 3² / (own variances + (1.2 - 0.2)²), the stretch itself as short as it can be (own arithmetic).
    """
    count = ChargeCount(400.0, PRIORS["lifepo4"])
    count.pin(4.0, 1.0, 1.2)

    closure = count.close(1.0, 1.0, 0.2)

    assert closure.z == pytest.approx(-3.0 / (1.0 + 1.0 + 1.0) ** 0.5)


def test_what_was_learned_survives_a_restart() -> None:
    count = count_of(12, 1.0)
    again = ChargeCount(400.0, PRIORS["lifepo4"])

    again.restore(json.loads(json.dumps(count.state())))

    for one in (count, again):
        one.advance(24.0, -50.0, 0.0)
        one.close(50.0, 1.2, 0.5)
    assert again.state() == count.state()
