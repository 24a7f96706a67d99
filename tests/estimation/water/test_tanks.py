"""What is left in a tank: calm, rolling, heeled, stuck, silent, and while it is filled."""

from array import array
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.tanks import TankLevel
from monitor.estimation.tanks_in_use import mark_stuck
from monitor.records import Column, Event, EventKind
from monitor.settings import Tank

TANK = Tank(name="midship", capacity_L=200, unusable_L=10, sounding=[(0, 0), (50, 80), (100, 200)])
MINUTE = 60.0


def minute(n: int, *readings: float) -> Column:
    """Readings spread over minute `n`."""
    times = [n * MINUTE + k * MINUTE / len(readings) for k in range(len(readings))]
    return Column(array("d", times), array("d", readings))


def watch(level: TankLevel, readings: list[float], start: int = 0, heel: float | None = None) -> list[Event]:
    """One steady reading a minute."""
    told = []
    for n, reading in enumerate(readings, start):
        told += level.take(minute(n, *[reading] * 6), None if heel is None else minute(n, heel))
    return told


def figures(level: TankLevel, at_minute: float) -> tuple[float, float, float, str]:
    (e,) = level.estimates(at_minute * MINUTE)
    assert e.value is not None
    assert e.low is not None
    assert e.high is not None
    return e.value, e.low, e.high, e.reason.id


def test_the_usable_litres_are_those_above_the_bottom() -> None:
    """By hand: 75 % lies half way between 80 and 200 L: 140 L, less the unusable 10."""
    level = TankLevel(TANK)
    watch(level, [75.0] * 5)

    value, low, high, reason = figures(level, 5)

    assert value == pytest.approx(130)
    assert 120 < low < 130 < high < 140
    assert reason == "tank level"


def test_nothing_heard_is_not_nothing_left() -> None:
    (e,) = TankLevel(TANK).estimates(0)

    assert (e.value, e.low, e.high, e.reason.id) == (None, None, None, "tank never heard")


def test_an_empty_tank_is_never_less_than_empty() -> None:
    level = TankLevel(TANK)
    watch(level, [2.0] * 5)

    assert figures(level, 5)[:2] == (0.0, 0.0)


def test_slosh_of_half_a_per_cent_is_calmed_to_a_tenth() -> None:
    """40 samples a minute, 15 minutes of a trimmed mean: far below a tenth (central limit)."""
    rng, level = Random(2), TankLevel(TANK)
    for n in range(15):
        level.take(minute(n, *[rng.gauss(60.0, 0.5) for _ in range(40)]))

    assert figures(level, 15)[0] == pytest.approx(80 + 0.2 * 120 - 10, abs=0.1 * 2.4)


def test_a_heeled_boat_holds_the_level_and_says_so() -> None:
    level = TankLevel(TANK)
    watch(level, [75.0] * 5)
    watch(level, [62.0] * 30, start=5, heel=-12.0)
    level.pumped(6.0)

    value, low, high, reason = figures(level, 35)

    assert reason == "tank held for heel"
    assert value == pytest.approx(124)
    assert low <= value <= high
    assert high >= 130


def test_a_swinging_level_is_held() -> None:
    level = TankLevel(TANK)
    watch(level, [75.0] * 5)
    for n in range(5, 15):
        level.take(minute(n, *[70.0, 81.0, 68.0, 82.0, 69.0, 80.0] * 4))

    value, *_, reason = figures(level, 15)

    assert reason == "tank held for slosh"
    assert value == pytest.approx(130)


def test_a_silent_sender_leaves_the_last_level_less_what_was_pumped() -> None:
    level = TankLevel(TANK)
    watch(level, [75.0] * 5)
    level.pumped(30.0, among=2)

    value, low, _, reason = figures(level, 60)

    assert reason == "tank sender silent"
    assert value == pytest.approx(115), "half of it, where two tanks share the pump"
    assert low <= 100, "all of it may have been this one's"


def test_a_sender_that_stands_still_while_the_pump_moves_a_twentieth_is_stuck() -> None:
    level = TankLevel(TANK)
    for n in range(12):
        watch(level, [75.0], start=n)
        mark_stuck([level])
        assert figures(level, n + 1)[3] == "tank level", n
        assert figures(level, n + 1)[1] <= 130 - n * 0.9, "what has gone unseen is in the band"
        level.pumped(0.9)
    watch(level, [75.0], start=12)
    mark_stuck([level])

    value, low, _, reason = figures(level, 13)

    assert reason == "tank sender stuck"
    assert value == pytest.approx(130 - 12 * 0.9)
    assert low < value


