"""What may have flowed while nobody listened, against walks whose spread is known."""

import json

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.bands import BAND_90
from monitor.estimation.swing import Swing

CAPACITY_AH = 400.0
SEED = 5


def lived(hourly_Ah: np.ndarray) -> Swing:
    swing = Swing(CAPACITY_AH)
    for net_Ah in hourly_Ah.tolist():
        swing.take(HOUR_S, net_Ah)
    return swing


def a_day() -> np.ndarray:
    """Six hours of +30 Ah, eighteen of -10 Ah: it comes back to where it was."""
    return np.concatenate([np.full(6, 30.0), np.full(18, -10.0)])


def test_before_a_day_is_known_three_per_cent_flow_one_way() -> None:
    """0.03 x 400 A for 5 h are 60 Ah, for two days 24 h of it doubled (common practice, as stated)."""
    swing = Swing(CAPACITY_AH)

    assert swing.sd_Ah(5 * HOUR_S) == pytest.approx(60.0)
    assert swing.sd_Ah(2 * DAY_S) == pytest.approx(2 * 24 * 12.0)
    assert swing.sd_Ah(0.0) == 0.0


def test_a_bank_that_draws_more_than_that_widens_by_its_own_current() -> None:
    """Six hours of 20 A are no day yet, but more than 12 A: 3 h may be 60 Ah."""
    assert lived(np.full(6, -20.0)).sd_Ah(3 * HOUR_S) == pytest.approx(60.0)


@pytest.mark.parametrize("hours", [1, 4, 12])
def test_within_a_day_nine_stretches_in_ten_moved_less_than_the_band(hours: int) -> None:
    """Counted over all stretches of the ten days themselves (numpy's own sums), and wider than that only
    for how few days ten are: sqrt(1 + (24 + h) / 240)."""
    rng = np.random.default_rng(SEED)
    hourly_Ah = np.tile(a_day(), 10) + rng.normal(0.0, 3.0, 240)

    band_Ah = BAND_90 * lived(hourly_Ah).sd_Ah(hours * HOUR_S)

    moved_Ah = np.abs(np.convolve(hourly_Ah, np.ones(hours), "valid"))
    assert (moved_Ah <= band_Ah).mean() >= 0.90
    assert band_Ah <= 1.01 * (1 + (24 + hours) / 240) ** 0.5 * np.quantile(moved_Ah, 0.9)


def test_a_gap_of_whole_days_does_not_widen_by_what_comes_back() -> None:
    """A day that nets to nothing every time moves 180 Ah inside itself; three days of it, no more."""
    swing = lived(np.tile(a_day(), 10))

    assert BAND_90 * swing.sd_Ah(3 * DAY_S) < 1.2 * 180.0


def test_a_steady_loss_adds_up_by_the_day() -> None:
    """5 Ah less every day, alike: after four days at least 20 Ah, which is m D."""
    hourly_Ah = np.tile(a_day(), 10) - 5.0 / 24

    assert lived(hourly_Ah).sd_Ah(4 * DAY_S) >= 20.0


def test_days_that_differ_spread_with_the_root_of_their_number() -> None:
    """Daily nets of one sigma 20 Ah, flat within the day: four days are about 40 Ah, widened for the ten
    days it was learned from by sqrt(1 + 4 / 10), and never beyond what the bank was seen to span."""
    rng = np.random.default_rng(SEED)
    hourly_Ah = np.repeat(rng.normal(0.0, 20.0, 10) / 24, 24)
    swing = lived(hourly_Ah)

    assert swing.sd_Ah(4 * DAY_S) <= 1.7 * 20 * 2 * (1 + 0.4) ** 0.5
    assert swing.sd_Ah(4 * DAY_S) >= swing.sd_Ah(DAY_S) > 0


def test_hours_that_were_not_heard_are_not_hours_of_nothing() -> None:
    """The same ten days with every fifth hour deaf: the widening is not smaller for it."""
    rng = np.random.default_rng(SEED)
    hourly_Ah = np.tile(a_day(), 10) + rng.normal(0.0, 3.0, 240)
    deaf = Swing(CAPACITY_AH)
    for n, net_Ah in enumerate(hourly_Ah.tolist()):
        if n % 5:
            deaf.take(HOUR_S, net_Ah)
        else:
            deaf.gap(HOUR_S)

    assert deaf.sd_Ah(3 * HOUR_S) >= 0.9 * lived(hourly_Ah).sd_Ah(3 * HOUR_S)


def test_a_restart_keeps_it_to_a_four_thousandth_of_the_capacity() -> None:
    rng = np.random.default_rng(SEED)
    swing, again = lived(np.tile(a_day(), 5) + rng.normal(0.0, 3.0, 120)), Swing(CAPACITY_AH)

    again.restore(json.loads(json.dumps(swing.state())))

    for seconds in (HOUR_S, 7 * HOUR_S, DAY_S):
        assert again.sd_Ah(seconds) == pytest.approx(swing.sd_Ah(seconds), abs=0.2)
    assert len(json.dumps(swing.state())) < 800
