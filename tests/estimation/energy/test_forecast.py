"""Days left: the autonomy examples of the trade, and what must hold of any forecast."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import HOUR_S
from monitor.estimation.forecast import Forecast, as_estimate, forecast
from monitor.estimation.passage import lowest, redrawn, stand_at, thinned
from monitor.estimation.use import UseHistory
from monitor.records import Course
from monitor.words.say import say
from monitor.words.units import Dress

START_S = 1_780_012_800.0
"""A midnight of UTC."""
MEDIAN = 0.005
"""How exactly the middle of 400 futures is told, as a share."""


def history(
    days: int, used_a_day: float, made_a_day: float | None = None, place: str = "at anchor"
) -> tuple[UseHistory, float]:
    """Days all alike, and the moment they end; what is made is made from 10 to 16 UTC."""
    use = UseHistory()
    for hour in range(days * 24):
        made = None if made_a_day is None else (made_a_day / 6 if 10 <= hour % 24 < 16 else 0.0)
        use.add(START_S + hour * HOUR_S, place, "awake", used_a_day / 24, made, HOUR_S)
    return use, START_S + days * 24 * HOUR_S


def autonomy(left: float, reserve: float, used_a_day: float, horizon_days: int = 10) -> Forecast:
    use, now = history(30, used_a_day)
    return forecast(
        now, left, 0.0, reserve, 10 * left, use, "at anchor", 1.0, None, horizon_days=horizon_days
    )


EXAMPLES = [
    # 541.7 Ah of 12 V, a cold factor of 1.30 and half of it to be used carry 1000 Wh a day for 2.5
    # days: the worked autonomy sizing of batteries-solar.blogspot.com ("simplified IEEE method").
    pytest.param(541.667 * 12 / 1.30, 0.5 * 541.667 * 12 / 1.30, 1000.0, 2.5, id="sizing for autonomy"),
    # Own arithmetic: 280 Ah of 12.8 V, one fifth kept back, 1600 Wh a day; from full and from 76 %.
    pytest.param(280 * 12.8, 0.2 * 280 * 12.8, 1600.0, 1.792, id="280 Ah from full"),
    pytest.param(0.76 * 280 * 12.8, 0.2 * 280 * 12.8, 1600.0, 1.254, id="280 Ah from 76 %"),
    # Own arithmetic on the Sphere Handbook's 15, 7.5 and 3 L a person and day, two people, 300 L, 20 L
    # kept back.
    pytest.param(300.0, 20.0, 30.0, 9.333, id="300 L at 15 L a head"),
    pytest.param(300.0, 20.0, 15.0, 18.667, id="300 L at 7.5 L a head"),
    pytest.param(300.0, 20.0, 6.0, 46.667, id="300 L at 3 L a head"),
]


@pytest.mark.parametrize(("left", "reserve", "used_a_day", "days"), EXAMPLES)
def test_days_with_no_charging_are_those_of_the_examples(
    left: float, reserve: float, used_a_day: float, days: float
) -> None:
    """When all days are alike only the level is uncertain, by 10 % in its logarithm: the likely day is
    the example's, the cautious one exp(-1.2816 * 0.10) of it."""
    found = autonomy(left, reserve, used_a_day, horizon_days=100)

    assert found.likely_days == pytest.approx(days, rel=MEDIAN)
    assert found.cautious_days == pytest.approx(days * np.exp(-1.2816 * 0.10), rel=0.01)
    assert found.late_days == pytest.approx(days * np.exp(1.2816 * 0.10), rel=0.01)
    assert not found.beyond


def test_beyond_the_horizon_is_said_and_not_a_number_of_days() -> None:
    found = autonomy(300.0, 20.0, 15.0)

    assert found.beyond
    assert found.likely_days == 10.0
    assert found.cautious_days == 10.0
    assert found.late_days is None
    estimate = as_estimate(found, "water_days", "water", 5.0)
    assert (estimate.value, estimate.low, estimate.high, estimate.beyond) == (10.0, 10.0, None, True)


@pytest.mark.parametrize("left", [1000.0, 999.0, 0.0])
def test_at_the_reserve_there_are_no_days_left(left: float) -> None:
    assert autonomy(left, 1000.0, 1600.0).likely_days == 0.0


def test_the_morning_is_seen_although_the_day_balances() -> None:
    """2400 Wh are made from 10 to 16 h and 2400 used all round the clock: 1000 Wh above the reserve at
    midnight are gone by about 10 h, for the sun's first hour comes too late."""
    use, now = history(30, 2400.0, 2400.0)

    found = forecast(now, 1950.0, 0.0, 1000.0, 6000.0, use, "at anchor", 2400.0, 2400.0)
    ample = forecast(now, 4000.0, 0.0, 1000.0, 6000.0, use, "at anchor", 2400.0, 2400.0)

    assert found.likely_days * 24 == pytest.approx(9.5, abs=0.1)
    assert ample.likely_days > 3


