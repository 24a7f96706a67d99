"""The yardsticks of the proofs of the alerts, against tables."""

import pytest

from monitor.alerts.book import AlertBook
from monitor.records import Finding, Reason, Severity
from tests.proof.alert_boat import DAY_S, HOUR_S, Bridge, Count, garwood, rates


@pytest.mark.parametrize(
    ("n", "chi_squared"), [(0, 5.991), (1, 9.488), (2, 12.592), (5, 21.026), (10, 33.924), (49, 124.342)]
)
def test_the_bound_is_half_a_chi_squared(n: int, chi_squared: float) -> None:
    """Garwood's upper bound is half the 95th percentile of chi squared with 2 (n + 1) degrees of freedom:
    the printed tables for 2, 4, 6, 12, 22 and 100."""
    assert garwood(n) == pytest.approx(chi_squared / 2, abs=0.0006)


def test_the_figures_are_of_all_rows_together() -> None:
    """By hand: 2 and 1 false ones in 300 nights are 1 in 100; 5 alerts in 300 days are 1 in 60."""
    rows = [
        {"nights": 100.0, "false": 2.0, "close": 0.0, "true": 1.0, "cautions": 0.0},
        {"nights": 200.0, "false": 1.0, "close": 0.0, "true": 1.0, "cautions": 0.0},
    ]

    found = rates(rows)

    assert found["false in 100 nights"] == pytest.approx(1.0)
    assert found["false in 100 nights, 95 % upper bound"] == pytest.approx(garwood(3) / 3)
    assert found["alerts of all grades a day"] == pytest.approx(5 / 300)


def test_what_does_not_sound_at_night_is_seen_in_the_morning() -> None:
    bridge, count = Bridge(1), Count()
    at_s = 1.5 * HOUR_S
    trouble = Finding("store trouble", "store", True, False, Reason("test"))

    count.take(bridge.step(at_s, 1, at_s, [trouble]), lambda change: "true")
    states = []
    while at_s < 9 * HOUR_S:
        at_s += 60.0
        bridge.step(at_s, 1, at_s, [trouble])
        states.append((at_s, bridge.book.open()[0].state))

    seen_s = min(s for s, state in states if state == "acknowledged")
    assert 7 * HOUR_S <= seen_s % DAY_S <= 7.6 * HOUR_S
    assert count.row(1)["true: store trouble"] == 1
    assert isinstance(bridge.book, AlertBook)
    assert bridge.told[0][1].severity is Severity.WARNING
