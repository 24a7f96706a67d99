"""Litres by the hour: what goes in comes out once, from runs or from falls."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import HOUR_S
from monitor.estimation.water_use import WaterHours


def test_a_run_over_the_full_hour_is_shared_between_both() -> None:
    hours = WaterHours(with_pump=True)

    hours.pumped(HOUR_S - 30, HOUR_S + 10, 8.0)

    first, second = hours.drain()
    assert (first.hour_utc_s, second.hour_utc_s) == (0, HOUR_S)
    assert first.litres == pytest.approx(6.0)
    assert second.litres == pytest.approx(2.0)


def test_each_piece_is_handed_out_once() -> None:
    hours = WaterHours(with_pump=True)
    hours.pumped(10, 20, 1.0)

    assert len(hours.drain()) == 1
    assert hours.drain() == []


def test_minutes_in_which_the_pump_was_not_heard_are_not_covered() -> None:
    hours = WaterHours(with_pump=True)
    for n in range(1, 61):
        hours.minute(60.0 * n, pump_heard=n <= 40, tanks_L=100.0 - n)

    (part,) = hours.drain()
    assert (part.litres, part.covered_s) == (0.0, 2400.0)


def test_without_a_pump_the_tanks_falls_count_and_fills_do_not() -> None:
    """By hand: 100 to 90, held, 85, filled to 150, 147: 10 + 5 + 3 L."""
    hours = WaterHours(with_pump=False)
    levels = [100.0, 95.0, 90.0, None, None, 85.0, 150.0, 147.0]

    for n, tanks_L in enumerate(levels, 1):
        if tanks_L == 150.0:
            hours.filled()
        hours.minute(60.0 * n, pump_heard=False, tanks_L=tanks_L)

    (part,) = hours.drain()
    assert part.litres == pytest.approx(18.0)
    assert part.covered_s == 6 * 60.0


@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(0, 4000), st.floats(0, 50)), max_size=30))
def test_no_litre_is_lost_or_made(runs: list[tuple[float, float, float]]) -> None:
    hours = WaterHours(with_pump=True)

    for start_s, seconds, litres in runs:
        hours.pumped(start_s, start_s + seconds, litres)

    assert sum(part.litres for part in hours.drain()) == pytest.approx(sum(r[2] for r in runs), abs=1e-6)


@given(st.lists(st.floats(0, 400), min_size=1, max_size=50))
def test_use_is_never_negative(levels: list[float]) -> None:
    hours = WaterHours(with_pump=False)

    for n, tanks_L in enumerate(levels):
        hours.minute(60.0 * n, pump_heard=False, tanks_L=tanks_L)

    parts = hours.drain()
    assert all(part.litres >= 0 for part in parts)
    assert sum(part.litres for part in parts) >= levels[0] - levels[-1] - 1e-6
