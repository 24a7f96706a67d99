"""Litres a head a day: yesterday's and the week's, by the ship's own midnight."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.estimation.a_head import AHead
from monitor.estimation.water_history import WaterUse

ZONE = ZoneInfo("Europe/Madrid")
HOUR = 3600.0


def midnight(day: int) -> float:
    return datetime(2026, 11, day, tzinfo=ZONE).timestamp()


def used(days: dict[int, float], heads: int = 3) -> WaterUse:
    """So many litres on each day of November, evenly over its hours, by so many aboard."""
    use = WaterUse(heads)
    for day, litres in days.items():
        for hour in range(24):
            use.used(midnight(day) + hour * HOUR, "at anchor", "awake", litres / 24, HOUR, heads)
    return use


def test_yesterday_and_the_week_by_the_ships_midnight() -> None:
    """By hand: 36 L a day, 60 yesterday, of three aboard: 12 and 20 a head; the mean of seven days 92/7."""
    use = used(dict.fromkeys(range(1, 14), 36.0) | {14: 60.0, 15: 500.0})

    found = AHead(use, ZONE).estimate(0.0, midnight(15) + 9 * HOUR)

    assert found.value == pytest.approx((6 * 12 + 20) / 7)
    assert found.reason.facts["yesterday_L"] == pytest.approx(20)
    assert found.low == pytest.approx(0.9 * (6 * 12 + 20) / 7)


def test_each_day_is_divided_by_those_who_were_aboard_then() -> None:
    """By hand: three used 36 L a day, 12 a head; a guest came at noon of the 13th, from when on four used
    2 L an hour: 6 + 24/4 = 12 a head that day and 48/4 = 12 on the 14th. By three it would be 14 and 16."""
    use = used(dict.fromkeys(range(1, 13), 36.0))
    for hour in range(48):
        heads = 3 if hour < 12 else 4
        litres = 1.5 if hour < 12 else 2.0
        use.used(midnight(13) + hour * HOUR, "at anchor", "awake", litres, HOUR, heads)

    found = AHead(use, ZONE).estimate(0.0, midnight(15) + HOUR)

    assert (found.value, found.reason.facts["yesterday_L"]) == pytest.approx((12.0, 12.0))


def test_days_with_nobody_aboard_are_left_out() -> None:
    use = used(dict.fromkeys(range(1, 12), 36.0))
    for day in (12, 13, 14):
        for hour in range(24):
            use.used(midnight(day) + hour * HOUR, "at anchor", "away", 0.0, HOUR, 3)

    found = AHead(use, ZONE).estimate(0.0, midnight(15) + HOUR)

    assert found.value == pytest.approx(12)
    assert found.reason.id == "a head: nobody yesterday"


def test_before_a_whole_day_and_without_a_clock_it_is_unknown() -> None:
    assert AHead(WaterUse(3), ZONE).estimate(0.0, midnight(15)).value is None
    assert AHead(used({14: 36.0}), ZONE).estimate(0.0, None).value is None
