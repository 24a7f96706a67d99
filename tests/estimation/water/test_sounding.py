"""Tank shapes against published volumes."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.sounding import Sounding, cylinder_share, lying_cylinder, table_of, wedge
from monitor.settings import Tank


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
    tank = Tank(name="t", capacity_L=100, sounding=wedge(100))

    assert Sounding(table_of(tank)).litres(50) == pytest.approx(25.0)
    assert Sounding(table_of(Tank(name="t", capacity_L=100))).litres(50) == pytest.approx(50.0)


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
