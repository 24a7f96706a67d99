"""Chargers, converter and contactor: limits that hold, energy that adds up, a charge that is full."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.battery import LeadBuffer, LithiumBank
from simulators.loads import mean_W
from simulators.power import ABSORPTION_V, CONVERTER_A, Demand, House


def house(charge_pct: float) -> House:
    return House(LithiumBank(460.0, charge_pct), LeadBuffer(110.0))


def steady(
    seconds: int,
    load_W: float = 0,
    navigation_W: float = 0,
    sun_W: float = 0,
    engine_A: float = 0,
    charger_W: float = 0,
) -> Demand:
    return Demand(*(np.full(seconds, float(x)) for x in (load_W, navigation_W, sun_W, engine_A, charger_W)))


needs = st.tuples(
    st.floats(0, 2500), st.floats(0, 500), st.floats(0, 500), st.floats(0, 90), st.floats(0, 1100)
)


@settings(max_examples=50)
@given(st.lists(needs, min_size=1, max_size=6), st.floats(5, 100))
def test_what_is_made_less_what_is_used_goes_through_the_banks_terminals(
    pieces: list[tuple[float, float, float, float, float]], charge_pct: float
) -> None:
    boat = house(charge_pct)
    for piece in pieces:
        told = boat.run(steady(300, *piece))

        made_W = told.sun_W + told.alternator_W + told.charger_W
        assert made_W - told.load_W == pytest.approx(told.bank_V * told.bank_A, abs=1e-6)
        assert (told.sun_W <= piece[2] + 1e-9).all()
        assert (told.charger_W <= piece[4] + 1e-9).all()
        assert (told.sun_W >= 0).all()
        assert (told.converter_A <= CONVERTER_A).all()


@settings(max_examples=25)
@given(st.floats(60, 99), st.floats(200, 1100))
def test_no_charger_raises_the_bank_above_its_voltage(charge_pct: float, charger_W: float) -> None:
    """A 12.8 V lithium pack is charged to 14.2 V here, 14.6 V at the most (makers' sheets)."""
    told = house(charge_pct).run(steady(3600, 60.0, 20.0, charger_W=charger_W))

    assert told.bank_V[1:].max() <= ABSORPTION_V + 1e-6


def test_a_night_on_shore_ends_full_with_a_real_tail() -> None:
    """Full as makers and the trade have it: 3.45 V a cell or more, held by the charger, and less than
    4 % of the capacity flowing in for ten minutes: then the bank is within 1 % of full."""
    told = house(70.0).run(steady(4 * 3600, 40.0, 15.0, charger_W=1100.0))

    assert len(told.fulls_s) == 1
    full = told.fulls_s[0]
    tail = slice(full - 590, full)
    assert (told.bank_V[tail] >= 4 * 3.45).all()
    assert ((told.bank_A[tail] > 0) & (told.bank_A[tail] < 0.04 * 460)).all()
    assert told.charge_pct[full] >= 99.0
    assert told.charge_pct.max() <= 100.5


def test_after_the_absorption_the_charger_floats_and_the_sources_carry_the_loads() -> None:
    boat = house(95.0)
    boat.run(steady(3 * 3600, 50.0, 15.0, charger_W=1100.0))

    told = boat.run(steady(8 * 3600, 50.0, 15.0, charger_W=1100.0))

    assert told.floating
    assert told.bank_V[-1] == pytest.approx(13.5, abs=0.05)
    assert abs(told.bank_A[-1]) < 1.0


def test_the_converter_gives_no_more_than_its_rating_however_long_the_load_asks() -> None:
    """25 A at 13.6 V are 340 W; a load of 450 W takes the rest from the buffer (rule of thumb)."""
    told = house(80.0).run(steady(1800, navigation_W=450.0))

    assert told.converter_A.max() == pytest.approx(25.0)
    assert told.buffer_A[-1] < -5.0
    assert told.buffer_V[-1] < 13.0


def test_a_flat_bank_opens_its_contactor_and_comes_back_with_the_engine() -> None:
    boat = house(3.0)
    dark = boat.run(steady(3600, 600.0))
    assert dark.outages_s
    assert dark.load_W[-1] == 0.0

    back = boat.run(steady(600, 60.0, engine_A=60.0))

    assert boat.closed
    assert back.bank_A[-1] > 40.0


intervals = st.lists(
    st.tuples(st.floats(-100, 700), st.floats(0, 400), st.floats(0, 2000)).map(
        lambda x: (x[0], x[0] + x[1], x[2])
    ),
    max_size=12,
)


@given(intervals)
def test_mean_power_keeps_the_energy_of_every_interval(uses: list[tuple[float, float, float]]) -> None:
    watts = mean_W(uses, 1200.0, 600)  # nothing lies there
    assert watts == pytest.approx(0.0, abs=1e-6)

    watts = mean_W(uses, 0.0, 600)

    joules = sum(w * max(0.0, min(b, 600.0) - max(a, 0.0)) for a, b, w in uses)
    assert watts.sum() == pytest.approx(joules, rel=1e-9, abs=1e-6)
    assert (watts >= -1e-6).all()
