"""Water's density against the published values, and what a heater takes back."""

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.density import density_kg_per_L, shrinkage_L
from monitor.estimation.heater import HeaterVolume
from monitor.settings import Heater
from tests.estimation.water.household import density

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
    heater.take(600, 50.0, False)

    taken_L, unsure_L = heater.taken_L()

    # IAPWS densities at 60 and 50 °C: 983.196 and 988.035 kg/m³.
    assert taken_L == pytest.approx(40 * (1 - 983.196 / 988.035), abs=0.002)
    assert 0 < unsure_L < 0.2 * taken_L
    assert heater.given_back_L() == 0.0


def cooled(on_for_h: float, cools_h: float) -> tuple[float, float, float]:
    """40 L heated by 1.2 kW from 20 °C to 60 °C at most, then left for six hours: what it took by
    IAPWS and Newton's law of cooling, and what the judge makes of its heating hours alone."""
    heater = HeaterVolume(Heater(name="heater", volume_L=40, power_W=1200))
    heater.take(0, 20.0, False)
    heater.take(600, None, False)
    heater.take(1200, None, True)
    for n in range(3, int(on_for_h * 6) + 3):
        heater.take(600 * n, None, n < on_for_h * 6 + 2)
    begun_s = 1200 + 600 * int(on_for_h * 6)
    top_C = min(60.0, 20 + on_for_h * 1200 * 3600 / (40 * 4150))
    heater.pump_stopped()
    for n in range(1, 37):
        heater.take(begun_s + 600 * n, None, False)
    now_C = 20 + (top_C - 20) * exp(-6 / cools_h)
    return 40 * (1 - density(top_C) / density(now_C)), *heater.taken_L()


@pytest.mark.parametrize("cools_h", [9.0, 14.0, 20.0])
@pytest.mark.parametrize("on_for_h", [0.5, 2.0])
def test_heating_hours_alone_tell_what_it_took_within_what_they_say(on_for_h: float, cools_h: float) -> None:
    truly_L, likely_L, unsure_L = cooled(on_for_h, cools_h)

    assert abs(truly_L - likely_L) < 2 * unsure_L
    assert unsure_L < 0.5 * likely_L + 0.02


def test_a_thermometer_that_falls_silent_is_no_longer_believed() -> None:
    heater = HeaterVolume(HEATER)
    heater.take(0, 40.0, None)
    heater.take(600, None, None)
    assert heater.watched

    heater.take(1200, None, None)
    heater.settle(4 * HOUR)

    assert not heater.watched
    taken_L, unsure_L = heater.taken_L()
    assert taken_L > 0
    assert unsure_L > 0.5 * taken_L
    # 40 L from 15 to 65 °C widen by 0.76 L (IAPWS-95: 999.103 and 980.5 kg/m³).
    assert heater.given_back_L() >= 40 * (999.103 / 980.5 - 1) - 0.01


def test_what_is_heated_unseen_hides_a_leak() -> None:
    heater = HeaterVolume(HEATER)
    heater.take(0, None, True)
    assert heater.heating_unseen

    heater.take(600, None, False)
    assert not heater.heating_unseen
