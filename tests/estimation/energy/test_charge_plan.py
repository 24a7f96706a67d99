"""Must we charge today: with what, how long, beginning by when."""

import math
from array import array
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from string import Formatter
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alerts.rules import RULES
from monitor.clock import HOUR_S, Interval
from monitor.estimation.charge_plan import Way, charge_plan
from monitor.estimation.house_left import HouseLeft
from monitor.estimation.plan_watch import PlanWatch
from monitor.estimation.quiet import loud_hours
from monitor.estimation.tapering import NEARLY_FULL, added_Wh, minutes_to_add
from monitor.estimation.watcher import Heard
from monitor.records import ChargeOption, ChargePlan, Column, Course, Estimate, Flow, Mode, Reading, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

NOW_S = datetime(2026, 6, 1, 12, tzinfo=UTC).timestamp()
"""The ship's clock is UTC in these tests but for the odd nights."""
DUSK_S, DAWN_S = NOW_S + 8 * HOUR_S, NOW_S + 17 * HOUR_S
NIGHTS = ((DUSK_S - 86400, DAWN_S - 86400), (DUSK_S, DAWN_S), (DUSK_S + 86400, DAWN_S + 86400))
"""Sunset 20:00, sunrise 05:00; the noon after it is 12:30."""
QUIET_S = NOW_S + 8 * HOUR_S
"""20:00."""


def boat() -> Settings:
    return parse_settings(
        """
        [boat]
        name = "Test"
        [[banks]]
        name = "house"
        nominal_V = 12.5
        capacity_Ah = 400
        reserve_pct = 20
        [[supplies]]
        name = "shore"
        [[engines]]
        name = "main engine"
        """,
        Path(),
    )


GENERATOR = Way("generator", "generator", 600.0, True, "generator")
ALTERNATOR = Way("alternator", "alternator", 400.0, False, "main engine")
SHORE = Way("shore charger", "shore", 900.0, False, "shore charger")


def course(low_Wh: Sequence[float], above_Wh: float = 500.0, start_s: float = NOW_S) -> Course:
    """By the hour from now on."""
    times = tuple(start_s + n * HOUR_S for n in range(len(low_Wh)))
    likely = tuple(x + above_Wh for x in low_Wh)
    return Course(times, tuple(low_Wh), likely, tuple(x + above_Wh for x in likely))


def falling(from_Wh: float, a_hour_Wh: float = 100.0, hours: int = 48) -> list[float]:
    """No sun at all."""
    return [max(0.0, from_Wh - a_hour_Wh * n) for n in range(hours)]


def plan_of(low_Wh: Sequence[float], *ways: Way, now_s: float = NOW_S) -> ChargePlan:
    drawn = course(low_Wh)
    likely_Wh = float(np.interp(now_s, drawn.utc_s, drawn.likely))
    left = HouseLeft(likely_Wh - 500, likely_Wh, likely_Wh + 500, 5000.0, 1000.0)
    return charge_plan(now_s, left, drawn, NIGHTS, ways, boat(), 0.95)


def at(utc_s: float | None) -> str:
    assert utc_s is not None
    return datetime.fromtimestamp(utc_s, UTC).strftime("%H:%M")


# ---- how long it takes


def test_below_the_taper_time_is_energy_over_power() -> None:
    """Common practice for lithium: 600 Wh at 600 W take an hour, up to 95 %."""
    assert minutes_to_add(600, 1000, 5000, 600, 0.95) == pytest.approx(60.0)


def test_in_the_taper_what_is_missing_falls_off_exponentially() -> None:
    """From 95 % of 5888 Wh on at 700 W the time constant is 0.05 x 5888 / 700 = 0.4206 h: after so long
    1/e of the missing 294.4 Wh is missing still."""
    missing_Wh = 0.05 * 5888
    minutes = minutes_to_add(missing_Wh * (1 - 1 / math.e), 0.95 * 5888, 5888, 700, 0.95)

    assert minutes == pytest.approx(60 * 0.4206, abs=0.01)


