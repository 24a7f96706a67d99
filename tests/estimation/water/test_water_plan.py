"""Days of water and the plan, by hand from published needs and from households whose truth is known."""

import json
from array import array
from typing import Any, cast

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import CommandError
from monitor.estimation.heat import MOST_PER_C, PRIOR_PER_C, slope
from monitor.estimation.watcher import Heard, WaterHeard, Wished
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_plan import RATIONS, WaterPlanWatch, air_channel
from monitor.estimation.water_reach import Floats, Reach, reach
from monitor.pipeline.heads import heads_aboard
from monitor.pipeline.memory import Memory
from monitor.pipeline.water import WaterDesk
from monitor.records import Column, Command, Estimate, Event, EventKind, Mode, Reason, WaterPlan
from monitor.routing.slots import Slots
from monitor.settings import Settings
from monitor.storage.history import Dated, History
from monitor.storage.series import Hour
from monitor.words import water_plans
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress

NOW_S = 1_780_272_000.0
"""A midnight of UTC."""
ANCHOR = Mode("at anchor", "awake")


def boat(**more: Any) -> Settings:
    """Two aboard, 300 L, of which 20 L are kept back."""
    tables: dict[str, Any] = {
        "boat": {"name": "Test", "crew": 2},
        "tanks": [{"name": "tank", "capacity_L": 400.0}],
        "reserves": {"water_L": 20.0},
        "usual": {"water_L_a_head_a_day": 15.0},
    }
    return Settings.model_validate(tables | more)


def lived(
    use: WaterUse,
    L_a_day: float,
    days: int = 40,
    *,
    until_s: float = NOW_S,
    heads: int = 2,
    air_C: float = 20.0,
) -> None:
    """So many days on end of the same use, an hour like the other, the leak of `use` on top."""
    for n in range(days * 24):
        at_s = until_s - (days * 24 - n) * HOUR_S
        litres = L_a_day / 24 + use.leak_L_per_h
        use.used(at_s, ANCHOR.place, ANCHOR.people, litres, HOUR_S, heads)
        use.air(at_s, air_C, HOUR_S)


def left(litres: float, sd_L: float = 0.0) -> Estimate:
    band = 1.645 * sd_L
    return Estimate(
        "left_L", "water", 0.0, litres, litres - band, litres + band, Reason("water in the tanks")
    )


def minute(
    utc_s: float | None = NOW_S, leak_L_per_h: float | None = None, air_C: float | None = None
) -> Heard:
    leak = Estimate("leak_L_per_h", "pump", 0.0, leak_L_per_h, None, None, Reason("leak suspected"))
    columns = {} if air_C is None else {"cabin temperature": Column(array("d", [1.0]), array("d", [air_C]))}
    water = WaterHeard(estimates={("leak_L_per_h", "pump"): leak})
    return Heard(0.0, utc_s, 1, columns, {}, ANCHOR, {}, water=water)


def planned(
    settings: Settings, L_a_day: float = 30.0, litres: float = 300.0, leak_L_per_h: float | None = None
) -> tuple[WaterPlan, WaterAhead, WaterPlanWatch]:
    """A boat that has lived so, with so much left: her plan."""
    ahead = WaterAhead(settings)
    watch = WaterPlanWatch(settings, ahead)
    watch.take(minute(leak_L_per_h=leak_L_per_h))
    lived(ahead.use, L_a_day)
    list(ahead.draw(NOW_S, 0.0, left(litres), 400.0, ANCHOR, 1))
    watch.take(minute(leak_L_per_h=leak_L_per_h))
    plan = watch.plan()
    assert plan is not None
    return plan, ahead, watch


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


def test_the_crew_says_how_many_are_aboard() -> None:
    plan, _, watch = planned(boat())
    assert isinstance(watch, Wished)
    assert watch.wishes == {"crew"}

    watch.wish(Command("crew", "", {"heads": "4"}), 60.0, NOW_S + 60.0)

    assert watch.heads == 4
    (event,) = watch.events()
    assert event.kind is EventKind.MODE
    assert event.facts == {
        "place": "at anchor", "people": "awake", "by_hand": False, "heads": 4, "heads_before": 2,
    }  # fmt: skip
    assert list(watch.events()) == []
    changed = watch.plan()
    assert changed is not None
    assert changed.leave_by_s is not None
    assert plan.leave_by_s is not None
    assert changed.leave_by_s < plan.leave_by_s - 3 * DAY_S


@pytest.mark.parametrize("heads", [None, 0, -1, 51, 2.5, "many", True, [], float("nan")])
def test_what_is_no_number_of_people_is_refused(heads: object) -> None:
    _, _, watch = planned(boat())

    with pytest.raises(CommandError, match="whole number"):
        watch.wish(Command("crew", "", {"heads": heads}), 0.0, NOW_S)

    assert watch.heads == 2
    assert list(watch.events()) == []


