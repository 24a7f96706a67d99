"""The generator: its governor and fuel against what such sets do, and energy that adds up."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.boat import Boat
from simulators.generator import RATED_W, frequency_Hz, fuel_L_per_h, speed_rpm, voltage_V
from simulators.household import Use
from simulators.power import CHARGER_EFFICIENCY
from simulators.scenarios import SCENARIOS
from simulators.stretch import Stretch

NOON_S = 1_790_856_000.0
DIESEL_KWH_PER_L = 9.95
"""Lower heating value, 35.8 MJ/L: a handbook figure."""


def test_speed_and_frequency_go_together() -> None:
    """n = 120 f / poles: two poles at 50 Hz turn at 3000 rpm (any textbook of electrical machines)."""
    assert frequency_Hz(np.array([RATED_W])) == pytest.approx(50.0)
    assert speed_rpm(np.array([RATED_W])) == pytest.approx(3000.0)


def test_frequency_and_voltage_sag_no_more_than_the_standards_class_allows() -> None:
    """ISO 8528-5, class G2, from memory: droop at most 5 % of 50 Hz, voltage within 2.5 % of the
    middle."""
    watts = np.array([0.0, RATED_W])
    hertz, volts = frequency_Hz(watts), voltage_V(watts)

    assert 0.02 <= (hertz[0] - hertz[1]) / 50 <= 0.05
    assert 0 < (volts[0] - volts[1]) / 2 / volts.mean() <= 0.025
    assert volts[1] == pytest.approx(230.0)


def test_fuel_is_what_such_a_set_burns() -> None:
    """Small diesels turn 18 to 28 % of the fuel's heat into electricity between half and full load
    and burn a quarter to a third of the full rate without any (common practice)."""
    watts = np.linspace(0.5, 1.0, 11) * RATED_W
    share = watts / 1000 / (fuel_L_per_h(watts) * DIESEL_KWH_PER_L)
    idle, full = fuel_L_per_h(np.array([0.0, RATED_W]))

    assert 0.18 <= share.min() < share.max() <= 0.28
    assert 0.25 <= idle / full <= 0.34


def hour(charge_pct: float, uses: list[Use], celsius: float = 38.0) -> Stretch:
    """An hour of the generator at anchor."""
    boat = Boat(SCENARIOS["cloudy-week"]._replace(start_charge_pct=charge_pct), 1, NOON_S)
    boat.place = "at anchor"
    boat.machines["generator"].since_s = NOON_S
    boat.water.heater.celsius = celsius
    boat.needs.switch_on(uses)
    boat.needs.clouds.begin_day(0, 0.2)
    return boat.live(3600, awake=True)


def element_W(stretch: Stretch) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    times = [t for t, _, _ in stretch.water.heater]
    on = np.array([on for _, _, on in stretch.water.heater])
    seconds = stretch.start_s + np.arange(stretch.seconds) + 0.5
    return np.asarray(750.0 * on[np.searchsorted(times, seconds, side="right") - 1])


def test_a_low_bank_and_a_cold_heater_are_a_good_load() -> None:
    """Between half and three quarters of the rating (common practice)."""
    told = hour(25.0, [])

    assert told.supply_W[60:].min() / RATED_W >= 0.50
    assert told.supply_W.max() / RATED_W <= 0.75
    assert told.electrics.bank_A.mean() > 60


@settings(max_examples=15)
@given(
    st.floats(10, 99),
    st.floats(20, 70),
    st.lists(st.tuples(st.integers(0, 3000), st.floats(50, 1500)), max_size=5),
)
def test_what_the_generator_gives_is_what_is_taken_from_it(
    charge_pct: float, celsius: float, machines: list[tuple[int, float]]
) -> None:
    """Second by second: charger, element and household. Beyond 14 A at 230 V the bank makes up the
    rest (rule of thumb: a supply carries V x I at most)."""
    uses = [Use(NOON_S + at, NOON_S + at + 600, watts, "ac", "a machine") for at, watts in machines]
    told = hour(charge_pct, uses, celsius)
    alone = hour(charge_pct, [], celsius)

    household_W = np.zeros(3600)
    for at, watts in machines:
        household_W[at : at + 600] += watts
    wanted_W = household_W + element_W(told)
    carried_W = told.supply_W - told.electrics.charger_W / CHARGER_EFFICIENCY
    assert (carried_W <= wanted_W + 1e-6).all()
    assert told.supply_W.max() <= 14 * 230
    assert carried_W[told.supply_W < 3000] == pytest.approx(wanted_W[told.supply_W < 3000], abs=1e-6)
    made_up_W = told.electrics.load_W - alone.electrics.load_W
    assert made_up_W == pytest.approx((wanted_W - carried_W) / 0.90, abs=1.0)
    burnt_kWh = fuel_L_per_h(told.supply_W).sum() / 3600 * DIESEL_KWH_PER_L
    assert told.supply_W.sum() / 3.6e6 < 0.3 * burnt_kWh