def test_with_charging_lasts_longer_than_with_none() -> None:
    use, now = history(30, 1800.0, 1500.0)

    charged = forecast(now, 4000.0, 200.0, 1200.0, 5888.0, use, "at anchor", 1800.0, 1500.0)
    uncharged = forecast(now, 4000.0, 200.0, 1200.0, 5888.0, use, "at anchor", 1800.0, None)

    assert charged.cautious_days > uncharged.cautious_days
    assert uncharged.likely_days == pytest.approx(2800 / 1800, rel=0.02)


def test_what_overflows_is_thrown_away() -> None:
    """5000 Wh a day are made into a bank that holds 2000: never more than that is there at dusk."""
    use, now = history(30, 1000.0, 5000.0)

    found = forecast(now, 2000.0, 0.0, 0.0, 2000.0, use, "at anchor", 1000.0, 5000.0)

    assert max(found.course.high) <= 2000.0
    assert max(found.course.likely) == pytest.approx(2000.0)
    assert min(found.course.likely) > 200.0


BEGINNINGS = [
    pytest.param(0, "at anchor", "days from settings", 0.35, id="no history"),
    pytest.param(2, "at anchor", "days from settings", 0.35, id="two days"),
    pytest.param(3, "at anchor", "days from few days", 0.25, id="three days"),
    pytest.param(13, "at anchor", "days from few days", 0.25, id="thirteen days"),
    pytest.param(14, "at anchor", "days from history", 0.10, id="fourteen days"),
    pytest.param(20, "sailing", "days from other places", 0.25, id="another place"),
]


@pytest.mark.parametrize(("days", "place", "reason", "sd"), BEGINNINGS)
def test_the_beginning_is_wide_and_says_so(days: int, place: str, reason: str, sd: float) -> None:
    """With 1600 Wh a day in the settings and in the history alike, only the width differs."""
    use, now = history(days, 1600.0)

    found = forecast(now, 3200.0, 0.0, 0.0, 4000.0, use, place, 1600.0, None)

    assert found.reason.id == reason
    assert found.likely_days == pytest.approx(2.0, rel=MEDIAN)
    assert found.cautious_days == pytest.approx(2.0 * np.exp(-1.2816 * sd), rel=0.01)


def test_before_there_is_history_sun_comes_when_the_shape_says() -> None:
    """2400 Wh used and made a day, all of it made from 12 to 13 UTC: 1000 Wh at midnight are gone at 10."""
    noon = [1.0 if hour == 12 else 0.0 for hour in range(24)]

    found = forecast(
        START_S, 1000.0, 0.0, 0.0, 5000.0, UseHistory(), "at anchor", 2400.0, 2400.0, sun_shape=noon
    )

    assert found.likely_days * 24 == pytest.approx(10.0, rel=MEDIAN)


def test_a_moment_inside_an_hour_counts_from_there() -> None:
    use, now = history(30, 2400.0)

    found = forecast(now + 1234.0, 150.0, 0.0, 0.0, 5000.0, use, "at anchor", 2400.0, None)

    assert found.likely_days * 24 == pytest.approx(1.5, rel=MEDIAN)
    assert found.course.utc_s[:3] == (now + 1234.0, now + 3600.0, now + 7200.0)


def test_uncertainty_of_what_is_left_makes_the_cautious_day_earlier() -> None:
    use, now = history(30, 1600.0)
    sure, unsure = (
        forecast(now, 3200.0, sd, 800.0, 6000.0, use, "at anchor", 1600.0, None) for sd in (0.0, 600.0)
    )

    assert unsure.cautious_days < sure.cautious_days - 0.1
    assert unsure.likely_days == pytest.approx(sure.likely_days, rel=0.05)


def test_guests_who_came_last_week_are_seen() -> None:
    """Use doubled six days ago: the forecast is nearer to the new level than the mean of thirty days."""
    use, now = history(24, 1000.0)
    for hour in range(6 * 24):
        use.add(now + hour * HOUR_S, "at anchor", "awake", 2000.0 / 24, None, HOUR_S)

    found = forecast(now + 6 * 86400.0, 3000.0, 0.0, 0.0, 9000.0, use, "at anchor", 1000.0, None)

    assert found.likely_days < 3000 / 1200


