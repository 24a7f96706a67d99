"""The nights of the load model against its own table.

Richardson, Thomson, Infield and Clifford, Energy and Buildings 42 (2010); the table is that of richardsonpy
0.2.3, `inputs/Appliances.csv`. An appliance's power is drawn once from a normal distribution of a tenth of
the table's; what changes with a minute does so at some second of it.
"""

from itertools import pairwise

import numpy as np
import pytest

from tests.proof.appliances.nights import COLD, HOUSEHOLDS, NIGHTS, SECONDS, VOLTS, Night

CYCLES_A_YEAR, YEAR_MIN = 6115.76, 365 * 24 * 60
COLD_TABLE = {
    "Chest freezer": (190, 14, 56),
    "Fridge freezer": (190, 22, 44),
    "Refrigerator": (110, 18, 36),
    "Upright freezer": (155, 20, 40),
}
"""Watts, minutes of a run, minutes before it may run again."""
ALL = [[Night(household, number) for number in range(NIGHTS)] for household in range(HOUSEHOLDS)]


def _owners(name: str) -> list[list[Night]]:
    return [nights for nights in ALL if any(run.name == name for night in nights for run in night.runs)]


def test_the_tables_refrigerator_is_the_published_one() -> None:
    """6115.76 runs of 18 min at 110 W a year: 20.9 % of the time, 23.0 W, 201.8 kWh; never more than 18 of
    54 min."""
    watts, run_min, rest_min = COLD_TABLE["Refrigerator"]
    duty = CYCLES_A_YEAR * run_min / YEAR_MIN

    assert duty == pytest.approx(0.209, abs=5e-4)
    assert duty * watts == pytest.approx(23.0, abs=0.05)
    assert duty * watts * 8.76 == pytest.approx(201.8, abs=0.1)
    assert duty < run_min / (run_min + rest_min) == pytest.approx(1 / 3)


@pytest.mark.parametrize("name", COLD)
def test_what_keeps_food_cold_runs_and_rests_as_the_table_says(name: str) -> None:
    """A run lasts the table's minutes, a rest at least them, to the drawn seconds; its power is the same in
    every run of a household, and that of the table to four of its standard deviations."""
    watts, run_min, rest_min = COLD_TABLE[name]
    for nights in _owners(name):
        assert len({run.watts for night in nights for run in night.runs if run.name == name}) == 1
        for night in nights:
            runs = [run for run in night.runs if run.name == name]
            whole = [run for run in runs if run.start > 0 and run.end < SECONDS]
            lengths = np.array([run.end - run.start for run in whole]) / 60
            rests = np.array([b.start - a.end for a, b in pairwise(runs)]) / 60
            assert lengths == pytest.approx(run_min, abs=1)
            assert rests.min() > rest_min - 1
            assert runs[0].watts == pytest.approx(watts, rel=0.4)


@pytest.mark.parametrize("name", COLD)
def test_what_keeps_food_cold_is_on_for_the_tables_share_of_the_time(name: str) -> None:
    """The wait after a rest is exponential, so that a cycle varies by the wait's own mean: to four standard
    deviations of the mean of as many cycles."""
    _, run_min, rest_min = COLD_TABLE[name]
    cycle_min = YEAR_MIN / CYCLES_A_YEAR
    duty = run_min / cycle_min
    nights = [night for owner in _owners(name) for night in owner]
    cycles = len(nights) * SECONDS / 60 / cycle_min
    spread = (cycle_min - run_min - rest_min) / cycle_min / np.sqrt(cycles)

    on = np.mean([(night.watts(name) > 0).mean() for night in nights])

    assert on == pytest.approx(duty, rel=4 * spread)


def test_a_kettle_boils_for_three_minutes_while_people_are_up() -> None:
    """The table: 2000 W for 3 min. It goes by the people who are up: more than half of its uses lie before
    midnight or after six."""
    runs = [run for nights in ALL for night in nights for run in night.runs if run.name == "Kettle"]
    up = [run for run in runs if run.start < 8 * 3600 or run.start > 14 * 3600]

    assert np.median([run.end - run.start for run in runs]) == pytest.approx(180, abs=20)
    assert np.median([run.watts for run in runs]) == pytest.approx(2000, rel=0.1)
    assert len(up) > len(runs) / 2


def test_every_household_keeps_food_cold_and_what_is_on_adds_up() -> None:
    for nights in ALL:
        night = nights[-1]
        names = {run.name for run in night.runs}
        assert names & set(COLD)
        parts = sum((night.watts(name) for name in names), np.full(SECONDS, night.standing_W))
        assert np.array_equal(parts, night.total_W)


def test_what_is_reported_is_what_was_drawn_to_noise_and_step() -> None:
    """0.06 A of noise and steps of 0.1 A: their standard deviations add as squares (a step's is its width
    over the root of twelve); the sign is that of a bank that gives."""
    night = ALL[4][2]
    off = night.amps + night.total_W / VOLTS

    assert np.abs(night.amps * 10 - np.round(night.amps * 10)).max() < 1e-9
    assert off.mean() == pytest.approx(0, abs=0.002)
    assert off.std() == pytest.approx(np.hypot(0.06, 0.1 / np.sqrt(12)), rel=0.05)