@pytest.mark.parametrize(("from_Wh", "taper_share"), [(500.0, 0.8), (4200.0, 0.8), (4900.0, 0.95)])
def test_the_taper_agrees_with_the_sum_of_its_seconds(from_Wh: float, taper_share: float) -> None:
    """dE/dt = P min(1, (C - E) / (C - a C)), summed second by second."""
    held_Wh = from_Wh
    for _ in range(3 * 3600):
        held_Wh += 800 / 3600 * min(1.0, (5000 - held_Wh) / (5000 * (1 - taper_share)))
    expected_Wh = min(held_Wh, NEARLY_FULL * 5000) - from_Wh

    assert added_Wh(180, from_Wh, 5000, 800, taper_share) == pytest.approx(expected_Wh, rel=2e-3)


@given(st.floats(0, 4900), st.floats(0.01, 0.99), st.floats(50, 3000), st.floats(0.5, 0.98))
def test_minutes_and_energy_are_each_others_inverse(
    from_Wh: float, part: float, net_W: float, taper_share: float
) -> None:
    Wh = part * (NEARLY_FULL * 5000 - from_Wh)
    minutes = minutes_to_add(Wh, from_Wh, 5000, net_W, taper_share)

    assert added_Wh(minutes, from_Wh, 5000, net_W, taper_share) == pytest.approx(Wh, rel=1e-6)
    assert minutes >= 60 * Wh / net_W * (1 - 1e-9)


def test_no_bank_gets_fuller_than_full() -> None:
    assert minutes_to_add(100, 4950, 5000, 600, 0.95) == math.inf
    assert added_Wh(1e6, 4950, 5000, 600, 0.95) == pytest.approx(25.0)
    assert minutes_to_add(100, 1000, 5000, 0, 0.95) == math.inf


# ---- quiet hours


def test_quiet_over_midnight() -> None:
    """From noon to noon with quiet hours 20 to 9: eight hours, and three in the forenoon."""
    loud = loud_hours(Interval(NOW_S, NOW_S + 86400), 20, 9, ZoneInfo("UTC"))

    assert [(at(a), at(b)) for a, b in loud] == [("12:00", "20:00"), ("09:00", "12:00")]


def test_quiet_within_a_day_and_no_quiet_at_all() -> None:
    span = Interval(NOW_S, NOW_S + 86400)
    assert [(at(a), at(b)) for a, b in loud_hours(span, 1, 5, ZoneInfo("UTC"))] == [
        ("12:00", "01:00"), ("05:00", "12:00"),
    ]  # fmt: skip
    assert loud_hours(span, 7, 7, ZoneInfo("UTC")) == [span]


def test_a_span_within_the_quiet_hours_has_none() -> None:
    midnight_s = NOW_S + 12 * HOUR_S

    assert loud_hours(Interval(midnight_s, midnight_s + HOUR_S), 20, 9, ZoneInfo("UTC")) == []


def test_quiet_hours_are_the_ships_on_the_odd_night() -> None:
    """2026-10-25 in Madrid: 20:00 is 18:00 UTC before and 9:00 is 08:00 UTC after the clocks go back."""
    noon_s = datetime(2026, 10, 24, 10, tzinfo=UTC).timestamp()
    loud = loud_hours(Interval(noon_s, noon_s + 86400), 20, 9, ZoneInfo("Europe/Madrid"))

    assert [(at(a), at(b)) for a, b in loud] == [("10:00", "18:00"), ("08:00", "10:00")]


# ---- the plan


def test_a_worked_evening() -> None:
    """Cautiously 2500 Wh at noon, 100 Wh an hour: 800 Wh (16 %) at dawn 17 h later, and at the noon after
    it, 24.5 h from now, 50 Wh. 950 Wh are missing to the reserve of 1000: 95 min at 600 W, to be done
    before the quiet hours at 20:00, so beginning by 18:25. At dawn there are 1750 Wh then, 35 %."""
    plan = plan_of(falling(2500), GENERATOR)

    assert plan.needed is True
    assert plan.dawn_s == DAWN_S
    assert plan.dawn_low_pct == pytest.approx(16.0)
    assert plan.dawn_likely_pct == pytest.approx(26.0)
    (option,) = plan.options
    assert option.minutes == pytest.approx(95.0)
    assert at(option.latest_start_s) == "18:25"
    assert option.dawn_low_pct == pytest.approx(35.0)
    assert option.enough
    assert plan.reason.id == "charge: run by"


