"""The scoring on nights of a few steps, worked by hand."""

import math

import numpy as np
import pytest

from monitor.clock import Interval
from tests.estimation.loads.nights import lives
from tests.estimation.loads.scoring import (
    by_runs,
    by_seconds,
    energy_error,
    rightly,
    standing_over,
    whose,
    wrongly,
)

DURING = Interval(1000.0, 1100.0)
TRUTH = {
    "fridge": np.array([50.0, 50.0, 0.0, 0.0]),
    "lamp": np.array([0.0, 10.0, 10.0, 0.0]),
    "standing": np.full(4, 10.0),
    "inverter": np.array([0.0, 0.0, 10.0, 10.0]),
}
"""100 of the fridge, 20 of the lamp, 40 standing, 20 of the inverter: 180 in all."""


def test_a_perfect_account_is_wholly_right() -> None:
    named = {name: TRUTH[name] for name in ("fridge", "lamp")}
    standing = TRUTH["standing"] + TRUTH["inverter"]

    assert rightly(named, standing, TRUTH) == pytest.approx(1)
    assert wrongly(named, TRUTH) == standing_over(named, standing, TRUTH) == 0

    named["inverter"] = TRUTH["inverter"]
    assert rightly(named, TRUTH["standing"], TRUTH) == pytest.approx(1)
    assert rightly(named, standing, TRUTH) == pytest.approx(1), "an inverter is not counted twice"
    assert standing_over(named, standing, TRUTH) == pytest.approx(20 / 180)


def test_shares_by_hand() -> None:
    """The fridge is told at 45 W, a step too long; the lamp is left in the standing load."""
    named = {"fridge": np.array([45.0, 45.0, 45.0, 0.0])}
    standing = np.array([10.0, 20.0, 25.0, 15.0])

    # Right: 45 + 45 of the fridge; 10 + 10 + 20 + 15 standing. Wrong: 45. Too much standing: 10 + 5.
    assert rightly(named, standing, TRUTH) == pytest.approx(145 / 180)
    assert wrongly(named, TRUTH) == pytest.approx(45 / 180)
    assert standing_over(named, standing, TRUTH) == pytest.approx(15 / 180)
    assert energy_error(named["fridge"], TRUTH["fridge"]) == pytest.approx(0.35)


def test_what_another_took_is_wrong() -> None:
    named = {"lamp": TRUTH["fridge"], "fridge": np.zeros(4), "stove": np.array([0.0, 0.0, 0.0, 5.0])}

    # Lamp: 50 + 40 are not its own, 10 are; the stove is nobody's.
    assert rightly(named, np.zeros(4), TRUTH) == pytest.approx(10 / 180)
    assert wrongly(named, TRUTH) == pytest.approx(95 / 180)
    assert energy_error(named["fridge"], TRUTH["fridge"]) == -1
    assert math.isnan(energy_error(named["fridge"], np.zeros(4)))


def test_on_and_off_by_the_second() -> None:
    """20 s true, 20 s found, 10 s of them common: precision and recall a half each."""
    true, found = ((1010.0, 1030.0),), ((1020.0, 1040.0),)

    assert by_seconds(found, true, DURING) == pytest.approx(0.5)
    assert by_seconds(true, true, DURING) == 1
    assert by_seconds((), true, DURING) == 0
    assert by_seconds((), (), DURING) == 1
    assert by_seconds(((900.0, 1030.0),), ((0.0, 1030.0),), DURING) == 1, "what lies outside is not asked"


def test_runs_are_found_one_by_one() -> None:
    true = ((1010.0, 1013.0), (1020.0, 1023.0), (1040.0, 1043.0))

    assert by_runs(((1013.9, 1015.0), (1021.0, 1022.0), (1040.0, 1043.0)), true, DURING) == 1
    # One long run finds one of three: 2 · 1 / (1 + 3).
    assert by_runs(((1005.0, 1045.0),), true, DURING) == pytest.approx(0.5)
    # One found beside two that are none: 2 · 1 / (3 + 3).
    assert by_runs(((1010.0, 1013.0), (1030.0, 1031.0), (1060.0, 1061.0)), true, DURING) == pytest.approx(
        1 / 3
    )
    assert by_runs(((1014.5, 1015.0),), true, DURING) == 0
    assert by_runs((), (), DURING) == 1


def test_a_run_is_whose_it_is_most_like() -> None:
    night = lives(2).night(0)

    for name, runs in night.runs.items():
        assert all(whose((a + 0.5, b - 0.25), night.runs, 1.0) == name for a, b in runs)
    assert whose((night.start_s - 500, night.start_s - 400), night.runs, 1.0) == ""
    assert whose((night.start_s, night.start_s + 5 * 3600), {"pump": night.runs["pump"]}, 1.0) == ""


def test_the_true_night_scores_whole() -> None:
    night = lives(9).night(3)
    truth = night.truth
    named = {name: watts for name, watts in truth.items() if name != "standing"}

    assert rightly(named, truth["standing"], truth) == pytest.approx(1)
    assert by_runs(night.runs["pump"], night.runs["pump"], night.during) == 1
    assert by_seconds(night.runs["fridge"], night.runs["fridge"], night.during) == 1
