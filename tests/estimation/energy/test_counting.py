"""The arithmetic of counting: ampere-hours, what fulls teach, and that the band stays a band."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.counting import GAIN, OFFSET, ChargeCount
from monitor.estimation.priors import PRIORS

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
    """Two fulls 100 h apart, counted 10 Ah too high, loss and gain held at nothing: with sd 0.15 A of
    offset, 2 Ah of each full and a wander of 0.13 % of 400 Ah times the square root of the days,
    v = (0.15 100)² + 2² + 2² + 0.52² 100 / 24 = 234.1 Ah², b = 10 * (0.15² 100) / v = 0.0961 A, known to
    within sqrt(0.15² (v - 15²) / v + 0.002² 100 / 24), the second being its walk (own arithmetic)."""
    count = ChargeCount(400.0, LFP._replace(loss=0.0, loss_sd=0.0, gain_sd=0.0))
    count.pin(0.0, 2.0)

    count.advance(100.0, 10.0, 0.0)
    closure = count.close(0.0, 2.0)

    assert closure.miss_Ah == pytest.approx(10.0)
    assert closure.learned
    assert count.offset_A == pytest.approx(0.0961, rel=0.001)
    assert count.offset_sd_A == pytest.approx(
        np.sqrt(0.15**2 * 9.127 / 234.127 + 0.002**2 * 100 / 24), rel=0.001
    )


def test_the_full_that_ends_one_stretch_begins_the_next() -> None:
    """Three fulls 100 h apart, 12 and 3 Ah too much counted between them: offset and charge are those of
    weighted least squares over all that was seen and believed at once, the middle full counted once.

    Unknown: q at the first full, b, the wander of each stretch. numpy's solver; no loss, no gain.
    """
    count = ChargeCount(400.0, LFP._replace(loss=0.0, loss_sd=0.0, gain_sd=0.0))
    count.pin(0.0, 2.0)
    for counted_Ah in (12.0, 3.0):
        count.advance(100.0, counted_Ah, 0.0)
        count.close(0.0, 2.0)

    wander_Ah = 0.0013 * 400 * (100 / 24) ** 0.5
    sees = np.array(
        [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1], [1, 100, 1, 0], [1, 200, 1, 1]], float
    )
    seen, sd = np.array([0, 0, 0, 0, 12, 15], float), np.array([2, 0.15, wander_Ah, wander_Ah, 2, 2])
    q0, b, *wandered = np.linalg.lstsq(sees / sd[:, None], seen / sd, rcond=None)[0].tolist()
    assert count.offset_A == pytest.approx(b, rel=0.01)
    assert count.below_Ah == pytest.approx(q0 + 200 * b + sum(wandered) - 15, rel=0.03)


def test_gain_widens_with_depth_and_is_forgotten_at_the_next_full() -> None:
    """A gain error of 0.5 % is 0.5 Ah when 100 Ah are out, and nothing when they are back."""
    count = ChargeCount(400.0, LFP._replace(offset_sd_A=0.0, loss=0.0, loss_sd=0.0))
    count.pin(0.0, 0.0)

    count.advance(1e-9, -100.0, 0.0)
    assert count.below_sd_Ah == pytest.approx(0.5, rel=1e-6)

    count.advance(1e-9, 100.0, 100.0)
    assert count.below_sd_Ah == pytest.approx(0.0, abs=1e-5)


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


def test_a_rested_knee_that_teaches_corrects_charge_and_capacity_and_nothing_else() -> None:
    """320 of 400 Ah out, and the voltage says 10 % left where the count has 20 %: less is left, and the
    bank is smaller than its label."""
    count = ChargeCount(400.0, LFP)
    count.pin(0.0, 2.0)
    count.advance(20.0, -320.0, 0.0)
    offset_A = count.offset_A

    count.rested(0.10, 0.02, teaches=True)

    assert 0.08 < count.remaining().share < 0.14
    assert 350.0 < count.capacity_Ah < 400.0
    assert count.offset_A == offset_A


@pytest.mark.parametrize(("out_Ah", "near"), [(320.0, 0.04), (100.0, 0.001)])
def test_a_knee_that_teaches_nothing_still_says_what_is_left(out_Ah: float, near: float) -> None:
    """10 % by the voltage where the count has 20 or 75: between the two, or where both cannot be, the
    voltage's word; the label stays."""
    count = ChargeCount(400.0, LFP)
    count.pin(0.0, 2.0)
    count.advance(20.0, -out_Ah, 0.0)

    count.rested(0.10, 0.02, teaches=False)

    left = count.remaining()
    assert left.share == pytest.approx(0.10, abs=near)
    assert left.share_sd >= 0.015
    assert count.capacity_Ah == 400.0


def test_full_charges_alone_never_change_the_capacity() -> None:
    count = ChargeCount(400.0, LFP)
    count.pin(0.0, 2.0)
    count.advance(20.0, -320.0, 0.0)
    count.rested(0.10, 0.02, teaches=True)
    capacity_Ah = count.capacity_Ah

    count.advance(20.0, 300.0, 300.0)
    assert count.close(0.0, 2.0).learned

    assert count.capacity_Ah == capacity_Ah


def test_bounds_leave_alone_what_lies_inside_them() -> None:
    count = ChargeCount(400.0, LFP)
    count.pin(100.0, 4.0)
    count.advance(10.0, -20.0, 0.0)
    mean, cov = count.mean.copy(), count.cov.copy()

    assert not count.between(100.0, 300.0)

    assert (count.mean == mean).all()
    assert (count.cov == cov).all()


def test_bounds_move_what_lies_outside_to_the_edge_and_doubt_it_by_as_much() -> None:
    """380 Ah of 400 out by count, where the voltage allows 340 at most: 40 Ah wrong at least."""
    count = ChargeCount(400.0, LFP)
    count.pin(380.0, 4.0)

    assert count.between(0.0, 340.0)

    assert count.below_Ah == 340.0
    assert count.below_sd_Ah == pytest.approx(40.0)


def test_a_learned_capacity_leaves_the_share_as_sure_as_the_voltage_had_it() -> None:
    """Capacity 380 ± 20 Ah learned where 10 ± 3 % were left: what is left is no vaguer than that."""
    count = ChargeCount(400.0, LFP)
    count.pin(342.0, 4.0)

    count.holds(380.0, 20.0, 0.03)

    left = count.remaining()
    assert left.share == pytest.approx(0.10)
    assert left.share_sd == pytest.approx(0.04, abs=0.012)


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("advance"), st.floats(0.0, 240.0), st.floats(-400.0, 400.0)),
        st.tuples(st.just("close"), st.floats(0.0, 20.0), st.floats(0.5, 8.0)),
        st.tuples(st.just("rested"), st.floats(0.0, 0.2), st.floats(0.02, 0.1)),
        st.tuples(st.just("holds"), st.floats(200.0, 600.0), st.floats(4.0, 60.0)),
        st.tuples(st.just("between"), st.floats(0.0, 200.0), st.floats(200.0, 400.0)),
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
        elif what == "rested":
            count.rested(x, y, teaches=x < 0.1)
        elif what == "holds":
            count.holds(x, y, 0.05)
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
