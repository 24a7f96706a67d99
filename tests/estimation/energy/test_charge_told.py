"""What is told of a charge never exceeds what the bank may hold."""

import pytest

from monitor.estimation import charge_told
from monitor.estimation.bands import BAND_90
from monitor.estimation.counting import ChargeCount, Remaining
from monitor.estimation.priors import PRIORS
from monitor.records import Reason
from monitor.settings import Bank

BANK = Bank(name="house", capacity_Ah=400.0, nominal_V=12.8)


def told(left: Remaining) -> tuple[float, float, float]:
    count = ChargeCount(400.0, PRIORS["lifepo4"])
    _, left_Wh = charge_told.estimates(BANK, 0.0, left, Reason("charge counted"), count, 0)
    assert left_Wh.value is not None
    assert left_Wh.low is not None
    assert left_Wh.high is not None
    return left_Wh.low, left_Wh.value, left_Wh.high


def test_at_full_the_band_ends_where_the_largest_bank_would_be_full() -> None:
    """(400 + 1.645 x 9 % of 400) x 12.8 V = 5878 Wh, whatever the count's own doubt (own arithmetic)."""
    _, value, high = told(Remaining(1.0, 0.2, 400.0, 120.0))

    assert value == pytest.approx(5120.0)
    assert high == pytest.approx((400 + BAND_90 * 36.0) * 12.8)


def test_in_the_middle_it_is_the_count_s_own_band() -> None:
    low, value, high = told(Remaining(0.5, 0.05, 200.0, 20.0))

    assert (low, value, high) == pytest.approx((2560 - BAND_90 * 256, 2560, 2560 + BAND_90 * 256))


def test_nothing_is_below_empty() -> None:
    low, _, _ = told(Remaining(0.02, 0.05, 8.0, 20.0))

    assert low == 0.0
