"""The yardstick of load naming, by hand and against trying every combination."""

import itertools

import numpy as np
import pytest

from tests.proof.combinatorial import nearest


def test_the_nearest_combination_is_the_one_found_by_hand() -> None:
    """Loads of 40, 60 and 150 W above 5 W standing: 107 W is 40 + 60 and 2 W over; 50 W lies 5 W above
    the 40; 160 W nearest to the 150 alone; 255 W is all; nothing heard is nothing on."""
    total = np.array([5.0, 107.0, 50.0, 160.0, 255.0, np.nan])

    on = nearest(total, 5.0, [40.0, 60.0, 150.0])

    assert on.T.tolist() == [
        [False, False, False],
        [True, True, False],
        [True, False, False],
        [False, False, True],
        [True, True, True],
        [False, False, False],
    ]


def test_of_two_ways_to_the_same_power_the_fewer_loads_are_on() -> None:
    assert nearest(np.array([100.0]), 0.0, [40.0, 60.0, 100.0])[:, 0].tolist() == [False, False, True]


def test_no_combination_lies_nearer() -> None:
    """Eight loads and 500 powers, against trying all 256."""
    rng = np.random.default_rng(5)
    loads = rng.uniform(5, 300, 8)
    total, standing = rng.uniform(0, 1500, 500), rng.uniform(0, 40, 500)
    every = np.array([sum(c) for n in range(9) for c in itertools.combinations(loads, n)])
    least = np.abs(total - standing - every[:, None]).min(axis=0)

    on = nearest(total, standing, loads.tolist())

    assert np.abs(total - standing - loads @ on) == pytest.approx(least)


def test_without_loads_there_is_nothing_to_be_on() -> None:
    assert nearest(np.ones(3), 0.0, []).shape == (0, 3)


def test_more_loads_than_the_yardstick_is_meant_for_are_refused() -> None:
    with pytest.raises(ValueError, match="9 loads"):
        nearest(np.ones(3), 0.0, [1.0] * 9)