def test_a_stuck_sender_that_moves_again_is_believed_again() -> None:
    level = TankLevel(TANK)
    watch(level, [75.0] * 3)
    level.pumped(20.0)
    watch(level, [75.0] * 3, start=3)
    mark_stuck([level])
    assert level.stuck

    watch(level, [66.0] * 5, start=6)
    mark_stuck([level])

    value, *_, reason = figures(level, 11)
    assert reason == "tank level"
    assert value == pytest.approx(80 + 16 / 50 * 120 - 10, abs=0.5)


def test_a_tank_that_is_not_in_use_is_not_stuck() -> None:
    """The other tank of the pump falls for what is pumped: this one's valve is shut."""
    shut, used = TankLevel(TANK), TankLevel(TANK)
    for n in range(60):
        watch(shut, [75.0], start=n)
        watch(used, [75.0 - n / 1.2 / 2.4], start=n)
        mark_stuck([shut, used])
        for level in (shut, used):
            level.pumped(0.83, among=2)

    assert not shut.stuck
    assert not used.stuck
    assert figures(shut, 60)[0] == pytest.approx(130)
    assert (shut.share, used.share) == (0.0, 1.0)


def test_filling_is_told_once_with_its_litres() -> None:
    """By hand: 50 % to 80 % of this tank is 80 to 152 L."""
    level = TankLevel(TANK)
    rising = [50.0 + 3.0 * n for n in range(1, 11)]

    told = watch(level, [50.0] * 10 + rising + [80.0] * 20)

    (event,) = told
    assert (event.kind, event.subject) == (EventKind.FILL, "midship")
    assert event.facts["litres"] == pytest.approx(72, abs=2)
    assert event.facts["to_L"] == pytest.approx(142, abs=2)
    assert 9 * MINUTE <= event.start_s <= 12 * MINUTE
    assert event.end_s is not None
    assert 18 * MINUTE <= event.end_s <= 21 * MINUTE
    assert figures(level, 40)[0] == pytest.approx(142, abs=1)


def test_the_level_follows_while_a_tank_is_filled() -> None:
    level = TankLevel(TANK)
    watch(level, [50.0] * 10 + [50.0 + 3.0 * n for n in range(1, 9)])

    assert figures(level, 18)[0] == pytest.approx(80 + 24 / 50 * 120 - 10, abs=4)


def test_a_wave_of_two_minutes_is_no_fill() -> None:
    level = TankLevel(TANK)

    assert watch(level, [50.0] * 10 + [56.0] * 2 + [50.0] * 30) == []


def test_a_shower_is_seen_within_minutes() -> None:
    level = TankLevel(TANK)
    watch(level, [75.0] * 20 + [70.0] * 3)

    assert figures(level, 23)[0] == pytest.approx(80 + 20 / 50 * 120 - 10, abs=0.5)


def test_a_restart_keeps_the_level_as_an_old_one() -> None:
    level, again = TankLevel(TANK), TankLevel(TANK)
    watch(level, [75.0] * 5)

    again.restore(level.state())

    value, *_, reason = figures(again, 0)
    assert value == pytest.approx(130)
    assert reason == "tank sender silent"


readings = st.lists(st.one_of(st.floats(-2, 105), st.just(float("nan"))), min_size=1, max_size=12)


@given(st.lists(st.tuples(readings, st.floats(0, 20), st.floats(-40, 40)), max_size=40))
def test_the_figure_stays_in_its_band_and_in_the_tank(story: list[tuple[list[float], float, float]]) -> None:
    level = TankLevel(TANK)
    for n, (values, litres, heel) in enumerate(story):
        level.take(minute(n, *values), minute(n, heel))
        level.pumped(litres)
        mark_stuck([level])
        (e,) = level.estimates((n + 1) * MINUTE)
        if e.value is not None:
            assert e.low is not None
            assert e.high is not None
            assert 0 <= e.low <= e.value <= e.high <= 190 + 1e-9
