"""Pump, accumulator, heater and tanks against published figures and the conservation of water."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.accumulator import Accumulator
from simulators.heater import Heater, density_kg_per_m3
from simulators.pump import PressureSystem
from simulators.tanks import Manifold, Tank
from simulators.trace import Trace

BOX = ((0.0, 0.0), (100.0, 260.0))
# IAPWS-95 at 1 atm, by the iapws package 1.5.5. [kg/m3]
IAPWS_DENSITY = {
    0.01: 999.844, 4: 999.975, 10: 999.702, 15: 999.103, 20: 998.207, 25: 997.048, 40: 992.216, 60: 983.196,
}  # fmt: skip
PSI_BAR = 0.0689476


def system(litres: float = 200.0, celsius: float = 15.0) -> PressureSystem:
    """Tight, cold and still: its heater neither swells nor shrinks until it is warmed."""
    manifold = Manifold((Tank("midship", 260.0, 10.0, BOX, litres),))
    water = PressureSystem(manifold, Heater(celsius=celsius), 0.0, np.random.default_rng(1))
    water.cabin = water.cold = celsius
    return water


@pytest.mark.parametrize("celsius", IAPWS_DENSITY)
def test_density_is_that_of_the_water_standard(celsius: float) -> None:
    assert density_kg_per_m3(celsius) == pytest.approx(IAPWS_DENSITY[celsius], abs=0.02)


@pytest.mark.parametrize(
    ("volume_L", "precharge", "cut_in", "cut_out", "drawdown"),
    [
        (1.0, 1.2, 1.4, 2.8, 0.337),
        (2.0, 1.2, 1.4, 2.8, 0.673),
        (5.0, 1.2, 1.4, 2.8, 1.684),
        (0.75, 0.7, 0.7, 1.7, 0.276),
    ],
)
def test_drawdown_by_boyles_law(
    volume_L: float, precharge: float, cut_in: float, cut_out: float, drawdown: float
) -> None:
    """V ((P0+Pa)/(P1+Pa) - (P0+Pa)/(P2+Pa)) worked by hand for accumulators of boats."""
    assert Accumulator(volume_L, precharge).drawdown_L(cut_in, cut_out) == pytest.approx(drawdown, abs=0.001)


def test_drawdown_of_the_published_example() -> None:
    """85 US gal, 28/30/50 psi: 25.1 gal. B. Pelikan, The Driller, February 2006, example 1."""
    tank = Accumulator(85.0, 28 * PSI_BAR)
    assert tank.drawdown_L(30 * PSI_BAR, 50 * PSI_BAR) == pytest.approx(25.1, abs=0.1)


@given(st.floats(0.01, 0.95))
def test_pressure_and_water_in_the_accumulator_are_inverse(water_L: float) -> None:
    accumulator = Accumulator()
    assert accumulator.water_L(accumulator.bar(water_L)) == pytest.approx(water_L, abs=1e-9)


def test_a_leak_starts_the_pump_as_often_as_its_size_says() -> None:
    """0.337 L a refill: half a litre an hour starts the pump every 40.4 min; a refill at 11 L/min
    less the leak lasts 1.84 s (arithmetic on Boyle's drawdown). Tolerance: the switch's scatter."""
    water = system()
    water.leak(0.0, 0.5)

    runs = water.advance(48 * 3600).runs

    starts = np.array([start for start, _ in runs[1:]])
    assert np.diff(starts).mean() == pytest.approx(40.4 * 60, rel=0.02)
    assert np.mean([stop - start for start, stop in runs[1:]]) == pytest.approx(1.84, rel=0.03)


def test_a_tight_and_cold_system_never_starts() -> None:
    assert system().advance(48 * 3600).runs == []


def test_a_cooling_heater_makes_an_honest_start_or_two_and_then_none() -> None:
    """40 L from 65 to 40 °C shrink by 0.48 L, which is one to two drawdowns of 0.337 L (a trade's
    rule of thumb, by the density table)."""
    water = system(celsius=65.0)
    water.cabin = water.cold = 18.0
    water.held_L = water.accumulator.water_L(2.8)

    runs = water.advance(20 * 3600).runs

    shrunk = -water.heater.swollen_L
    expected = 40 * (density_kg_per_m3(water.heater.celsius) / density_kg_per_m3(65.0) - 1)
    assert shrunk == pytest.approx(expected, rel=0.02)
    assert 1 <= len(runs) <= 2


def test_heating_swells_as_the_density_says_and_the_relief_valve_weeps() -> None:
    """40 L from 15 to 65 °C expand by 0.77 L: more than an accumulator of 1 L takes below 6 bar."""
    water = system(celsius=15.0)
    water.engine = True

    water.advance(3 * 3600)

    assert water.heater.celsius > 65
    assert water.heater.swollen_L > 0.7
    assert water.relieved_L > 0.2
    assert water.accumulator.bar(water.held_L) <= 6.0 + 1e-6


def test_the_element_takes_as_long_as_the_published_energy_says() -> None:
    """40 L by 50 K take 2.3256 kWh (a published calculator; IAPWS-97 enthalpies within 0.2 %), so
    46 K take 2.1396 kWh, which 750 W give in 171.2 min. Tolerance: the minute's step."""
    heater = Heater(celsius=15.0, loss_W_per_K=0.0)
    minutes = 0
    while heater.celsius < 61.0:
        heater.warm(60.0, mains=True, engine=False, around=15.0, cold=15.0, hot_L=0.0)
        minutes += 1

    assert minutes == pytest.approx(171.2, abs=1.5)


draws = st.lists(
    st.tuples(st.floats(0, 7000), st.floats(0.1, 15), st.floats(1, 18), st.floats(0, 1)), max_size=15
)


def _volume(water: PressureSystem) -> float:
    return water.manifold.litres + water.held_L


@settings(max_examples=60)
@given(draws, st.floats(0, 300), st.floats(10, 260), st.floats(5, 74), st.booleans(), st.booleans())
def test_no_water_is_lost_and_none_is_made(
    taps: list[tuple[float, float, float, float]],
    leak_L_per_h: float,
    litres: float,
    celsius: float,
    engine: bool,
    mains: bool,
) -> None:
    """What was there, and what warming swells, is still there, drawn, leaked or relieved."""
    water = system(litres, celsius)
    water.engine, water.mains = engine, mains
    before = _volume(water)
    water.leak(1800.0, leak_L_per_h, 5400.0)
    for start_s, volume, rate, hot in taps:
        water.draw(start_s, volume, rate, hot)

    water.advance(7200.0)

    gone = water.drawn_L + water.leaked_L + water.relieved_L
    assert _volume(water) == pytest.approx(before + water.swelled_L - gone, abs=1e-6)
    assert water.swelled_L == pytest.approx(water.heater.swollen_L, abs=0.02)  # the last minute flows yet
    assert water.taken_L == pytest.approx(litres - water.manifold.litres, abs=1e-6)
    assert water.manifold.litres >= min(litres, 10.0) - 1e-9


@settings(max_examples=30)
@given(draws, st.lists(st.floats(1, 7199), max_size=30))
def test_reading_more_often_changes_no_pump_edge(
    taps: list[tuple[float, float, float, float]], stops: list[float]
) -> None:
    whole, parts = system(), system()
    for water in (whole, parts):
        for tap in taps:
            water.draw(*tap)

    at_once = whole.advance(7200.0).edges
    pieces: list[tuple[float, bool]] = []
    for stop in sorted(round(s) for s in stops):
        pieces += parts.advance(float(stop)).edges
    pieces += parts.advance(7200.0).edges

    assert [on for _, on in pieces] == [on for _, on in at_once]
    assert [t for t, _ in pieces] == pytest.approx([t for t, _ in at_once], abs=0.0021)


def test_every_edge_lies_on_a_millisecond() -> None:
    water = system()
    water.draw(10.0, 12.0, 6.0, 0.0)

    edges = water.advance(600.0).edges

    assert len(edges) > 10
    assert all(round(t, 3) == t for t, _ in edges)


def test_a_burst_hose_empties_the_tank_at_the_pumps_rate_and_the_pump_runs_on() -> None:
    """190 usable litres at 11 L/min last 17.3 min (arithmetic)."""
    water = system(200.0)
    water.leak(100.0, 2400.0)

    trace = water.advance(3600.0)

    assert trace.runs == []
    assert water.running_since_s == pytest.approx(100.0, abs=1.0)
    dry_s = next(
        t for t, litres in zip(trace.times_s, trace.tanks_L["midship"], strict=True) if litres <= 10.001
    )
    assert (dry_s - 100.0) / 60 == pytest.approx(17.3, abs=0.1)


def test_a_pump_that_is_switched_off_stays_off() -> None:
    water = system()
    water.switch(5.0, False)
    water.draw(10.0, 5.0, 6.0, 0.0)

    trace = water.advance(600.0)

    assert trace.edges == []
    assert water.drawn_L <= Accumulator().water_L(2.8)


def _at(trace: Trace, utc_s: float) -> float:
    return float(np.interp(utc_s, trace.times_s, trace.accumulator_L))


def test_while_nobody_draws_pressure_falls_along_a_straight_line_of_volume() -> None:
    water = system()
    water.leak(0.0, 0.2)

    trace = water.advance(1800.0)

    assert _at(trace, 900.0) == pytest.approx(_at(trace, 0.0) - 0.05, abs=1e-6)
    assert math.isclose(_at(trace, 1800.0), _at(trace, 0.0) - 0.1, abs_tol=1e-6)
