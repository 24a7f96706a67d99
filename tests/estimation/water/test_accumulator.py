"""Drawdown against published examples and tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.accumulator import NO_ACCUMULATOR_L, drawdown_L, pump_drawdown_L
from monitor.settings import Accumulator, Pump

PSI = 0.0689476
"""One pound a square inch. [bar]"""
SEA_LEVEL_PSI = 14.7


def share(
    precharge_psi: float, cut_in_psi: float, cut_out_psi: float, air_psi: float = SEA_LEVEL_PSI
) -> float:
    return drawdown_L(1.0, precharge_psi * PSI, cut_in_psi * PSI, cut_out_psi * PSI, air_psi * PSI)


@pytest.mark.parametrize(
    ("air_psi", "gallons"),
    [pytest.param(14.7, 25.1, id="sea level"), pytest.param(11.8, 26.2, id="6000 ft")],
)
def test_the_worked_example_of_a_tank_of_85_gallons(air_psi: float, gallons: float) -> None:
    """B. Pelikan, "How to calculate and control pressure tank drawdown", The Driller, February 2006:
    28/30/50 psi, example 1 printed as 25.1 gal; at 6000 ft by hand from the same formula."""
    assert 85 * share(28, 30, 50, air_psi) == pytest.approx(gallons, abs=0.1)


# The Driller, articles 84649 and 84709, and National Driller 86027 ("28 psi and 30/50 gives .3").
@pytest.mark.parametrize(
    ("precharge", "cut_in", "cut_out", "expected"),
    [
        (18, 20, 40, 0.345),
        (28, 30, 50, 0.295),
        (38, 40, 60, 0.258),
        (20, 20, 40, 0.366),
        (30, 30, 50, 0.309),
        (40, 40, 60, 0.268),
    ],
)
def test_the_published_drawdown_table(
    precharge: float, cut_in: float, cut_out: float, expected: float
) -> None:
    assert share(precharge, cut_in, cut_out) == pytest.approx(expected, abs=0.005)


# By hand, from the same formula, for accumulators of a size boats have.
@pytest.mark.parametrize(
    ("volume_L", "precharge", "cut_in", "cut_out", "expected_L"),
    [
        (1.0, 1.2, 1.4, 2.8, 0.337),
        (2.0, 1.2, 1.4, 2.8, 0.673),
        (5.0, 1.2, 1.4, 2.8, 1.684),
        (0.75, 0.7, 0.7, 1.7, 0.276),
    ],
)
def test_a_boats_accumulators(
    volume_L: float, precharge: float, cut_in: float, cut_out: float, expected_L: float
) -> None:
    assert drawdown_L(volume_L, precharge, cut_in, cut_out) == pytest.approx(expected_L, abs=0.001)


def test_a_leak_is_the_drawdown_over_the_time_between_starts() -> None:
    """By hand: 0.337 L and a start every 40.4 minutes are 0.50 L/h; within 2 %."""
    assert drawdown_L(1.0, 1.2, 1.4, 2.8) / (40.4 / 60) == pytest.approx(0.50, rel=0.02)


pressures = st.tuples(st.floats(0.1, 4.0), st.floats(0.1, 3.0), st.floats(0.1, 3.0))


@given(pressures)
def test_it_never_gives_more_than_it_holds(p: tuple[float, float, float]) -> None:
    precharge, cut_in, more = p

    given_L = drawdown_L(1.0, precharge, cut_in, cut_in + more)

    assert 0.0 <= given_L < 1.0


@given(pressures)
def test_a_precharge_just_at_cut_in_gives_the_most(p: tuple[float, float, float]) -> None:
    precharge, cut_in, more = p

    best = drawdown_L(1.0, cut_in, cut_in, cut_in + more)

    assert drawdown_L(1.0, precharge, cut_in, cut_in + more) <= best + 1e-12


def test_a_precharge_past_cut_out_lets_no_water_in() -> None:
    assert drawdown_L(1.0, 3.0, 1.4, 2.8) == 0.0


@pytest.mark.parametrize("bad", [(0.0, 1.2, 1.4, 2.8), (1.0, 1.2, 2.8, 1.4), (1.0, -1.1, 1.4, 2.8)])
def test_impossible_pressures_are_refused(bad: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="cut-in below cut-out"):
        drawdown_L(*bad)


def test_a_pump_without_an_accumulator_still_gives_a_little() -> None:
    """0.03 to 0.05 L from hoses alone (common practice); a spent accumulator gives no less."""
    spent = Accumulator(volume_L=1.0, precharge_bar=2.9, cut_in_bar=1.4, cut_out_bar=2.8)

    assert 0.03 <= pump_drawdown_L(Pump(name="p")) <= 0.05
    assert pump_drawdown_L(Pump(name="p", accumulator=spent)) == NO_ACCUMULATOR_L
