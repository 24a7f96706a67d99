"""Water's density against the published values, and what a heater takes back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.heater import HeaterVolume, density_kg_per_L, shrinkage_L
from monitor.settings import Heater

HEATER = Heater(name="heater", volume_L=40)
HOUR = 3600.0


# IAPWS-95 at one atmosphere [kg/m³]; the tolerance is that of Kell's equation, 0.01 to 40 °C and on.
@pytest.mark.parametrize(
    ("celsius", "density"),
    [
        (0.01, 999.844), (4, 999.975), (10, 999.702), (15, 999.103), (20, 998.207), (25, 997.048),
        (40, 992.216), (60, 983.196),
    ],
)  # fmt: skip
def test_density_is_that_of_iapws(celsius: float, density: float) -> None:
    assert 1000 * density_kg_per_L(celsius) == pytest.approx(density, abs=0.01)


def test_forty_litres_cooling_from_65_to_40_shrink_by_half_a_litre() -> None:
    """Common practice: 40 L from 65 to 40 °C shrink by 0.48 L; within 5 %."""
    assert shrinkage_L(40, 65, 40) == pytest.approx(0.48, rel=0.05)


@given(st.floats(5, 95), st.floats(5, 95), st.floats(1, 100))
def test_water_that_goes_warm_and_cold_again_takes_nothing(a: float, b: float, litres: float) -> None:
    mass_kg = litres * density_kg_per_L(b)

    there, back = shrinkage_L(litres, a, b), shrinkage_L(litres, b, a)

    # What entered at b left again at a: the same mass, so the volumes are as the densities.
    assert there * density_kg_per_L(b) == pytest.approx(-back * density_kg_per_L(a), abs=1e-9 * mass_kg)


def test_a_watched_heater_takes_what_its_water_shrinks() -> None:
    heater = HeaterVolume(HEATER)
    heater.take(0, 60.0, False)
    heater.pump_stopped()
    heater.take(HOUR, 50.0, False)

    # IAPWS densities at 60 and 50 °C: 983.196 and 988.035 kg/m³.
    assert heater.taken_L() == pytest.approx(40 * (1 - 983.196 / 988.035), abs=0.002)
    assert not heater.may_give_back()


def test_an_unwatched_heater_owes_water_for_eight_hours_after_it_was_heated() -> None:
    heater = HeaterVolume(HEATER)
    heater.settle(0)
    heater.settle(9 * HOUR)
    assert not heater.may_give_back()

    heater.take(10 * HOUR, None, True)
    heater.settle(17 * HOUR)
    assert heater.may_give_back()
    assert heater.owed_L == pytest.approx(0.74, abs=0.05), "40 L from 65 to 15 °C (IAPWS: 0.75 L)"

    heater.settle(18.1 * HOUR)
    assert not heater.may_give_back()


def test_a_thermometer_that_falls_silent_leaves_what_its_water_may_still_shrink() -> None:
    heater = HeaterVolume(HEATER)
    heater.take(0, 40.0, None)
    heater.take(600, None, None)
    assert heater.watched

    heater.take(1200, None, None)
    assert not heater.watched
    assert heater.owed_L >= shrinkage_L(40, 40, 15)
    assert heater.taken_L() == 0.0