def test_it_is_enough_to_charge_before_the_reserve_is_met() -> None:
    """It is met 15 h from now at 3:00, in quiet hours for engines but not for the shore: 950 Wh at 900 W
    take 63.3 min."""
    (option,) = plan_of(falling(2500), SHORE).options

    assert option.minutes == pytest.approx(60 * 950 / 900)
    assert option.latest_start_s == pytest.approx(NOW_S + 15 * HOUR_S - 60 * 60 * 950 / 900)


def test_when_the_reserve_is_met_before_the_quiet_hours_that_counts() -> None:
    """1200 Wh and 100 an hour: the reserve is met at 14:00."""
    low_Wh = falling(1200, 100, 6) + [700.0] * 42

    (option,) = plan_of(low_Wh, GENERATOR).options

    assert option.minutes == pytest.approx(30.0)
    assert at(option.latest_start_s) == "13:30"


def test_no_engine_is_started_for_less_than_half_an_hour() -> None:
    """Common practice. 100 Wh are missing, ten minutes of 600 W: half an hour it is, and 300 Wh; the shore
    charger runs for what is missing, 6.7 min of 900 W."""
    low_Wh = falling(1400, 100, 6) + [900.0] * 42
    by = {option.source: option for option in plan_of(low_Wh, GENERATOR, SHORE).options}

    assert by["generator"].minutes == pytest.approx(30.0)
    assert by["generator"].dawn_low_pct == pytest.approx(100 * (900 + 300) / 5000)
    assert by["shore charger"].minutes == pytest.approx(60 * 100 / 900)


def test_a_window_too_short_for_a_run_is_passed_over() -> None:
    """The reserve is met at 9:06, six minutes after the quiet hours: the run is this evening's."""
    low_Wh = [3109.0 - 100 * n for n in range(22)] + [909.0] * 26

    (option,) = plan_of(low_Wh, GENERATOR).options

    assert at(option.latest_start_s) == "19:30"
    assert option.enough


def test_no_need_and_how_far_from_it() -> None:
    plan = plan_of(falling(4000), GENERATOR)

    assert plan.needed is False
    assert plan.reason.facts["margin_pct"] == pytest.approx(100 * (4000 - 2450 - 1000) / 5000)
    (option,) = plan.options
    assert (option.minutes, option.latest_start_s, option.enough) == (0.0, None, True)


def test_the_forenoon_counts_as_well_as_the_dawn() -> None:
    """At dawn 1100 Wh, above the reserve, but the sun comes late and at 9:00 there are 800."""
    low_Wh = [2800.0 - 100 * n for n in range(21)] + [1200.0 + 200 * n for n in range(27)]

    plan = plan_of(low_Wh, ALTERNATOR)

    assert plan.dawn_low_pct == pytest.approx(22.0)
    assert plan.needed is True
    assert plan.reason.facts["lowest_pct"] == pytest.approx(16.0)
    assert at(plan.reason.facts["lowest_s"]) == "08:00"
    assert plan.options[0].minutes == pytest.approx(60 * 200 / 400)


def test_what_happens_after_that_noon_is_another_days_plan() -> None:
    low_Wh = [3500.0 - 50 * n for n in range(25)] + [2300.0 - 500 * n for n in range(5)] + [0.0] * 18

    assert plan_of(low_Wh, GENERATOR).needed is False


def test_charging_before_the_sun_fills_the_bank_is_thrown_away() -> None:
    """At 10:00 the sun will fill the bank by 15:00 anyway and the night still is too long: the run comes
    after it, in the evening, not at once."""
    low_Wh = [4600.0, 4800.0, 5000.0, 5000.0, *[5000.0 - 250 * n for n in range(1, 44)]]

    (option,) = plan_of(low_Wh, GENERATOR).options

    assert option.latest_start_s is not None
    assert option.latest_start_s > NOW_S + 3 * HOUR_S


def test_already_under_the_reserve_means_now() -> None:
    plan = plan_of(falling(900, 20), GENERATOR)

    assert plan.needed is True
    assert plan.options[0].latest_start_s == NOW_S
    assert plan.options[0].enough
    assert plan.reason.id == "charge: run now"


def test_in_the_quiet_hours_only_the_shore_is_left() -> None:
    """At 22:00 cautiously 1200 Wh: the reserve is met at midnight. Engines may run from 9:00 on, after
    the dawn."""
    plan = plan_of(falling(2200), GENERATOR, SHORE, now_s=NOW_S + 10 * HOUR_S)

    by = {option.source: option for option in plan.options}
    assert by["shore charger"].enough
    assert plan.options[0].source == "shore charger"
    assert not by["generator"].enough
    assert at(by["generator"].latest_start_s) == "09:00"
    assert by["generator"].dawn_low_pct == pytest.approx(plan.dawn_low_pct)


