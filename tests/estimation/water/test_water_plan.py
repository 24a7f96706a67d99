"""The plan of water: who is aboard, steps of saving, the latest day to leave, what came of forecasts."""

import json
from typing import Any, cast

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import CommandError
from monitor.estimation.watcher import Wished
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_plan import RATIONS, WaterPlanWatch
from monitor.estimation.water_reach import Floats
from monitor.pipeline.heads import heads_aboard
from monitor.pipeline.memory import Memory
from monitor.pipeline.water import WaterDesk
from monitor.records import Command, Event, EventKind
from monitor.routing.slots import Slots
from monitor.storage.history import Dated, History
from monitor.storage.series import Hour
from monitor.words import water_plans
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress
from tests.estimation.water.planning import ANCHOR, NOW_S, boat, left, lived, minute, planned

# ---- heads


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


def test_litres_a_head_are_by_those_who_were_aboard() -> None:
    """15 L a head and day, whoever was aboard; three are set as the crew, two have been there of late."""
    desk = WaterDesk(boat(boat={"name": "Test", "crew": 3}), Slots(), lambda event: None, Memory({}))

    desk.prefill(cast(History, Stored()), NOW_S)
    desk.minute({}, 0.0, NOW_S, ANCHOR)

    (a_head,) = [e for e in desk.estimates() if e.name == "water_L_a_head"]
    assert a_head.value == pytest.approx(15.0)
    assert a_head.reason.facts["days"] == 7
    assert UNKNOWN not in say(a_head.reason, Dress())


def test_the_reserve_goes_by_the_heads_aboard_and_is_drawn_anew_when_they_change() -> None:
    """Of 400 L a tenth, 40 L, for two; 9 L a head, 72 L, for eight: 300 L less that lie above it. At 30 L
    a day by two, 120 L by eight: (300 - 72) / 120 = 1.9 days."""
    settings = boat(reserves={})
    desk = WaterDesk(settings, Slots(), lambda event: None, Memory({}))
    watch = WaterPlanWatch(settings, desk.ahead)
    watch.take(minute())
    lived(desk.ahead.use, 30.0)
    list(desk.ahead.draw(NOW_S, 0.0, left(300.0), 400.0, ANCHOR, 1))
    ebb = desk.ebb()
    assert ebb is not None
    assert (ebb.reserve, desk.ahead.above_L) == (40.0, 260.0)

    watch.wish(Command("crew", "", {"heads": 8}), 60.0, NOW_S)

    ebb, drawn = desk.ebb(), desk.ahead.drawn
    assert ebb is not None
    assert drawn is not None
    assert (ebb.reserve, desk.ahead.above_L) == (72.0, 228.0)
    assert drawn.likely_days == pytest.approx(1.9, rel=0.03)


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
