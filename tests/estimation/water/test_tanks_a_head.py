"""Litres a head a day: yesterday's and the week's, by the ship's own midnight."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.estimation.a_head import AHead
from monitor.estimation.use import UseHistory

ZONE = ZoneInfo("Europe/Madrid")
HOUR = 3600.0


def midnight(day: int) -> float:
    return datetime(2026, 11, day, tzinfo=ZONE).timestamp()


def used(days: dict[int, float], people: str = "awake") -> UseHistory:
    """So many litres on each day of November, evenly over its hours."""
    use = UseHistory()
    for day, litres in days.items():
        for hour in range(24):
            use.add(midnight(day) + hour * HOUR, "at anchor", people, litres / 24, None, HOUR)
    return use


def test_yesterday_and_the_week_by_the_ships_midnight() -> None:
    """By hand: 36 L a day, 60 yesterday, of three aboard: 12 and 20 a head; the mean of seven days 92/7."""
    use = used(dict.fromkeys(range(1, 14), 36.0) | {14: 60.0, 15: 500.0})

    found = AHead(use, ZONE, 3).estimate(0.0, midnight(15) + 9 * HOUR)

    assert found.value == pytest.approx((6 * 12 + 20) / 7)
    assert found.reason.facts["yesterday_L"] == pytest.approx(20)
    assert found.low == pytest.approx(0.9 * (6 * 12 + 20) / 7)


def test_days_with_nobody_aboard_are_left_out() -> None:
    use = used(dict.fromkeys(range(1, 12), 36.0))
    for day in (12, 13, 14):
        for hour in range(24):
            use.add(midnight(day) + hour * HOUR, "at anchor", "away", 0.0, None, HOUR)

    found = AHead(use, ZONE, 3).estimate(0.0, midnight(15) + HOUR)

    assert found.value == pytest.approx(12)
    assert found.reason.id == "a head: nobody yesterday"


def test_before_a_whole_day_and_without_a_clock_it_is_unknown() -> None:
    assert AHead(UseHistory(), ZONE, 3).estimate(0.0, midnight(15)).value is None
    assert AHead(used({14: 36.0}), ZONE, 3).estimate(0.0, None).value is None
