"""Everything that can be wrong with the pressure system, each against its arithmetic."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.accumulator import Accumulator
from simulators.flows import Where
from simulators.heater import Heater
from simulators.loads import PUMP_V
from simulators.pump import PressureSystem
from simulators.tanks import Manifold, Tank
from simulators.trace import Trace
from tests.simulators.test_water import BOX, PSI_BAR, draws, system

PLACES: tuple[Where, ...] = ("after the pump", "hot side", "before the pump", "back through the pump")


def pressure_at(trace: Trace, utc_s: float) -> float:
    return float(trace.bar(np.array([utc_s]))[0])


@pytest.mark.parametrize(("volume_L", "drawdown"), [(1.0, 0.10), (2.0, 0.20), (5.0, 0.51), (8.0, 0.81)])
def test_an_accumulator_that_has_lost_its_charge_gives_what_the_trades_table_says(
    volume_L: float, drawdown: float
) -> None:
    """25/40 psi, set to 23 psi and lost: 14.7 of 37.7 psi absolute are left, and some 61 % of the drawdown
    is gone (a table of the trade by Boyle's law)."""
    air = 14.7 / 37.7
    flat = Accumulator(volume_L, 23 * PSI_BAR, air).drawdown_L(25 * PSI_BAR, 40 * PSI_BAR)
    sound = Accumulator(volume_L, 23 * PSI_BAR).drawdown_L(25 * PSI_BAR, 40 * PSI_BAR)

    assert flat == pytest.approx(drawdown, abs=0.005)
    assert 1 - flat / sound == pytest.approx(0.61, abs=0.005)


def test_air_that_goes_takes_the_pressure_with_it_and_shortens_every_run() -> None:
    """Boyle: half the air at the same water is half the absolute pressure; half the drawdown, half the run
    (0.337 L at 11 L/min are 1.84 s)."""
    water = system()
    water.leak(0.0, 0.5)
    water.advance(3600.0)
    before_bar = water.accumulator.bar(water.held_L)
    water.leave_air(0.5)

    after_bar = water.accumulator.bar(water.held_L)
    runs = water.advance(12 * 3600.0).runs

    assert after_bar == pytest.approx(max(0.0, (before_bar + 1.01325) / 2 - 1.01325))
    assert np.mean([stop - start for start, stop in runs[2:]]) == pytest.approx(1.84 / 2, rel=0.05)


def test_a_check_valve_that_leaks_back_starts_the_pump_and_loses_nothing() -> None:
    """0.5 L an hour through the resting pump start it every 40.4 min, as a leak does; the tank holds."""
    water = system()
    held = water.manifold.litres + water.held_L
    water.leak(0.0, 0.5, where="back through the pump")

    runs = water.advance(48 * 3600).runs

    starts = np.array([start for start, _ in runs[1:]])
    assert np.diff(starts).mean() == pytest.approx(40.4 * 60, rel=0.02)
    assert water.returned_L == pytest.approx(24.0, rel=0.01)
    assert water.manifold.litres + water.held_L == pytest.approx(held, abs=1e-6)
    assert water.taken_L == pytest.approx(200.0 - water.manifold.litres, abs=1e-6)
    assert water.leaked_L == 0


def test_a_leak_before_the_pump_empties_the_tank_and_the_pump_is_silent() -> None:
    water = system()
    water.leak(0.0, 1.5, where="before the pump", tank="midship")

    trace = water.advance(24 * 3600)

    assert trace.edges == []
    assert water.manifold.litres == pytest.approx(200 - 36.0, abs=1e-6)
    assert water.above_L == pytest.approx(36.0, abs=1e-6)
    assert water.leaked_L == 0


def test_a_hose_on_the_hot_side_drips_with_the_heat_and_not_without() -> None:
    """At 65 °C in full, at 55 °C half of it, below 45 °C nothing."""
    lost = {}
    for celsius in (75.0, 55.0, 40.0):
        water = system(celsius=15.0)
        water.heater.celsius, water.heater.loss_W_per_K = celsius, 0.0
        water.leak(0.0, 1.0, where="hot side")
        water.advance(600.0)
        lost[celsius] = water.leaked_L

    assert lost[75.0] == pytest.approx(1.0 / 6, rel=0.01)
    assert lost[55.0] == pytest.approx(0.5 / 6, rel=0.05)  # it cools a little by what it draws in
    assert lost[40.0] == 0


def test_a_relief_valve_that_lets_go_early_keeps_the_pressure_down_and_weeps_what_swells() -> None:
    """40 L from 38 °C on, heated: all that swells beyond the room up to 3.2 bar goes overboard."""
    sound, weeping = system(celsius=38.0), system(celsius=38.0)
    weeping.set_relief(3.2)
    for water in (sound, weeping):
        water.engine = True
    bars = [water.advance(2 * 3600).bar(np.arange(7200.0)).max() for water in (sound, weeping)]

    room_L = Accumulator().water_L(3.2) - Accumulator().water_L(2.1)
    assert bars[0] > 5
    assert bars[1] == pytest.approx(3.2, abs=0.001)
    assert weeping.relieved_L == pytest.approx(weeping.swelled_L - room_L, abs=1e-6)
    assert weeping.relieved_L > sound.relieved_L + 0.2


def test_a_pump_that_finds_no_water_runs_on_takes_half_the_current_and_moves_nothing() -> None:
    """Dry: 40 to 70 % of the usual current, no cut-out (common practice)."""
    water = system()
    water.primed = False
    water.draw(10.0, 3.0, 6.0, 0.0)

    trace = water.advance(1800.0)

    assert water.running_since_s is not None
    assert water.manifold.litres == 200
    assert water.taken_L == 0
    ((starts_s, ends_s),) = trace.dry
    assert (starts_s, ends_s) == (water.running_since_s, 1800.0)
    usual_A = 78.0 / PUMP_V
    assert 0.4 <= trace.pump_A(np.array([900.0]))[0] / usual_A <= 0.7
    assert pressure_at(trace, 900.0) == 0
    water.primed = True
    assert len(water.advance(1900.0).runs) == 1


def test_a_switch_that_sticks_lets_the_pump_labour_on_above_the_cut_out() -> None:
    """To what the pump can pump up, and no more: no water moves, and the current is above the usual."""
    water = system()
    water.switch_stuck = True
    water.draw(10.0, 1.0, 6.0, 0.0)

    trace = water.advance(1800.0)
    litres = water.manifold.litres

    assert trace.runs == []
    assert pressure_at(trace, 1000.0) == pytest.approx(water.stall_bar, abs=0.01)
    assert trace.pump_A(np.array([1000.0]))[0] > 1.1 * trace.pump_A(np.array([trace.edges[0][0] + 2.0]))[0]
    assert len(trace.stalled) == 1
    assert (trace.stalled[0][1] - trace.stalled[0][0]) > 1700
    water.draw(1900.0, 1.0, 6.0, 0.0)
    water.advance(3600.0)
    assert water.manifold.litres == pytest.approx(litres - 1.0, abs=0.01)
    water.switch_stuck = False
    assert len(water.advance(3700.0).runs) == 1


def test_two_taps_share_what_the_pump_gives_and_a_hose_that_is_off_holds_nothing_back() -> None:
    """Taps of 9 and 11 L/min at 2.1 bar on a pump of 11: by the orifice law 2.1 (11/20)^2 = 0.635 bar."""
    taps, hose = system(), system()
    for L_per_min in (9.0, 11.0):
        taps.draw(10.0, 20.0, L_per_min, 0.0)
    hose.leak(10.0, 20 * 60.0)

    assert pressure_at(taps.advance(60.0), 50.0) == pytest.approx(0.635, abs=0.001)
    assert pressure_at(hose.advance(60.0), 50.0) == 0.0


def test_a_clogged_strainer_makes_every_refill_longer() -> None:
    """60 % of the flow: 0.337 L take 1.84 s / 0.6 (arithmetic)."""
    water = system()
    water.flow_L_per_s *= 0.6
    water.leak(0.0, 0.5)

    runs = water.advance(24 * 3600).runs

    assert np.mean([stop - start for start, stop in runs[1:]]) == pytest.approx(1.84 / 0.6, rel=0.03)


def test_a_hose_left_running_fills_to_the_brim_and_no_further() -> None:
    """60 L of room at 14 L/min: full after 257 s; the rest of 600 s runs over (arithmetic)."""
    water = system(200.0)
    water.pour("fill", "midship", 0.0, 600.0, 840.0)

    trace = water.advance(700.0)
    litres = np.interp([120.0, 257.2, 600.0], trace.times_s, trace.tanks_L["midship"])

    assert litres == pytest.approx([228.0, 260.0, 260.0], abs=0.05)
    assert water.filled_L == pytest.approx(60.0, abs=1e-6)
    assert water.spilt_L == pytest.approx(80.0, abs=1e-6)


def two_tanks(litres: float, celsius: float) -> PressureSystem:
    tanks = (Tank("forward", 165.0, 8.0, BOX, 90.0), Tank("midship", 260.0, 10.0, BOX, litres))
    water = PressureSystem(Manifold(tanks), Heater(celsius=celsius), 0.0, np.random.default_rng(1))
    water.cabin = water.cold = 15.0
    return water


@settings(max_examples=60)
@given(
    draws,
    st.lists(st.tuples(st.sampled_from(PLACES), st.floats(0, 7000), st.floats(0.05, 900)), max_size=4),
    st.floats(10, 260),
    st.floats(5, 74),
    st.floats(0.05, 1.0),
    st.floats(2.9, 6.0),
    st.sampled_from(["sound", "stuck", "dry", "slow"]),
    st.floats(0, 900),
)
def test_whatever_is_wrong_no_water_is_lost_and_none_is_made(
    taps: list[tuple[float, float, float, float]],
    leaks: list[tuple[Where, float, float]],
    litres: float,
    celsius: float,
    air: float,
    relief_bar: float,
    pump: str,
    hose_L_per_h: float,
) -> None:
    """Stored now = stored before + filled + swelled - drawn - leaked - relieved, whatever else happens."""
    water = two_tanks(litres, celsius)
    water.engine = True
    before = water.manifold.litres + water.held_L
    water.switch_stuck, water.primed = pump == "stuck", pump != "dry"
    water.flow_L_per_s *= 0.4 if pump == "slow" else 1.0
    for where, at_s, rate in leaks:
        water.leak(at_s, rate, where=where, tank="midship" if where == "before the pump" else "")
    for tap in taps:
        water.draw(*tap)
    water.pour("fill", "forward", 600.0, 6000.0, hose_L_per_h)
    water.pour("make", "midship", 1200.0, 4000.0, 30.0)

    water.advance(2400.0)
    water.leave_air(air)
    water.set_relief(relief_bar)
    water.advance(7200.0)

    gone = water.drawn_L + water.leaked_L + water.relieved_L + water.above_L
    stored = water.manifold.litres + water.held_L
    assert stored == pytest.approx(before + water.filled_L + water.swelled_L - gone, abs=1e-6)
    poured = hose_L_per_h * 1.5 + 30.0 * 2800 / 3600
    assert water.filled_L + water.spilt_L == pytest.approx(poured, rel=1e-6, abs=1e-3)
    assert water.made_L <= water.filled_L + 1e-9
    assert all(0 <= tank.litres <= tank.capacity_L + 1.0 for tank in water.manifold.tanks)
