"""The pedestal and its breaker: power of alternating current, a source behind an impedance, a trip curve."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.shore import Breaker, Pedestal


def test_apparent_power_is_what_a_limit_in_amperes_is_about() -> None:
    """230 V, 10 A, power factor 0.8: 2300 VA and 1840 W (S = V I, P = S cos phi: DOE-HDBK-1011,
    volume 3). 3500 W at 0.9 are 16.9 A on 230 V: over a limit of 16 A although 16 x 230 is 3680."""
    stiff = Pedestal(idle_V=230.0, ohm=0.0, power_factor=0.8)
    assert stiff.most_W(10.0) == pytest.approx(1840.0)

    stiff = Pedestal(idle_V=230.0, ohm=0.0, power_factor=0.9)
    assert stiff.current_A(np.array([3500.0]))[0] == pytest.approx(16.9, abs=0.05)


@given(st.floats(0, 2000), st.floats(220, 240), st.floats(0.1, 2.0), st.floats(0.6, 1.0))
def test_a_source_sags_by_its_impedance_times_the_current(
    watts: float, idle_V: float, ohm: float, factor: float
) -> None:
    """V = E - Z I (Ohm's law) and P = V I cos phi, both to the volt and the watt."""
    pedestal = Pedestal(idle_V, ohm, 16.0, factor)
    volts = float(pedestal.voltage_V(np.array([watts]))[0])
    amperes = float(pedestal.current_A(np.array([watts]))[0])

    assert volts == pytest.approx(idle_V - ohm * amperes, abs=1e-6)
    assert volts * amperes * factor == pytest.approx(watts, abs=1e-6)
    assert amperes <= 16.0 or watts >= pedestal.most_W(16.0) - 1e-6


def trips_after_s(ratio: float, seconds: int) -> int | None:
    breaker = Breaker(10.0)
    for second in range(seconds):
        breaker.carry(np.array([10.0 * ratio]))
        if breaker.tripped:
            return second + 1
    return None


def test_the_breaker_lies_between_the_limits_of_its_standard() -> None:
    """IEC 60898-1, from memory: 1.13 times the rating is carried for an hour, 1.45 times lets it go
    within an hour, 2.55 times within 1 to 60 s."""
    assert trips_after_s(1.13, 3600) is None
    assert trips_after_s(1.45, 3600) is not None
    assert 1 <= (trips_after_s(2.55, 60) or 0) <= 60