def test_days_with_nobody_aboard_are_told_from_such_days() -> None:
    """Ten days of 1600 Wh aboard, then six of 400 Wh away, then four aboard again (own arithmetic)."""
    use = UseHistory()
    for hour in range(20 * 24):
        away = 10 <= hour // 24 < 16
        used = (400.0 if away else 1600.0) / 24
        use.add(START_S + hour * HOUR_S, "at anchor", "away" if away else "awake", used, None, HOUR_S)
    now = START_S + 20 * 86400.0

    aboard, away_ = (
        forecast(now, 2400.0, 0.0, 0.0, 9000.0, use, "at anchor", 1.0, None, people=people)
        for people in ("asleep", "laid up")
    )

    assert aboard.likely_days == pytest.approx(1.5, rel=MEDIAN)
    assert away_.likely_days == pytest.approx(6.0, rel=MEDIAN)
    assert aboard.reason.facts["days"] == 14
    assert away_.reason.facts["days"] == 6


COMPANY = [
    pytest.param("awake", "awake", "at anchor", "days from history", id="aboard as before"),
    pytest.param("away", "away", "at anchor", "nobody aboard", id="away as before"),
    pytest.param("awake", "away", "at anchor", "nobody aboard yet", id="away for the first time"),
    pytest.param("away", "awake", "at anchor", "other company", id="back aboard"),
    pytest.param("awake", "away", "alongside", "days from other places", id="away in another place"),
]


@pytest.mark.parametrize(("before", "now_", "place", "reason"), COMPANY)
def test_whose_days_it_rests_on_is_said_and_has_a_sentence(
    before: str, now_: str, place: str, reason: str
) -> None:
    use = UseHistory()
    for hour in range(20 * 24):
        use.add(START_S + hour * HOUR_S, "at anchor", before, 50.0, None, HOUR_S)

    found = forecast(START_S + 20 * 86400.0, 2400.0, 0.0, 0.0, 9000.0, use, place, 1.0, None, people=now_)

    assert found.reason.id == reason
    assert "20" in say(found.reason, Dress())


def test_the_kept_course_is_the_drawn_one_every_three_hours_and_small() -> None:
    use, now = history(30, 1800.0, 1500.0)
    drawn = forecast(now + 700.0, 4000.0, 200.0, 1200.0, 5888.0, use, "at anchor", 1800.0, 1500.0).course

    kept = json.dumps(thinned(drawn))
    again = redrawn(json.loads(kept), now + 700.0)

    assert len(kept) < 1000
    assert len(again.utc_s) == 1 + 72 // 3 + (240 - 72) // 12
    assert again.utc_s[:3] == (now + 700.0, now + 700.0 + 3 * HOUR_S, now + 700.0 + 6 * HOUR_S)
    for moment, low, likely, high in zip(again.utc_s, again.low, again.likely, again.high, strict=True):
        stand = stand_at(drawn, moment) if moment <= drawn.utc_s[-1] else None
        if stand is not None:
            assert (low, likely, high) == pytest.approx((stand.low, stand.likely, stand.high), abs=0.51)


def test_how_it_stands_at_a_moment_and_at_its_lowest() -> None:
    """By hand: 100, 60, 80 at hours 0, 1, 2; half an hour after the begin it is 80."""
    course = Course((0.0, 3600.0, 7200.0), (90.0, 50.0, 70.0), (100.0, 60.0, 80.0), (110.0, 70.0, 90.0))

    half, least = stand_at(course, 1800.0), lowest(course, 7200.0)

    assert half is not None
    assert (half.low, half.likely, half.high) == (70.0, 80.0, 90.0)
    assert least is not None
    assert (least.utc_s, least.low, least.likely) == (3600.0, 50.0, 60.0)
    assert stand_at(course, 7201.0) is None
    assert lowest(Course((), (), (), ()), 1e12) is None


@given(
    left=st.floats(0.0, 8000.0),
    left_sd=st.floats(0.0, 2000.0),
    reserve=st.floats(0.0, 2000.0),
    used=st.floats(1.0, 20_000.0),
    made=st.one_of(st.none(), st.floats(0.0, 20_000.0)),
    days=st.integers(0, 20),
    seed=st.integers(0, 1000),
)
def test_any_forecast_is_in_order_and_the_same_again(
    left: float, left_sd: float, reserve: float, used: float, made: float | None, days: int, seed: int
) -> None:
    use, now = history(days, used, made)
    found, again = (
        forecast(now, left, left_sd, reserve, 6000.0, use, "at anchor", used, made, paths=50, seed=seed)
        for _ in range(2)
    )

    assert found == again
    assert 0.0 <= found.cautious_days <= found.likely_days <= 10.0
    assert found.late_days is None or found.late_days >= found.likely_days
    for low, likely, high in zip(found.course.low, found.course.likely, found.course.high, strict=True):
        assert 0.0 <= low <= likely <= high
