"""Cumulative sums against published run lengths; the band of a rate against published quantiles."""

from math import erf, exp, sqrt
from random import Random
from statistics import mean

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.poisson import climb, rate_band

REFERENCE, LIMIT = 0.5, 5.0


def run_length(rng: Random, shift: float) -> int:
    """Two-sided, of normal observations, by the code under test."""
    up = down = 0.0
    steps = 0
    while max(up, down) < LIMIT:
        x = rng.gauss(shift, 1.0)
        up, down = climb(up, x - REFERENCE), climb(down, -x - REFERENCE)
        steps += 1
    return steps


def markov_chain_arl(shift: float, states: int = 200) -> float:
    """One side, by the Markov chain of Brook and Evans, Biometrika 59 (1972) 539."""
    width = 2 * LIMIT / (2 * states - 1)

    def below(x: float) -> float:
        return 0.5 * (1 + erf((x + REFERENCE - shift) / sqrt(2)))

    move = np.empty((states, states))
    for i in range(states):
        move[i, 0] = below(width / 2 - i * width)
        for j in range(1, states):
            move[i, j] = below((j - i + 0.5) * width) - below((j - i - 0.5) * width)
    return float(np.linalg.solve(np.eye(states) - move, np.ones(states))[0])


def two_sided(shift: float) -> float:
    return 1 / (1 / markov_chain_arl(shift) + 1 / markov_chain_arl(-shift))


def siegmund_arl(shift: float) -> float:
    """One side, Siegmund, "Sequential Analysis" (1985): b = h + 1.166, d = shift - k."""
    b, d = LIMIT + 1.166, shift - REFERENCE
    return (exp(-2 * d * b) + 2 * d * b - 1) / (2 * d * d)


# The textbook figures for k = 0.5 and h = 5, from memory: 465 in control, 10.4 at a shift of one
# sigma. The chain and Siegmund's approximation, worked out here, stand beside them.
@pytest.mark.parametrize(("shift", "published", "runs"), [(0.0, 465, 900), (1.0, 10.4, 4000)])
def test_run_lengths_of_a_plain_cusum(shift: float, published: float, runs: int) -> None:
    rng = Random(5)

    measured = mean(run_length(rng, shift) for _ in range(runs))

    assert two_sided(shift) == pytest.approx(published, rel=0.01)
    assert 1 / (1 / siegmund_arl(shift) + 1 / siegmund_arl(-shift)) == pytest.approx(published, rel=0.03)
    # One sigma of the mean is about 3 % in control (run lengths are geometric), 1 % out of it.
    assert measured == pytest.approx(published, rel=0.1 if shift == 0 else 0.03)


# Chi-square points at 5 and 95 %, half of them (Garwood's interval); printed tables, from memory:
# chi²(2) 5.991, chi²(10) 3.940 and 18.307 at 12: 21.026, chi²(20) 10.851, chi²(22) 33.924.
@pytest.mark.parametrize(
    ("events", "low", "high"), [(0, 0.0, 2.996), (5, 1.970, 10.513), (10, 5.425, 16.962)]
)
def test_the_band_of_a_rate_is_garwoods(events: int, low: float, high: float) -> None:
    found_low, found_high = rate_band(events, 1.0)

    assert found_low == pytest.approx(low, rel=0.03)
    assert found_high == pytest.approx(high, rel=0.03)


@given(st.integers(0, 500), st.floats(0.1, 1000))
def test_the_band_holds_the_plain_rate(events: int, hours: float) -> None:
    low, high = rate_band(events, hours)

    assert low <= events / hours < high
