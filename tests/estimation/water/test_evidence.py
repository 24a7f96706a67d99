"""Evidence of lone refills, by hand and against a simulation of its own model."""

from math import exp, log, pi, sqrt
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.evidence import SIGMA, STARTS_PER_H, WIDE, RefillSums, Rest

NEAR_ONE = int(np.abs(STARTS_PER_H - 1.0).argmin())
RATE = float(STARTS_PER_H[NEAR_ONE])


def test_a_refill_on_time_pays_what_the_formula_says() -> None:
    """By hand: l_0 = 0.02/h, T = 1/rate, p = 0: density rate (0.8/(sigma sqrt(2 pi)) + 0.2/0.55),
    S = 0.8/2 + 0.2 (1.25 - 1)/0.55."""
    sums = RefillSums()

    sums.refill(Rest(1 / RATE), 0.02)

    density = RATE * ((1 - WIDE) / (SIGMA * sqrt(2 * pi)) + WIDE / 0.55)
    chance = (1 - WIDE) / 2 + WIDE * 0.25 / 0.55
    assert sums.sums[NEAR_ONE] == pytest.approx(log((0.02 * chance + density) / 0.02), rel=1e-3)


def test_a_refill_far_too_soon_pays_only_for_the_draw_that_may_have_hastened_it() -> None:
    """By hand: at half its time, p = 0.2: (0.02 S + 0.2 rate) / (0.02 S_0), S = 1 - 0.2/4."""
    sums = RefillSums()

    sums.refill(Rest(0.5 / RATE, drawn=0.2), 0.02)

    assert sums.sums[NEAR_ONE] == pytest.approx(log((0.02 * 0.95 + 0.2 * RATE) / 0.02), rel=0.01)


def test_a_refill_that_a_heater_explains_pays_next_to_nothing() -> None:
    sums, plain = RefillSums(), RefillSums()

    sums.refill(Rest(5.0, taken=0.97, taken_sd=0.1, taken_per_h=0.2), 0.02)
    plain.refill(Rest(5.0), 0.02)

    assert sums.sums.max() < 0.7
    assert plain.sums.max() > 3.0


def test_waiting_costs_and_a_long_rest_refutes() -> None:
    sums = RefillSums()
    sums.refill(Rest(1 / RATE), 0.02)
    before = float(sums.sums[NEAR_ONE])

    waited = sums.now(Rest(0.9 / RATE))
    assert 0 < waited[NEAR_ONE] < before
    assert sums.now(Rest(1.3 / RATE))[NEAR_ONE] == 0.0
    assert sums.sums[NEAR_ONE] == before, "only looked at"

    sums.ended(Rest(1.3 / RATE))
    assert sums.sums[NEAR_ONE] == 0.0


def test_the_plain_likelihood_ratio_averages_to_one_without_a_leak() -> None:
    """Wald's identity: E[exp(LLR)] = 1 under no leak. Innocent refills come as a Poisson process, and a
    rest is broken by draws as another; steps are not clipped at 0 here, by starting high."""
    rng, innocent, draws = Random(8), 0.3, 0.4
    ratios = []
    for _ in range(4000):
        sums = RefillSums()
        sums.sums += 50.0
        sums.events += 1
        sums.stirred = True
        lone_h, drawn_h = rng.expovariate(innocent), rng.expovariate(draws)
        if lone_h < drawn_h:
            sums.refill(Rest(lone_h), innocent)
        else:
            sums.ended(Rest(drawn_h))
        total = float(sums.sums[NEAR_ONE])
        ratios.append(exp(total - 50.0) if total else 0.0)

    # Four sigma of the mean; the logistic for the normal tail is worth a per cent or two.
    spread = float(np.std(ratios)) / sqrt(len(ratios))
    assert float(np.mean(ratios)) == pytest.approx(1.0, abs=4 * spread + 0.03)


@given(st.lists(st.tuples(st.floats(0.01, 5), st.floats(0, 1), st.booleans()), max_size=40))
def test_sums_stay_finite_and_never_negative(story: list[tuple[float, float, bool]]) -> None:
    sums = RefillSums()

    for hours, drawn, refills in story:
        rest = Rest(hours, drawn=drawn)
        if refills:
            sums.refill(rest, 0.02)
        else:
            sums.ended(rest)

    assert bool(np.all((sums.sums >= 0) & (sums.sums < 1000)))
    assert bool(np.all((sums.events == 0) | (sums.sums > 0)))
