"""A tank that teaches its own table, against shapes that were cut into slices."""

from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.adding_up import add_up, apart, culprit, together
from monitor.estimation.sounding import Sounding, Table, lying_cylinder
from monitor.estimation.teaching import Piece, Teaching, pooled
from tests.estimation.water.tankage import Breadth, Shape, box, cylinder, hull, vee

CAPACITY_L = 165.0
LINE: Table = [(0.0, 0.0), (100.0, CAPACITY_L)]
SEEDS = range(20)


def lived(
    seed: int,
    breadth: Breadth,
    given: Table,
    *,
    guessed: bool,
    flow: float = 1.0,
    tankfuls: int = 3,
    said: bool = True,
) -> Teaching:
    """Tankfuls drawn from 98 % down to a tenth in pieces, and filled again from a meter good to 2 %.

    `flow`: the pump's true litres over those it is set to.
    """
    rng, teaching, shape = Random(seed), Teaching(given, guessed), Shape(CAPACITY_L, breadth)

    def read(litres: float) -> float:
        return shape.reading_pct(litres) + rng.gauss(0, 0.2)

    for _ in range(tankfuls):
        litres = 0.98 * CAPACITY_L
        while litres > 0.1 * CAPACITY_L:
            drawn = rng.uniform(0.05, 0.10) * CAPACITY_L
            told = drawn / flow * rng.gauss(1.0, 0.02)
            teaching.learn(Piece(read(litres - drawn), read(litres), told, said=False))
            litres -= drawn
        if said:
            poured = 0.98 * CAPACITY_L - litres
            teaching.learn(
                Piece(read(litres), read(litres + poured), poured * rng.gauss(1.0, 0.02), said=True)
            )
    return teaching


def worst_L(table: Table, breadth: Breadth) -> float:
    """Where the table is most off between a tenth and the top, the litres between two readings."""
    shape, sounding = Shape(CAPACITY_L, breadth), Sounding(table)
    off = [sounding.litres(r) - shape.litres(r) for r in range(10, 101, 5)]
    return max(off) - min(off)


@pytest.mark.parametrize("breadth", [cylinder, hull, vee])
def test_a_guessed_line_becomes_the_tanks_own_shape(breadth: Breadth) -> None:
    """With three tankfuls of known litres the error is less than half that of the line, in nine of ten."""
    better = 0
    for seed in SEEDS:
        teaching = lived(seed, breadth, LINE, guessed=True, flow=Random(seed).gauss(1.0, 0.06))
        better += teaching.used and worst_L(teaching.table(), breadth) < 0.5 * worst_L(LINE, breadth)

    assert better >= 0.9 * len(SEEDS)


@pytest.mark.parametrize("breadth", [cylinder, hull, vee])
def test_the_band_of_the_taught_table_holds_the_truth(breadth: Breadth) -> None:
    """A 90 % band of the litres at a reading, over 20 boats and nine readings."""
    shape, held, asked = Shape(CAPACITY_L, breadth), 0, 0
    for seed in SEEDS:
        teaching = lived(seed, breadth, LINE, guessed=True, flow=Random(seed).gauss(1.0, 0.06))
        for reading in range(10, 100, 10):
            sd_L = teaching.sd_L(reading)
            if sd_L is not None:
                asked += 1
                held += (
                    abs(Sounding(teaching.table()).litres(reading) - shape.litres(reading)) <= 1.645 * sd_L
                )

    assert asked > 100
    assert held / asked >= 0.85


def test_a_table_that_is_right_is_kept() -> None:
    """Noise is no shape: hardly one boat in forty is led to a table of its own, and not astray."""
    boats = [(lived(s, box, LINE, guessed=True), box) for s in SEEDS]
    boats += [(lived(s, cylinder, lying_cylinder(CAPACITY_L), guessed=False), cylinder) for s in SEEDS]
    led = [worst_L(teaching.table(), breadth) for teaching, breadth in boats if teaching.used]

    assert len(led) <= 1
    assert all(off_L < 0.05 * CAPACITY_L for off_L in led)


@pytest.mark.parametrize("flow", [0.7, 1.3])
def test_a_flow_set_wrong_bends_no_table(flow: float) -> None:
    used = [lived(s, hull, _exact(hull), guessed=False, flow=flow).used for s in SEEDS]

    assert sum(used) == 0


def test_a_flow_set_wrong_is_found() -> None:
    """True 0.75 of what is set, and the litres filled are known: within 5 %."""
    flows = [lived(s, hull, LINE, guessed=True, flow=0.75).taught for s in SEEDS]

    assert np.median([f.flow for f in flows if f is not None]) == pytest.approx(0.75, rel=0.05)