def test_a_source_too_weak_is_not_enough_and_says_how_far_it_gets() -> None:
    """100 W from noon to 20:00 are 800 of the 950 Wh that are missing."""
    weak = Way("generator", "generator", 100.0, True, "generator")

    plan = plan_of(falling(2500), weak)

    (option,) = plan.options
    assert not option.enough
    assert option.minutes == pytest.approx(480.0)
    assert option.latest_start_s == NOW_S
    assert option.dawn_low_pct == pytest.approx(16.0 + 100 * 800 / 5000)
    assert plan.reason.id == "charge: not enough"


def test_the_quickest_that_is_enough_comes_first_and_the_shore_before_engines() -> None:
    with_shore = plan_of(falling(2500), ALTERNATOR, GENERATOR, SHORE)
    without = plan_of(falling(2500), ALTERNATOR, GENERATOR)

    assert [o.source for o in with_shore.options] == ["shore charger", "generator", "alternator"]
    assert [o.source for o in without.options] == ["generator", "alternator"]
    assert without.reason.facts["machine"] == "generator"


def test_what_is_not_enough_comes_last_even_from_the_shore() -> None:
    """50 W of a trickle charger for 15 h are 750 of the 950 Wh that are missing."""
    trickle = Way("trickle charger", "shore", 50.0, False, "trickle charger")

    assert [o.source for o in plan_of(falling(2500), trickle, GENERATOR).options] == [
        "generator", "trickle charger",
    ]  # fmt: skip


def test_nothing_to_run_is_said() -> None:
    assert plan_of(falling(2500)).reason.id == "charge: nothing to run"


def test_without_a_dawn_a_day_is_looked_at() -> None:
    """Polar night: 2500 Wh at 100 an hour, the lowest within 24 h is 100."""
    drawn = course(falling(2500))
    left = HouseLeft(2500.0, 3000.0, 3500.0, 5000.0, 1000.0)
    plan = charge_plan(NOW_S, left, drawn, ((NOW_S - 9e5, NOW_S + 9e5),), [GENERATOR], boat(), 0.95)

    assert (plan.needed, plan.dawn_s) == (True, None)
    assert plan.reason.facts["lowest_pct"] == pytest.approx(2.0)


def test_the_course_is_shifted_to_what_is_left_now() -> None:
    """200 Wh more are left than the forecast had: 750 instead of 950 Wh are missing."""
    left = HouseLeft(2700.0, 3200.0, 3700.0, 5000.0, 1000.0)
    plan = charge_plan(NOW_S, left, course(falling(2500)), NIGHTS, [GENERATOR], boat(), 0.95)

    assert plan.options[0].minutes == pytest.approx(75.0)


def test_what_is_owed_below_empty_must_be_put_in_too() -> None:
    """A forecast is cut off at 0. Cautiously 1200 Wh, empty after 12 h of 100 Wh, it would owe 1250 Wh at
    the noon after dawn, 24.5 h from now: with the reserve 2250 Wh are missing, an hour of 2250 W. At dawn
    500 Wh are owed; with the 2250 there are 1750, 35 %. 600 W give too little before 14:00."""
    low_Wh, likely_Wh = falling(1200), falling(3000)
    times = tuple(NOW_S + n * HOUR_S for n in range(48))
    drawn = Course(times, tuple(low_Wh), tuple(likely_Wh), tuple(falling(4800)))
    left = HouseLeft(1200.0, 3000.0, 4800.0, 5000.0, 1000.0)
    strong = Way("big set", "generator", 2250.0, True, "big set")

    plan = charge_plan(NOW_S, left, drawn, NIGHTS, [GENERATOR, strong], boat(), 0.95)

    assert plan.dawn_low_pct == 0.0
    first, second = plan.options
    assert (first.source, second.source) == ("big set", "generator")
    assert first.minutes == pytest.approx(60.0)
    assert first.dawn_low_pct == pytest.approx(35.0)
    assert first.enough
    assert not second.enough


