"""The history of use: hours that were half heard, places, forgetting, and the way through JSON."""

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.use import KEPT_DAYS, UseHistory

START_S = 1_780_012_800.0
"""A midnight of UTC."""


def filled(
    days: int, use: UseHistory | None = None, start_s: float = START_S, place: str = "at anchor"
) -> UseHistory:
    """Hour n of each day uses n, makes 100 + n."""
    use = use or UseHistory()
    for hour in range(days * 24):
        n = float(hour % 24)
        use.add(start_s + hour * HOUR_S, place, "awake", n, 100 + n, HOUR_S)
    return use


def test_a_day_is_the_24_hours_before_the_moment() -> None:
    days = filled(3).days(START_S + 3 * DAY_S - 7 * HOUR_S + 100.0)

    assert days.age.tolist() == [1, 2]
    assert days.used[0].tolist() == [float((17 + n) % 24) for n in range(24)]
    assert days.made[0].tolist() == [100.0 + (17 + n) % 24 for n in range(24)]


def test_parts_of_an_hour_add_up_and_a_part_stands_for_the_whole() -> None:
    """Half an hour of 5 Wh is 10 Wh an hour; ten minutes are too little to say (own arithmetic)."""
    use = filled(1)
    later = START_S + DAY_S
    for hour in range(24):
        use.add(later + hour * HOUR_S, "at anchor", "awake", 2.0, None, 900.0)
        use.add(later + hour * HOUR_S, "at anchor", "awake", 3.0, None, 900.0 if hour != 7 else -1.0)

    (newest, _) = use.days(later + DAY_S).used

    assert np.isnan(newest[7])
    assert np.delete(newest, 7).tolist() == [10.0] * 23
    assert np.isnan(use.days(later + DAY_S).made[0]).all()


def test_a_day_that_was_hardly_heard_is_not_learned_from() -> None:
    use = filled(1)
    for hour in range(10):
        use.add(START_S + DAY_S + hour * HOUR_S, "at anchor", "awake", 5.0, 0.0, HOUR_S)

    assert use.days(START_S + 2 * DAY_S).age.tolist() == [2]


def test_only_the_days_of_a_place() -> None:
    use = filled(2)
    filled(2, use, START_S + 2 * DAY_S, "sailing")
    end = START_S + 4 * DAY_S

    assert use.days(end, "at anchor").age.tolist() == [3, 4]
    assert use.days(end, "sailing").age.tolist() == [1, 2]
    assert use.days(end, "alongside").age.tolist() == []
    assert use.days(end).age.tolist() == [1, 2, 3, 4]


def test_old_days_are_forgotten() -> None:
    use = filled(KEPT_DAYS + 20)

    assert len(use.days(START_S + (KEPT_DAYS + 20) * DAY_S).age) == KEPT_DAYS
    assert use.days(START_S + (KEPT_DAYS + 200) * DAY_S).age.tolist() == []


@pytest.mark.parametrize("used", [float("nan"), float("inf")])
def test_what_is_not_a_number_is_not_remembered(used: float) -> None:
    use = filled(1)
    use.add(START_S + 5 * HOUR_S, "at anchor", "awake", used, 0.0, 60.0)

    assert use.days(START_S + DAY_S).used[0][5] == 5.0


def test_days_with_nobody_aboard_are_others() -> None:
    """Two days aboard, awake and asleep; two away and laid up; a day half and half is neither."""
    use = filled(2)
    for hour in range(3 * 24):
        people = "away" if hour < 24 else "laid up" if hour < 48 else "awake" if hour < 60 else "away"
        use.add(START_S + 2 * DAY_S + hour * HOUR_S, "at anchor", people, 1.0, 0.0, HOUR_S)
    end = START_S + 5 * DAY_S

    assert use.days(end, aboard=True).age.tolist() == [4, 5]
    assert use.days(end, aboard=False).age.tolist() == [2, 3]
    assert use.days(end, "sailing", aboard=False).age.tolist() == []


def test_the_sun_and_the_time_at_full_are_told_apart() -> None:
    """Half an hour heard: 30 Wh of sun are 60 Wh an hour, and a quarter of an hour at full is half of it."""
    use = UseHistory()
    for hour in range(24):
        sun = None if hour == 3 else 30.0
        use.add(START_S + hour * HOUR_S, "at anchor", "awake", 5.0, 40.0, 1800.0, sun, 900.0)

    days = use.days(START_S + DAY_S)

    assert np.isnan(days.sun[0][3])
    assert np.delete(days.sun[0], 3).tolist() == [60.0] * 23
    assert days.made[0].tolist() == [80.0] * 24
    assert days.full[0].tolist() == [0.5] * 24
