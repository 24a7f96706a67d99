"""The banks against laboratory figures and the laws of conservation."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.battery import LeadBuffer, LithiumBank, open_circuit_V

# LFP open-circuit voltage a cell, C/27, mean of discharge and charge, 25 °C: A123 OCV scripts of
# G. Plett's ESC toolbox data (github.com/batterysim/esctoolbox-python, commit e82af551).
LABORATORY_OCV = {
    5: 3.025, 10: 3.178, 20: 3.245, 30: 3.280, 40: 3.301, 50: 3.308, 60: 3.317, 70: 3.330, 80: 3.345,
    90: 3.352, 95: 3.369, 98: 3.440,
}  # fmt: skip
LABORATORY_EFFICIENCY = 0.99617
"""Coulombic, the same cells at 25 °C."""
LABORATORY_GAP_V = (0.024, 0.060)
"""Charging branch above discharging branch, 10 to 95 %, the same."""

powers = st.lists(
    st.tuples(st.floats(-1500, 1200), st.integers(1, 600)), min_size=1, max_size=40
)  # W, seconds


@pytest.mark.parametrize("charge_pct", LABORATORY_OCV)
def test_the_curve_is_the_laboratorys_within_half_the_gap(charge_pct: int) -> None:
    assert open_circuit_V(charge_pct) == pytest.approx(LABORATORY_OCV[charge_pct], abs=0.012)


@given(st.floats(-2, 102), st.floats(-2, 102))
def test_more_charge_never_stands_at_less_voltage(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert open_circuit_V(low) <= open_circuit_V(high)


def _lived(powers: list[tuple[float, int]], charge_pct: float) -> tuple[LithiumBank, float, float]:
    """The bank after those powers, the energy its capacitance holds more than before, and the
    heat of both resistances and of lost charge [Wh]."""
    bank = LithiumBank(460.0, charge_pct)
    warm_Wh = 0.0
    capacitance_F = bank.polarisation_s / bank.polarisation_ohm
    for watts, seconds in powers:
        for _ in range(seconds // 10 + 1):
            if not 3 < bank.charge_pct < 97:
                watts = 0.0
            before_V, lost_Ah, resting_V = bank.polarisation_V, bank.lost_Ah, bank.resting_V
            bank.step(watts, 1.0)
            through_A = before_V / bank.polarisation_ohm
            # The capacitor took I - V/R1 at a mean voltage between before and after.
            mean_V = (before_V + bank.polarisation_V) / 2
            capacitor_W = (bank.current_A - through_A) * mean_V
            warm_Wh += (bank.current_A**2 * bank.resistance_ohm) / 3600
            warm_Wh += (bank.current_A * before_V - capacitor_W) / 3600
            warm_Wh += resting_V * (bank.lost_Ah - lost_Ah)
    held_Wh = capacitance_F * bank.polarisation_V**2 / 2 / 3600
    return bank, held_Wh, warm_Wh


@settings(max_examples=40)
@given(powers, st.floats(10, 90))
def test_charge_is_stored_given_back_or_lost(powers: list[tuple[float, int]], charge_pct: float) -> None:
    bank, _, _ = _lived(powers, charge_pct)

    gained_Ah = bank.charge_Ah - 460.0 * charge_pct / 100
    assert gained_Ah == pytest.approx(bank.in_Ah - bank.out_Ah - bank.lost_Ah, abs=1e-6)
    assert bank.lost_Ah == pytest.approx(bank.in_Ah * (1 - bank.efficiency), abs=1e-6)


@settings(max_examples=40)
@given(powers, st.floats(10, 90))
def test_energy_in_is_stored_held_in_the_polarisation_or_turned_to_heat(
    powers: list[tuple[float, int]], charge_pct: float
) -> None:
    bank, held_Wh, warm_Wh = _lived(powers, charge_pct)

    assert bank.in_Wh == pytest.approx(bank.stored_Wh + held_Wh + warm_Wh, abs=1e-6 + 1e-9 * abs(bank.in_Wh))


@given(st.floats(-2000, 2000), st.floats(5, 98))
def test_the_terminals_carry_exactly_the_power_asked_for(watts: float, charge_pct: float) -> None:
    bank = LithiumBank(460.0, charge_pct)

    bank.step(watts, 1.0)

    assert bank.voltage_V * bank.current_A == pytest.approx(watts, abs=1e-6)


def _slowly(bank: LithiumBank, until_pct: float) -> float:
    """At C/27, as the laboratory did, to that charge; the terminals' voltage less the drop."""
    sign = math.copysign(1.0, until_pct - bank.charge_pct)
    amperes = sign * bank.capacity_Ah / 27
    while sign * (until_pct - bank.charge_pct) > 0:
        bank.step(bank.voltage_V * amperes, 10.0)
    return bank.resting_V / bank.cells


def test_the_branches_stand_apart_as_in_the_laboratory_and_a_loop_costs_energy() -> None:
    bank = LithiumBank(460.0, 20.0)
    bank.hysteresis = -1.0

    rising = _slowly(bank, 60.0)
    _slowly(bank, 80.0)
    falling = _slowly(bank, 60.0)
    _slowly(bank, 20.0)

    assert LABORATORY_GAP_V[0] <= rising - falling <= LABORATORY_GAP_V[1]
    assert bank.stored_Wh > 0  # the same charge as before, less energy got back than put in


def test_the_charge_that_comes_back_is_the_laboratorys_share() -> None:
    bank = LithiumBank(460.0, 20.0)

    _slowly(bank, 90.0)
    put_in = bank.in_Ah
    _slowly(bank, 20.0)

    assert bank.out_Ah / put_in == pytest.approx(LABORATORY_EFFICIENCY, abs=0.001)


@settings(max_examples=40)
@given(st.lists(st.floats(0, 500), min_size=1, max_size=20), st.floats(30, 100))
def test_the_buffer_keeps_its_charge_books_and_its_float(loads: list[float], charge_pct: float) -> None:
    """25 A at 13.6 V carry 340 W: beyond that the battery makes up the rest (arithmetic)."""
    buffer = LeadBuffer(110.0, charge_pct)
    for load_W in loads:
        for _ in range(30):
            before_Ah, load_A = buffer.charge_Ah, load_W / buffer.voltage_V
            given = buffer.step(load_W, 25.0, 1.0)

            assert given <= 25.0
            assert given - load_A == pytest.approx(buffer.current_A)
            assert buffer.charge_Ah <= before_Ah + max(0.0, buffer.current_A) / 3600 + 1e-9
            assert 10.0 <= buffer.voltage_V <= buffer.float_V
            if load_A > 25.0:
                assert buffer.charge_Ah == pytest.approx(before_Ah - (load_A - 25.0) / 3600)


def test_a_rested_lead_battery_stands_where_tables_say() -> None:
    """100 % 12.6 V, 50 % 12.2 V, flooded and rested, tolerance 0.15 V (a published rest table)."""
    for charge_pct, volts in ((100, 12.6), (50, 12.2)):
        buffer = LeadBuffer(110.0, charge_pct)
        buffer.step(0.0, 0.0, 1.0)
        assert buffer.voltage_V == pytest.approx(volts, abs=0.15)
