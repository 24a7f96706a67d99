"""Days of water by hand from published needs, by the head, in the heat, and with a leak."""

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.heat import MOST_PER_C, PRIOR_PER_C, slope
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_plan import WaterPlanWatch, air_channel
from monitor.estimation.water_reach import Reach, reach
from tests.estimation.water.planning import ANCHOR, NOW_S, boat, left, lived, minute, planned

# ---- days


def far_of(L_a_day: float) -> Reach:
    use = WaterUse(2)
    lived(use, L_a_day)
    return reach(NOW_S, 0.0, use, ANCHOR.place, ANCHOR.people, 15.0)


@pytest.mark.parametrize(("L_a_head", "days"), [(15.0, 9.33), (7.5, 18.67), (3.0, 46.7)])
def test_two_people_live_on_280_litres_for_as_long_as_by_the_needs(L_a_head: float, days: float) -> None:
    """Needs by Sphere and the WHO (15 L, 7.5 L, 3 L a head): 280 / (2 x 15) = 9.33 days, and so on (own
    arithmetic). Lived so, and as a share of 15 L."""
    lived_so, in_part = far_of(2 * L_a_head), far_of(30.0)

    assert lived_so.days(280.0, lived_so.likely) == pytest.approx(days, rel=0.02)
    assert in_part.days(280.0, in_part.likely, share=L_a_head / 15.0) == pytest.approx(days, rel=0.02)
    assert lived_so.pace_L_a_head == pytest.approx(L_a_head, rel=0.02)


def test_the_cautious_day_comes_before_the_likely_and_the_likely_before_the_hopeful() -> None:
    far = far_of(30.0)

    cautious, likely, hopeful = (far.days(280.0, u) for u in (far.cautious, far.likely, far.hopeful))

    assert 0.6 * likely < cautious < likely < hopeful
    assert far.days(-5.0, far.likely) == 0.0


def test_nothing_used_lasts_for_ever() -> None:
    far = far_of(0.0)

    assert far.days(280.0, far.likely) == np.inf
    assert far.pace_L_a_head == 0.0


def test_before_there_is_a_history_the_settings_say_what_is_used() -> None:
    far = reach(NOW_S, 0.0, WaterUse(2), "at anchor", "awake", 15.0)

    assert far.days(280.0, far.likely) == pytest.approx(280 / 30, rel=0.02)
    assert far.reason.id == "days from settings"


def test_water_known_badly_is_planned_on_with_care() -> None:
    """How well the tanks are known widens the days: 280 L give or take 60 L (1 sd)."""
    use = WaterUse(2)
    lived(use, 30.0)
    well, badly = (reach(NOW_S, sd_L, use, "at anchor", "awake", 15.0) for sd_L in (0.0, 60.0))

    assert badly.days(280.0, badly.cautious) < well.days(280.0, well.cautious)


def test_passage_is_not_forecast_from_days_at_anchor() -> None:
    """Six days of passage at 20 L, forty at anchor at 40 L before them."""
    use = WaterUse(2)
    lived(use, 40.0, until_s=NOW_S - 6 * DAY_S)
    for hour in range(6 * 24):
        use.used(NOW_S - (6 * 24 - hour) * HOUR_S, "sailing", "awake", 20 / 24, HOUR_S, 2)

    far = reach(NOW_S, 0.0, use, "sailing", "awake", 15.0)

    assert far.days(100.0, far.likely) == pytest.approx(5.0, rel=0.05)


# ---- heads


def test_guests_who_come_and_go_scale_the_days() -> None:
    """Forty days of two people at 30 L: four use 60 L, one 15 L (15 L a head, Sphere)."""
    use = WaterUse(2)
    lived(use, 30.0)
    for heads, days in ((4, 280 / 60), (1, 280 / 15)):
        use.heads = heads
        far = reach(NOW_S, 0.0, use, "at anchor", "awake", 15.0)
        assert far.days(280.0, far.likely) == pytest.approx(days, rel=0.02)
        assert far.pace_L_a_head == pytest.approx(15.0, rel=0.02)


def test_days_with_guests_count_by_the_head() -> None:
    """Twenty days of six people at 90 L, then twenty of two at 30 L: all days say 15 L a head."""
    use = WaterUse(2)
    lived(use, 90.0, days=20, until_s=NOW_S - 20 * DAY_S, heads=6)
    lived(use, 30.0, days=20)

    assert np.nansum(use.days(NOW_S).used, axis=1) == pytest.approx(30.0)


# ---- heat


def test_the_slope_with_the_air_is_learned_from_days_that_differ() -> None:
    """Days drawn with 3 in a hundred more for each degree, over 12 to 30 °C: a sum of squares of 60 x 18²/12,
    days alike by four and no more alike than 0.15: sd = (1e4 + 1620 / (4 x 0.15²))^-1/2 = 0.006."""
    rng = np.random.default_rng(1)
    air = rng.uniform(12.0, 30.0, 60)
    used = 30.0 * np.exp(0.03 * (air - 20.0) + 0.1 * rng.standard_normal(60))

    found = slope(air, used)

    assert found.per_C == pytest.approx(0.03, abs=0.006)
    assert found.sd_per_C == pytest.approx(0.006, rel=0.1)


