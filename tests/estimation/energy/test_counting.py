"""The arithmetic of counting: ampere-hours, what fulls teach, and that the band stays a band."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.counting import GAIN, OFFSET, PRIORS, ChargeCount
from monitor.estimation.knees import rested_charge

LFP = PRIORS["lifepo4"]


def test_the_simple_coulomb_counting_example() -> None:
    """280 Ah at 76 %, 12.4 A drawn for 5 h: 76 - 62 / 2.8 = 53.857 % (own arithmetic)."""
    count = ChargeCount(280.0, LFP)
    count.pin(0.24 * 280.0, 0.0)

    count.advance(5.0, -62.0, 0.0)

    assert 100 * (1 - count.below_Ah / count.capacity_Ah) == pytest.approx(53.857, abs=1e-3)


def test_lithium_iron_phosphate_gives_back_what_the_cycler_measured() -> None:
    """Coulombic efficiency 0.99617 at 25 °C (A123 cell, G. Plett's ESC toolbox data): the belief
    about the loss must hold it well inside one standard deviation."""
    assert abs(LFP.loss - (1 - 0.99617)) < LFP.loss_sd


def test_a_closure_teaches_the_offset_by_hand() -> None:
    """Two fulls 100 h apart, counted 10 Ah too high, loss and gain held at nothing: with sd 0.15 A
    of offset and 2 Ah of each full, b = 10 * (0.15² 100) / ((0.15 100)² + 2² + 2²) = 0.0966 A, known to
    within sqrt(0.15² * 8 / 233 + 0.01² * 100 / 24), the second being its walk (own arithmetic)."""
    count = ChargeCount(400.0, LFP._replace(loss=0.0, loss_sd=0.0, gain_sd=0.0))
    count.pin(0.0, 2.0)

    count.advance(100.0, 10.0, 0.0)
    closure = count.close(0.0, 2.0)

    assert closure.miss_Ah == pytest.approx(10.0)
    assert closure.learned
    assert count.offset_A == pytest.approx(10 * 0.15**2 * 100 / ((0.15 * 100) ** 2 + 8), rel=0.01)
    assert count.offset_sd_A == pytest.approx(np.sqrt(0.15**2 * 8 / 233 + 0.01**2 * 100 / 24), rel=0.02)


def test_gain_widens_with_depth_and_is_forgotten_at_the_next_full() -> None:
    """A gain error of 0.5 % is 0.5 Ah when 100 Ah are out, and nothing when they are back."""
    count = ChargeCount(400.0, LFP._replace(offset_sd_A=0.0, loss=0.0, loss_sd=0.0))
    count.pin(0.0, 0.0)

    count.advance(1e-9, -100.0, 0.0)
    assert count.below_sd_Ah == pytest.approx(0.5, rel=1e-6)

    count.advance(1e-9, 100.0, 100.0)
    assert count.below_sd_Ah == pytest.approx(0.0, abs=1e-6)


def test_one_strange_full_teaches_nothing_and_two_mean_a_change() -> None:
    count = ChargeCount(400.0, LFP)
    for _ in range(4):
        count.pin(0.0, 2.0)
        count.advance(100.0, 0.0, 0.0)
        count.close(0.0, 2.0)
    sure_A = count.offset_sd_A

    count.advance(100.0, -150.0, 0.0)
    assert not count.close(0.0, 2.0).learned
    assert not count.changed
    assert count.offset_A == pytest.approx(0.0, abs=0.01)
    assert count.below_Ah == 0.0

    count.advance(100.0, -150.0, 0.0)
    assert not count.close(0.0, 2.0).learned
    assert count.changed
    assert count.offset_sd_A >= LFP.offset_sd_A > sure_A


def test_a_rested_knee_corrects_charge_and_capacity_and_nothing_else() -> None:
    """320 of 400 Ah out, and the voltage says 10 % left where the count has 20 %: less is left, and the
    bank is smaller than its label."""
    count = ChargeCount(400.0, LFP)
    count.pin(0.0, 2.0)
    count.advance(20.0, -320.0, 0.0)
    offset_A = count.offset_A

    count.rested(0.10, 0.02)

    left = 1 - count.below_Ah / count.capacity_Ah
    assert 0.08 < left < 0.14
    assert 350.0 < count.capacity_Ah < 400.0
    assert count.offset_A == offset_A


def test_full_charges_alone_never_change_the_capacity() -> None:
    count = ChargeCount(400.0, LFP)
    count.pin(0.0, 2.0)
    count.advance(20.0, -320.0, 0.0)
    count.rested(0.10, 0.02)
    capacity_Ah = count.capacity_Ah

    count.advance(20.0, 300.0, 300.0)
    assert count.close(0.0, 2.0).learned

    assert count.capacity_Ah == capacity_Ah


KNEES = [
    pytest.param(3.245, id="plateau, 20 % by the measured cell"),
    pytest.param(3.308, id="plateau, 50 %"),
    pytest.param(3.352, id="plateau, 90 %"),
    pytest.param(3.440, id="98 %: only the charger's tail tells"),
    pytest.param(float("nan"), id="not available"),
]


@pytest.mark.parametrize("cell_V", KNEES)
def test_the_plateau_says_nothing(cell_V: float) -> None:
    assert rested_charge(cell_V) is None


@pytest.mark.parametrize(
    ("cell_V", "measured", "modelled"),
    [
        # Rested volts, charge by the measured A123 cell (ESC toolbox data) and by PyBaMM's Prada2013.
        pytest.param(3.178, 10.0, 22.4, id="measured 10 %"),
        pytest.param(3.025, 5.0, 12.5, id="measured 5 %"),
        pytest.param(3.169, 9.7, 20.0, id="modelled 20 %"),
        pytest.param(2.978, 4.8, 10.0, id="modelled 10 %"),
    ],
)
def test_under_the_plateau_the_band_holds_both_published_cells(
    cell_V: float, measured: float, modelled: float
) -> None:
    rested = rested_charge(cell_V)

    assert rested is not None
    for pct in (measured, modelled):
        assert abs(pct - rested.pct) <= 1.645 * rested.sd_pct


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("advance"), st.floats(0.0, 240.0), st.floats(-400.0, 400.0)),
        st.tuples(st.just("close"), st.floats(0.0, 20.0), st.floats(0.5, 8.0)),
        st.tuples(st.just("rested"), st.floats(0.0, 0.2), st.floats(0.02, 0.1)),
        st.tuples(st.just("blur"), st.floats(0.0, 1e4), st.just(0.0)),
        st.tuples(st.just("pin"), st.floats(0.0, 20.0), st.floats(0.5, 8.0)),
    ),
    max_size=30,
)


@given(STEPS)
def test_whatever_comes_the_covariance_stays_one_and_survives_json(
    steps: list[tuple[str, float, float]],
) -> None:
    count = ChargeCount(400.0, LFP)
    for what, x, y in steps:
        if what == "advance":
            count.advance(x, y, max(y, 0.0))
        elif what == "blur":
            count.blur(x)
        else:
            getattr(count, what)(x, y)

    eigenvalues = np.linalg.eigvalsh(count.cov)
    assert np.isfinite(count.mean).all()
    assert eigenvalues.min() >= -1e-9 * max(1.0, eigenvalues.max())
    assert count.cov == pytest.approx(count.cov.T)
    assert count.cov[OFFSET, OFFSET] > 0
    assert count.cov[GAIN, GAIN] >= 0
    again = ChargeCount(400.0, LFP)
    again.restore(json.loads(json.dumps(count.state())))
    assert (again.mean == count.mean).all()
    assert (again.cov == count.cov).all()
