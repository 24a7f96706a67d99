"""The BMS: limits against a module's manual and makers' sheets, and a contactor that guards single cells."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.bms import COLD_S, Bms, charge_limit_A, discharge_limit_A, pre_alarm

CAPACITY_AH = 460.0
# The most a cell may be charged with by its temperature [°C below which, part of the capacity an hour]:
# fast charge column of a 48 V LFP module's manual (tables 4.3 and 4.4).
MANUAL_FAST = ((0.0, 0.0), (5.0, 0.1), (10.0, 0.2), (25.0, 1.0))


def manual_A(celsius: float) -> float:
    return CAPACITY_AH * next(part for below, part in MANUAL_FAST if celsius < below)


@given(st.floats(-20, 24.9), st.floats(2.5, 3.7))
def test_the_charge_limit_is_never_above_the_manuals_for_that_temperature(
    celsius: float, volts: float
) -> None:
    limit_A = float(charge_limit_A(np.array([volts]), np.array([celsius]))[0])

    assert 0 <= limit_A <= manual_A(celsius) + 1e-9
    # 3.65 V a cell is where charging ends (makers' sheets).
    assert volts < 3.65 or limit_A == 0


@given(st.floats(2.0, 3.7), st.floats(2.0, 3.7))
def test_an_emptier_cell_never_allows_more(a: float, b: float) -> None:
    low_A, high_A = discharge_limit_A(np.array(sorted((a, b))))

    assert low_A <= high_A


@pytest.mark.parametrize(
    ("highest", "lowest", "amperes", "celsius", "alarm"),
    [
        (3.40, 3.38, 60.0, 15.0, 0),
        (3.62, 3.50, 60.0, 15.0, 1),  # 30 mV short of 3.65 V
        (3.20, 2.85, -60.0, 15.0, 1),  # loads are cut below 3.0 V under load (common practice)
        (3.30, 3.29, 30.0, -0.5, 1),  # no LFP cell is charged below 0 °C
        (3.30, 3.29, -30.0, -10.0, 0),  # discharge to -30 °C (a maker's sheet)
    ],
)
def test_it_warns_before_it_opens(
    highest: float, lowest: float, amperes: float, celsius: float, alarm: int
) -> None:
    """A lithium installation warns before its BMS shuts down (ABYC E-13, from secondary sources)."""
    columns = (np.array([x]) for x in (highest, lowest, amperes, celsius))

    assert pre_alarm(*columns)[0] == alarm


def minded(seconds: int, *, bms: Bms, high: float = 3.3, low: float = 3.3, amperes: float = 0.0,
           celsius: float = 15.0, offered_W: float = 0.0) -> Bms:  # fmt: skip
    for _ in range(seconds):
        bms.mind(high, low, amperes, celsius, offered_W)
    return bms


def test_one_high_cell_opens_it_and_it_closes_when_the_chargers_are_gone() -> None:
    """3.65 V a cell: makers' sheets."""
    bms = minded(60, bms=Bms(), high=3.64, amperes=60.0, offered_W=800.0)
    assert bms.closed

    minded(5, bms=bms, high=3.66, amperes=60.0, offered_W=800.0)
    assert (bms.closed, bms.cause) == (False, "cell high")
    minded(3600, bms=bms, high=3.50, offered_W=800.0)
    assert not bms.closed

    minded(120, bms=bms, high=3.50)
    assert (bms.closed, bms.cause) == (True, "")


def test_one_low_cell_opens_it_and_it_closes_when_something_charges() -> None:
    """2.5 to 2.8 V a cell (trade pages)."""
    bms = minded(60, bms=Bms(), low=2.81, amperes=-50.0)
    assert bms.closed

    minded(1, bms=bms, low=2.49, amperes=-50.0)
    assert (bms.closed, bms.cause) == (False, "cell low")
    minded(3600, bms=bms, low=2.9)
    assert not bms.closed

    minded(120, bms=bms, low=2.9, offered_W=700.0)
    assert bms.closed


def test_charging_a_frozen_bank_goes_on_for_minutes_and_then_is_cut() -> None:
    bms = minded(240, bms=Bms(), amperes=30.0, celsius=-1.0, offered_W=400.0)
    assert bms.closed

    minded(COLD_S, bms=bms, amperes=30.0, celsius=-1.0, offered_W=400.0)
    assert (bms.closed, bms.cause) == (False, "cold")


def test_a_frozen_bank_may_be_discharged() -> None:
    """-30 to 60 °C: a maker's sheet of a 280 Ah cell."""
    assert minded(7200, bms=Bms(), amperes=-30.0, celsius=-10.0).closed