def test_the_slope_is_bounded_and_without_days_it_is_what_is_usual() -> None:
    air = np.linspace(10.0, 30.0, 40)
    steep, falling = slope(air, np.exp(0.2 * air)), slope(air, np.exp(-0.2 * air))

    assert (steep.per_C, falling.per_C) == (MOST_PER_C, 0.0)
    assert slope(np.full(40, np.nan), np.ones(40)).per_C == PRIOR_PER_C
    assert slope(np.full(40, 20.0), np.ones(40)).per_C == pytest.approx(PRIOR_PER_C)
    assert slope(air[:3], np.ones(3)).per_C == PRIOR_PER_C
    assert slope(air, np.zeros(40)).per_C == PRIOR_PER_C


def test_a_heat_wave_takes_more_than_the_cool_weeks_before_it() -> None:
    """Three days of 30 °C after weeks of 20: 1.5 in a hundred for each degree is 16 in a hundred."""
    cool, hot, deaf = WaterUse(2), WaterUse(2), WaterUse(2)
    lived(cool, 30.0)
    lived(hot, 30.0, until_s=NOW_S - 3 * DAY_S)
    lived(hot, 30.0, days=3, air_C=30.0)
    lived(deaf, 30.0, air_C=float("nan"))
    paces = [
        float(np.nansum(use.days(NOW_S).used[-1]))  # The oldest day, in the heat of now.
        for use in (cool, hot, deaf)
    ]

    assert paces[0] == pytest.approx(30.0)
    assert 30 * np.exp(0.05) < paces[1] < 30 * np.exp(0.25)
    assert paces[2] == pytest.approx(30.0)


def test_a_thermometer_gone_wrong_does_not_multiply_the_use() -> None:
    """At 1.5 in a hundred a degree, and never more than 12 °C apart: a factor of exp(0.18) = 1.2 at most."""
    use = WaterUse(2)
    lived(use, 30.0, until_s=NOW_S - 3 * DAY_S)
    lived(use, 30.0, days=3, air_C=125.0)

    assert 30 * np.exp(-0.2) < np.nansum(use.days(NOW_S).used[-1]) < 30 * np.exp(0.2)
    assert np.nansum(use.by_head(NOW_S).used, axis=1) == pytest.approx(15.0)


@pytest.mark.parametrize(
    ("names", "channel"),
    [
        (["sea", "cabin"], "cabin temperature"),
        (["cabin", "outside air"], "outside air temperature"),
        (["sea", "repair", "chairs"], None),
        ([], None),
    ],
)
def test_only_a_thermometer_of_the_air_is_asked(names: list[str], channel: str | None) -> None:
    assert air_channel(boat(instruments=[{"name": n} for n in names])) == channel


def test_heat_is_told_where_the_air_is_heard() -> None:
    settings = boat(instruments=[{"name": "cabin"}])
    ahead = WaterAhead(settings)
    watch = WaterPlanWatch(settings, ahead)
    told = {e.name: e for e in watch.estimates()}
    assert told["water_heat_pct"].value is None
    assert told["water_hits"].value is None

    for n in range(24 * 60):
        watch.take(minute(NOW_S - DAY_S + 60.0 * n, air_C=25.0))
    list(ahead.draw(NOW_S, 0.0, left(300.0), 400.0, ANCHOR, 1))
    watch.take(minute(air_C=25.0))

    told = {e.name: e for e in watch.estimates()}
    assert told["water_heat_pct"].value == pytest.approx(100 * PRIOR_PER_C)
    assert ahead.use.coming_C(NOW_S) == pytest.approx(25.0)


# ---- leaks


def test_a_leak_is_taken_off_the_days_once() -> None:
    """Half a litre an hour is 12 L a day beside the 30 L used: 280 L last 280 / 42 = 6.67 days, and without
    the leak 9.33. The runs in which the pump made up for it are not counted twice."""
    plan, ahead, _ = planned(boat(), leak_L_per_h=0.5)
    far = ahead.reach
    assert far is not None

    assert far.days(280.0, far.likely) == pytest.approx(280 / 42, rel=0.02)
    assert far.days(280.0, far.likely, leak=False) == pytest.approx(280 / 30, rel=0.03)
    assert plan.pace_L_a_head == pytest.approx(15.0, rel=0.03)
    assert plan.reason.id == "water plan: leave by, leaking"
    assert plan.reason.facts["leak_L"] == pytest.approx(12.0)
    assert plan.reason.facts["cost_s"] == pytest.approx((280 / 30 - 280 / 42) * DAY_S, rel=0.05)


def test_saving_does_not_stop_a_leak() -> None:
    """At 2.5 L a head 5 L a day are used and 12 L leak away: 280 / 17 = 16.5 days."""
    plan, _, _ = planned(boat(), leak_L_per_h=0.5)

    assert plan.steps[-1].likely_days == pytest.approx(280 / 17, rel=0.03)