def test_before_anything_was_heard_nobody_is_counted() -> None:
    with pytest.raises(CommandError):
        WaterPlanWatch(boat()).wish(Command("crew", "", {"heads": 3}), 0.0, None)


class Said:
    """A history in which the crew said two things."""

    def events(self, kind: EventKind | None, during: Interval) -> list[Dated]:
        def mode(utc_s: float, facts: dict[str, Any]) -> Dated:
            known = {"place": "at anchor", "people": "awake", "by_hand": False}
            return Dated(Event(EventKind.MODE, "boat", 1, 0.0, None, known | facts), utc_s, None)

        return [
            mode(NOW_S - 20 * DAY_S, {"heads": 5, "heads_before": 3}),
            mode(NOW_S - 15 * DAY_S, {}),
            mode(NOW_S - 10 * DAY_S, {"heads": 2, "heads_before": 5}),
        ]


def test_a_restart_finds_again_who_was_aboard_when() -> None:
    heads = heads_aboard(cast(History, Said()), NOW_S, 4)

    assert [heads(NOW_S - n * DAY_S) for n in (25, 19, 12, 5)] == [3, 5, 5, 2]


class Stored(Said):
    """The same, with 15 L a head and day for as long, and a cabin of 25 °C."""

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        return np.empty(0), np.empty(0)

    def hours(self, channel: str, during: Interval) -> list[Hour]:
        heads = heads_aboard(cast(History, self), NOW_S, 2)
        found = []
        for n in range(25 * 24):
            at_s = NOW_S - (25 * 24 - n) * HOUR_S
            mean = {"boat water used": 15.0 * heads(at_s) / 1440, "cabin temperature": 25.0}.get(channel)
            if mean is not None:
                found.append(Hour(at_s, 60, mean, mean, mean, mean * HOUR_S, HOUR_S, mean, mean))
        return found


def test_a_restart_finds_the_hours_by_the_head_and_their_air() -> None:
    """Three, five and then two people at 15 L a head: all of those days say 30 L for two."""
    settings = boat(instruments=[{"name": "cabin"}])
    desk = WaterDesk(settings, Slots(), lambda event: None, Memory({}))

    desk.prefill(cast(History, Stored()), NOW_S)

    use = desk.ahead.use
    days = use.days(NOW_S)
    assert len(days.age) == 25
    assert np.nansum(days.used, axis=1) == pytest.approx(30.0)
    assert use.coming_C(NOW_S) == pytest.approx(25.0)


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


# ---- the plan


def test_each_step_below_the_pace_of_now_has_its_days() -> None:
    """At 12 L a head careful, miserly and survival remain: 280 L last two people 280 / (2 x 10) = 14 days,
    28 and 56 (own arithmetic)."""
    plan, ahead, _ = planned(boat(), L_a_day=24.0)

    assert [s.name for s in plan.steps] == ["careful", "miserly", "survival"]
    assert [s.likely_days for s in plan.steps] == pytest.approx([14.0, 28.0, 56.0], rel=0.03)
    assert ahead.reach is not None
    now_days = ahead.reach.days(280.0, ahead.reach.cautious)
    for step in plan.steps:
        assert step.cautious_days < step.likely_days
        assert step.gained_days == pytest.approx(step.cautious_days - now_days)
    assert [s.gained_days for s in plan.steps] == sorted(s.gained_days for s in plan.steps)


def test_the_steps_are_those_of_the_published_needs() -> None:
    """Sphere: 2.5 to 3 L for drinking and food, 7.5 to 15 L for all basic needs, 15 L its minimum; WHO 20 L
    with hygiene."""
    by_name = dict(RATIONS)

    assert 2.5 <= by_name["survival"] <= 3.0
    assert 7.5 <= by_name["careful"] <= 15.0
    assert (by_name["modest"], by_name["normal"]) == (15.0, 20.0)


def test_one_leaves_so_early_that_the_reserve_is_there_on_the_cautious_day() -> None:
    plan, ahead, _ = planned(boat(limits={"run_for_water_h": 30.0}))
    assert ahead.reach is not None
    cautious = ahead.reach.days(280.0, ahead.reach.cautious)

    assert plan.leave_by_s == pytest.approx(NOW_S + cautious * DAY_S - 30 * HOUR_S)
    assert plan.refill_L == pytest.approx(100.0)
    assert plan.reason.id == "water plan: leave by"