def _lived(low_Wh: Sequence[float], option: ChargeOption, later_min: float = 0.0) -> float:
    """The lowest until the noon after dawn if that is done, minute by minute: the cautious course's own
    steps, the source's power with its taper, and a bank that holds 5000 Wh. An engine stops at 20:00."""
    held_Wh, lowest_Wh = low_Wh[0], low_Wh[0]
    start_s = (option.latest_start_s or 0.0) + 60 * later_min
    for n in range(int(24.5 * 60)):
        at_s = NOW_S + 60 * n
        held_Wh += (low_Wh[n // 60 + 1] - low_Wh[n // 60]) / 60
        if start_s <= at_s < start_s + 60 * option.minutes and (option.kind == "shore" or at_s < QUIET_S):
            held_Wh += option.net_W / 60 * min(1.0, (5000 - held_Wh) / 250)
        held_Wh = min(held_Wh, 5000.0)
        lowest_Wh = min(lowest_Wh, held_Wh)
    return lowest_Wh


@settings(max_examples=40)
@given(
    start_Wh=st.floats(1100, 4500),
    day_Wh=st.floats(-150, 150),
    night_Wh=st.floats(-300, -60),
    net_W=st.floats(200, 1500),
    kind=st.sampled_from(["generator", "shore"]),
)
def test_living_it_minute_by_minute_agrees(
    start_Wh: float, day_Wh: float, night_Wh: float, net_W: float, kind: str
) -> None:
    """What is called enough keeps the reserve to a minute's charging; begun half an hour later, or where
    it is not called enough, it does not. The last half hour of a taper gives next to nothing."""
    hourly = [day_Wh] * 7 + [night_Wh] * 13 + [200.0] * 6
    low_Wh = np.clip(np.cumsum([start_Wh, *hourly]), 0.0, 5000.0).tolist()
    plan = plan_of(low_Wh, Way("source", kind, net_W, True, "source"))
    (option,) = plan.options
    slack_Wh = net_W / 60 + 2.0

    if not plan.needed:
        assert min(low_Wh[:25]) >= 1000.0 - 1e-6
    elif option.enough:
        assert _lived(low_Wh, option) >= 1000.0 - slack_Wh
        tapers = start_Wh + 7 * max(0.0, day_Wh) + net_W * option.minutes / 60 > 4750
        if option.minutes > 30.5 and not tapers:
            assert _lived(low_Wh, option, later_min=30) < 1000.0 + slack_Wh
    else:
        assert _lived(low_Wh, option) < 1000.0 + slack_Wh


# ---- the watch


class Aboard:
    def __init__(self, settings: Settings | None = None, *flows: Flow) -> None:
        self.watch = PlanWatch(settings or boat(), lambda: flows)
        self.start_s = 0.0

    def minute(
        self,
        left_Wh: float | None,
        utc_s: float | None = NOW_S - 60,
        place: str = "at anchor",
        shore_V: float = 0.0,
    ) -> "Aboard":
        low_Wh, high_Wh = (None, None) if left_Wh is None else (left_Wh - 500, left_Wh + 500)
        left = Estimate("left_Wh", "house", self.start_s, left_Wh, low_Wh, high_Wh, Reason("charge counted"))
        readings = {"shore ac voltage": Reading(self.start_s, shore_V, False)} if shore_V else {}
        columns = {"house voltage": Column(array("d", [self.start_s]), array("d", [13.0]))}
        self.watch.take(
            Heard(
                self.start_s, utc_s, 1, columns, readings, Mode(place, "awake"), {("left_Wh", "house"): left}
            )
        )  # fmt: skip
        self.start_s += 60.0
        return self


SOURCES = (
    Flow("alternator", "alternator", 0.0, 0.0, 0.0, 400.0, False, True),
    Flow("generator", "generator", 0.0, 0.0, 0.0, 600.0, True, True),
    Flow("shore charger", "shore", 0.0, 0.0, 0.0, 900.0, False, True),
    Flow("panels", "sun", 0.0, 0.0, 0.0, 300.0, True, True),
    Flow("wind", "wind", 0.0, 0.0, 0.0, 300.0, True, True),
)


def test_before_anything_is_known_the_need_is_unknown() -> None:
    (finding,) = Aboard().watch.findings()

    assert (finding.rule, finding.subject) == ("charge today", "house")
    assert (finding.holds, finding.clears) == (None, None)
    assert finding.under == (("cut off", "house"), ("low voltage", "house"), ("low charge", "house"))


@pytest.mark.parametrize(("left_Wh", "utc_s"), [(None, NOW_S), (3000.0, None)])
def test_without_charge_or_clock_the_need_is_unknown(left_Wh: float | None, utc_s: float | None) -> None:
    aboard = Aboard(None, *SOURCES)
    aboard.watch.course(course(falling(2500)), NIGHTS)
    aboard.minute(left_Wh, utc_s)

    plan = aboard.watch.plan()
    assert plan is not None
    assert (plan.needed, plan.options) == (None, ())
    assert aboard.watch.findings()[0].holds is None


def test_a_forecast_hours_old_is_none() -> None:
    aboard = Aboard(None, *SOURCES)
    aboard.watch.course(course(falling(2500), start_s=NOW_S - 4 * HOUR_S), NIGHTS)

    assert aboard.minute(3000.0).watch.findings()[0].holds is None


def test_the_need_is_told_with_the_best_way() -> None:
    aboard = Aboard(None, *SOURCES)
    aboard.watch.course(course(falling(2500)), NIGHTS)
    (finding,) = aboard.minute(3000.0).watch.findings()

    assert (finding.holds, finding.clears) == (True, False)
    assert say(finding.reason, Dress()).replace("\u00a0", " ") == (
        "Cautious dawn 16 %, lowest 1 % about Tue 12:30: run the generator 1 h 35 min, starting by Mon 18:25."
    )
    assert RULES["charge today"].follows


def test_the_engine_is_named_for_its_alternator() -> None:
    aboard = Aboard(None, SOURCES[0])
    aboard.watch.course(course(falling(2500)), NIGHTS)

    assert "run the main engine" in say(aboard.minute(3000.0).watch.findings()[0].reason, Dress())


def test_it_clears_with_a_margin() -> None:
    """Between the reserve and 2 % above it neither begins nor ends."""
    for above_Wh, expected in ((50.0, (False, False)), (150.0, (False, True)), (-50.0, (True, False))):
        aboard = Aboard(None, *SOURCES)
        aboard.watch.course(course([1000.0 + above_Wh] * 48), NIGHTS)
        (finding,) = aboard.minute(1500.0 + above_Wh).watch.findings()
        assert (finding.holds, finding.clears) == expected


def test_the_shore_is_proposed_only_where_it_is() -> None:
    anchored, live, alongside = (Aboard(None, *SOURCES) for _ in range(3))
    for aboard in (anchored, live, alongside):
        aboard.watch.course(course(falling(2500)), NIGHTS)
    anchored.minute(3000.0)
    live.minute(3000.0, shore_V=230.0)
    alongside.minute(3000.0, place="alongside")

    def offered(aboard: Aboard) -> set[str]:
        plan = aboard.watch.plan()
        return set() if plan is None else {option.kind for option in plan.options}

    assert offered(anchored) == {"alternator", "generator"}
    assert offered(live) == offered(alongside) == {"alternator", "generator", "shore"}


def test_a_boat_without_a_house_bank_has_no_plan() -> None:
    bare = parse_settings('[boat]\nname = "Test"', Path())
    aboard = Aboard(bare).minute(None)

    assert aboard.watch.findings() == []
    assert aboard.watch.plan() is None


def test_a_new_boot_forgets_the_forecast() -> None:
    aboard = Aboard(None, *SOURCES)
    aboard.watch.course(course(falling(2500)), NIGHTS)
    aboard.minute(3000.0).watch.new_boot()

    assert aboard.minute(3000.0).watch.findings()[0].holds is None


@pytest.mark.parametrize("low_Wh", [800, 1100, 1500, 2500, 4500])
@pytest.mark.parametrize("ways", [(), (SHORE,), (GENERATOR, ALTERNATOR)])
def test_every_plan_can_be_read(low_Wh: float, ways: Sequence[Way]) -> None:
    for now_s in (NOW_S, NOW_S + 10 * HOUR_S):
        reason = plan_of(falling(low_Wh, 60), *ways, now_s=now_s).reason
        for id in (reason.id, f"alert: {reason.id}"):
            fields = {name for _, name, _, _ in Formatter().parse(SENTENCES[id]) if name}
            assert fields <= reason.facts.keys()
            assert UNKNOWN not in say(Reason(id, reason.facts), Dress())
