"""Tank shapes against published volumes."""

from math import asin, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from monitor.estimation.sounding import (
    Sounding,
    cylinder_share,
    lying_cylinder,
    table_of,
    wedge,
    wedge_share,
)
from monitor.settings import Tank
from tests.estimation.water.tankage import Breadth, Shape, box, cylinder, hull, vee


def test_the_published_cylinder_of_752_gallons() -> None:
    """tankvolumecalc.com: 48 in across, 96 in long, 19.2 in deep: 280.9 of 752 US gal; 0.1 %."""
    full_gal = pi * 24**2 * 96 / 231

    assert full_gal == pytest.approx(752.0, rel=1e-3)
    assert full_gal * cylinder_share(19.2 / 48) == pytest.approx(280.9, rel=1e-3)


# The same source's table of depth and volume, both in per cent.
@pytest.mark.parametrize(
    ("depth", "volume"),
    [(5, 1.9), (10, 5.2), (20, 14.2), (25, 19.6), (30, 25.2), (40, 37.4), (50, 50.0), (75, 80.4), (90, 94.8)],
)
def test_the_published_table_of_a_lying_cylinder(depth: float, volume: float) -> None:
    assert 100 * cylinder_share(depth / 100) == pytest.approx(volume, abs=0.1)


@pytest.mark.parametrize(("depth_m", "litres"), [(0.125, 38.387), (0.400, 168.394), (0.5, 196.350)])
def test_a_cylinder_half_a_metre_across_and_a_metre_long(depth_m: float, litres: float) -> None:
    """By hand from V = L (r² acos((r-h)/r) - (r-h) sqrt(2rh - h²))."""
    assert 196.350 * cylinder_share(depth_m / 0.5) == pytest.approx(litres, abs=0.01)


def test_a_wedge_half_deep_holds_a_quarter() -> None:
    """By hand: similar triangles. A straight line overstates it twofold."""
    assert Sounding(wedge(100)).litres(50) == pytest.approx(25.0)
    assert Sounding(table_of(Tank(name="t", capacity_L=100))).litres(50) == pytest.approx(50.0)


@pytest.mark.parametrize("bottom", [0.0, 0.25, 0.5, 1.0])
@pytest.mark.parametrize("depth", [0.1, 0.4, 0.5, 0.9, 1.0])
def test_a_wedge_with_a_bottom_is_a_trapezium(bottom: float, depth: float) -> None:
    """Euclid's trapezium, half the sum of the parallel sides times the height, below and in all."""
    breadth = bottom + (1 - bottom) * depth
    below, whole = (bottom + breadth) / 2 * depth, (bottom + 1) / 2

    assert wedge_share(depth, bottom) == pytest.approx(below / whole)


@pytest.mark.parametrize("depth", [0.0, 0.05, 0.2, 0.5, 0.77, 1.0])
def test_the_cylinder_agrees_with_the_other_form_of_the_segment(depth: float) -> None:
    """The segment by the arc sine (mathforum.org, problem 55223): pi r²/2 - r² asin(1 - h/r) -
    (r - h) sqrt(h (2r - h)), of a circle of radius 1."""
    h = 2 * depth
    area = pi / 2 - asin(1 - h) - (1 - h) * sqrt(h * (2 - h))

    assert cylinder_share(depth) == pytest.approx(area / pi, abs=1e-12)


@pytest.mark.parametrize(
    ("shape", "bottom", "breadth"),
    [("straight", 0.0, box), ("lying cylinder", 0.0, cylinder), ("wedge", 0.0, vee), ("wedge", 1 / 3, hull)],
)
def test_a_shape_makes_the_table_where_none_is_given(shape: str, bottom: float, breadth: Breadth) -> None:
    """Against the same shape cut into slices: within 0.2 % of the capacity."""
    given = {"name": "t", "capacity_L": 200, "shape": shape, "wedge_bottom": bottom}
    sounding, sliced = Sounding(table_of(Tank.model_validate(given))), Shape(200, breadth)

    for reading in range(101):
        assert sounding.litres(reading) == pytest.approx(sliced.litres(reading), abs=0.4)


def test_a_table_goes_before_a_shape() -> None:
    tank = Tank(name="t", capacity_L=100, shape="wedge", sounding=[(0, 0), (50, 60), (100, 100)])

    assert Sounding(table_of(tank)).litres(25) == pytest.approx(30)


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        (
            {"sounding": [(0, 0), (50, 60), (40, 80)]},
            r"sounding must rise: \[40, 80\] cannot follow \[50, 60\]",
        ),
        ({"sounding": [(0, 0), (50, 60), (100, 50)]}, r"sounding must rise: \[100, 50\] cannot follow"),
        ({"sounding": [(0, 0)]}, "two pairs or more"),
        ({"sounding": [(0, 0), (100, 120)]}, "none above capacity_L"),
        ({"unusable_L": 100}, "unusable_L must be less than capacity_L"),
        ({"wedge_bottom": 1.5}, "less than or equal to 1"),
        ({"shape": "ball"}, "'straight', 'lying cylinder' or 'wedge'"),
    ],
)
def test_a_table_that_cannot_be_is_refused_with_the_reason(settings: dict[str, object], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Tank.model_validate({"name": "t", "capacity_L": 100, **settings})


def test_a_table_from_the_helper_follows_the_cylinder() -> None:
    """Linear between 21 pairs: within 0.4 % of the capacity everywhere."""
    sounding = Sounding(table_of(Tank(name="t", capacity_L=200, sounding=lying_cylinder(200))))

    for depth in range(101):
        assert sounding.litres(depth) == pytest.approx(200 * cylinder_share(depth / 100), abs=0.8)


def test_a_depth_outside_the_cylinder_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        cylinder_share(1.01)


@st.composite
def tables(draw: st.DrawFn) -> list[tuple[float, float]]:
    readings = draw(st.lists(st.floats(0, 100), min_size=2, max_size=8, unique=True))
    litres = draw(st.lists(st.floats(0, 300), min_size=len(readings), max_size=len(readings)))
    return list(zip(sorted(readings), sorted(litres), strict=True))


@given(tables(), st.floats(-10, 110), st.floats(-10, 110))
def test_more_reading_is_never_less_water(table: list[tuple[float, float]], a: float, b: float) -> None:
    sounding = Sounding(table_of(Tank(name="t", capacity_L=300, sounding=table)))

    low, high = (sounding.litres(r) for r in sorted((a, b)))

    assert table[0][1] - 1e-9 <= low <= high + 1e-9 <= table[-1][1] + 1e-6