def test_with_a_day_in_hand_one_leaves_now_and_with_months_one_need_not() -> None:
    soon, _, _ = planned(boat(), litres=45.0)
    late, _, _ = planned(boat(), L_a_day=2.0)

    assert (soon.leave_by_s, soon.reason.id) == (NOW_S, "water plan: leave now")
    assert (late.leave_by_s, late.reason.id) == (None, "water plan: no need to leave")


def test_sealed_water_is_told_and_never_counted() -> None:
    without, _, _ = planned(boat())
    sealed, _, _ = planned(boat(reserves={"water_L": 20.0, "sealed_L": 40.0}))

    assert (without.sealed_L, sealed.sealed_L) == (0.0, 40.0)
    assert sealed.leave_by_s == without.leave_by_s
    assert sealed.steps == without.steps
    assert sealed.refill_L == without.refill_L


def test_water_that_is_not_made_yet_is_not_counted() -> None:
    """A watermaker of 60 L an hour would make up for all that is used."""
    without, _, _ = planned(boat())
    maker, _, _ = planned(boat(watermakers=[{"name": "maker", "rated_L_per_h": 60.0}]))

    assert maker == without


def test_what_is_not_known_is_not_planned() -> None:
    settings = boat()
    ahead = WaterAhead(settings)
    watch = WaterPlanWatch(settings, ahead)
    assert watch.plan() is None
    watch.take(minute(None))
    list(ahead.draw(NOW_S, 0.0, None, 400.0, ANCHOR, 1))
    watch.take(minute())

    plan = watch.plan()

    assert plan is not None
    assert (plan.pace_L_a_head, plan.leave_by_s, plan.refill_L, plan.steps) == (None, None, None, ())
    assert plan.reason.id == "water plan: unknown"
    assert watch.findings() == []
    dry = WaterPlanWatch(boat(tanks=[]))
    dry.take(minute())
    assert (dry.plan(), dry.estimates()) == (None, [])


# ---- what came of it


def test_forecasts_are_kept_every_six_hours_and_followed_to_their_end() -> None:
    """280 L above the reserve at 30 L a day are used in 9.33 days, whatever is filled meanwhile."""
    settings = boat()
    ahead = WaterAhead(settings)
    lived(ahead.use, 30.0)
    kept: list[Event] = []
    told: list[Event] = []
    for n in range(4 * 10):
        now_s = NOW_S + n * 6 * HOUR_S
        kept += ahead.draw(now_s, n * 6 * HOUR_S, left(300.0), 400.0, ANCHOR, 1)
        assert list(ahead.draw(now_s, n * 6 * HOUR_S + 1800.0, left(300.0), 400.0, ANCHOR, 1)) == []
        for m in range(360):
            told += ahead.minute(now_s + 60.0 * (m + 1), 30 / 1440, 300.0)

    assert {(e.kind, e.subject) for e in kept} == {(EventKind.FORECAST, "water")}
    assert len(kept) == 40
    assert len(json.dumps(kept[0].facts)) < 1024
    assert {(e.kind, e.subject) for e in told} == {(EventKind.OUTCOME, "water")}
    assert told[0].facts["truth_days"] == pytest.approx(280 / 30, abs=0.01)
    assert told[0].facts["held"] is True
    assert ahead.hits().held == ahead.hits().forecasts == len(told) == 3
    assert len(json.dumps(WaterPlanWatch(settings, ahead).state())) < 2000


def test_a_restart_remembers_the_heads_unless_the_settings_changed() -> None:
    _, _, watch = planned(boat())
    watch.wish(Command("crew", "", {"heads": 5}), 0.0, NOW_S)
    state = json.loads(json.dumps(watch.state()))

    again = WaterPlanWatch(boat())
    again.restore(state)
    changed = WaterPlanWatch(boat(boat={"name": "Test", "crew": 3}))
    changed.restore(state)

    assert (again.heads, changed.heads) == (5, 3)


# ---- words


def test_every_plan_and_every_step_has_its_sentence() -> None:
    plans = [
        planned(boat(), litres=litres, L_a_day=L_a_day, leak_L_per_h=leak)[0]
        for litres, L_a_day, leak in (
            (300.0, 50.0, None), (45.0, 30.0, None), (300.0, 2.0, None), (300.0, 30.0, 0.5),
            (45.0, 30.0, 0.5), (300.0, 2.0, 0.01),
        )
    ]  # fmt: skip
    said = [say(plan.reason, Dress()) for plan in plans]

    assert len({plan.reason.id for plan in plans}) == 6
    for plan, text in zip(plans, said, strict=True):
        assert plan.reason.id in water_plans.SENTENCES
        assert UNKNOWN not in text
    assert {f"ration: {name}" for name, _ in RATIONS} <= set(water_plans.SENTENCES)
    assert "12 L a day" in said[3].replace("\u00a0", " ")