def test_the_drift_from_the_given_table_is_told() -> None:
    """A V taken for a box: at half depth it holds a quarter and not a half: 41 L less, by hand."""
    drift = lived(1, vee, LINE, guessed=True, tankfuls=4).drift()

    assert drift is not None
    at_pct, off_L, half_L = drift
    assert 35 <= at_pct <= 65
    assert off_L == pytest.approx(-0.25 * CAPACITY_L, abs=max(half_L, 8))


def test_nothing_is_taught_before_a_dozen_pieces() -> None:
    teaching = Teaching(LINE, guessed=True)
    for n in range(11):
        teaching.learn(Piece(50.0, 60.0, 5.0 + n, said=False))

    assert teaching.table() == LINE
    assert teaching.drift() is None


@given(
    st.lists(
        st.tuples(st.floats(-5, 105), st.floats(-5, 105), st.floats(-10, 200), st.booleans()), max_size=40
    )
)
def test_whatever_it_is_told_its_table_rises(pieces: list[tuple[float, float, float, bool]]) -> None:
    teaching = Teaching(LINE, guessed=True)
    for low, high, litres, said in pieces:
        teaching.learn(Piece(low, high, litres, said))
        if teaching.taught is not None:
            assert (np.diff(teaching.taught.litres) >= -1e-9).all()
            assert teaching.taught.litres[0] >= 0


def test_it_survives_a_restart() -> None:
    teaching, again = lived(3, vee, LINE, guessed=True), Teaching(LINE, guessed=True)

    again.restore(teaching.state())

    assert again.used
    assert np.allclose([v for _, v in again.table()], [v for _, v in teaching.table()], atol=0.5)


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=12))
def test_pooling_agrees_with_the_formula_of_greatest_and_least_means(values: list[float]) -> None:
    """Barlow, Bartholomew, Bremner and Brunk 1972, the max-min formula of isotonic regression:
    x(i) = max over s <= i of min over t >= i of the mean from s to t."""
    n = len(values)
    expected = [
        max(min(float(np.mean(values[s : t + 1])) for t in range(i, n)) for s in range(i + 1))
        for i in range(n)
    ]

    assert pooled(values) == pytest.approx(expected, abs=1e-9)


def test_pooling_by_hand() -> None:
    assert list(pooled([1, 3, 2, 4])) == [1, 2.5, 2.5, 4]


# ---- whether it adds up


@pytest.mark.parametrize("flow", [0.9, 1.0, 1.1])
def test_a_pump_within_its_tolerance_agrees_with_the_tank(flow: float) -> None:
    """A tenth is what a pump's flow is known to."""
    for seed in SEEDS:
        teaching = lived(seed, hull, _exact(hull), guessed=False, flow=flow)
        found = add_up(teaching.pieces, teaching.table(), guessed=False)
        assert found is not None
        assert together(found.ratio)


@pytest.mark.parametrize("flow", [0.65, 1.5])
def test_a_flow_set_wrong_is_told_as_that(flow: float) -> None:
    for seed in SEEDS:
        teaching = lived(seed, hull, _exact(hull), guessed=False, flow=flow)
        found = add_up(teaching.pieces, teaching.table(), guessed=False)
        assert found is not None
        assert apart(found.ratio)
        assert culprit(found) == "flow"
        assert found.ratio == pytest.approx(1 / flow, rel=0.05)


@pytest.mark.parametrize("share", [0.6, 1.6])
def test_a_capacity_set_wrong_is_told_as_that(share: float) -> None:
    """The settings say so much of what the tank holds; the litres filled say otherwise."""
    wrong = [(r, share * v) for r, v in _exact(hull)]
    for seed in SEEDS:
        pieces = lived(seed, hull, wrong, guessed=False).pieces
        found = add_up(pieces, wrong, guessed=False)
        assert found is not None
        assert apart(found.ratio)
        assert culprit(found) == "table"


def test_without_litres_said_it_is_told_which_way_it_is_apart() -> None:
    more = lived(1, box, LINE, guessed=True, flow=1.5, said=False)
    less = lived(1, box, LINE, guessed=True, flow=0.6, said=False)

    found = [add_up(t.pieces, LINE, guessed=True) for t in (more, less)]
    assert [culprit(f) for f in found if f is not None] == ["falls more", "falls less"]


def test_a_little_says_nothing_about_the_sums() -> None:
    pieces = [Piece(50 + n, 55 + n, 30.0, said=False) for n in range(9)]

    assert add_up(pieces, LINE, guessed=True) is None, "of a guessed table most must have been seen"
    assert add_up(pieces[:3], LINE, guessed=False) is None


def _exact(breadth: Breadth) -> Table:
    shape = Shape(CAPACITY_L, breadth)
    return [(float(r), shape.litres(r)) for r in range(0, 101, 2)]
