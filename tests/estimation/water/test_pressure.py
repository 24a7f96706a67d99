"""Pressure decay against Boyle's law: simulated gas volumes, temperatures and draws."""

from math import sin
from random import Random

import pytest

from monitor.estimation.leak import SUSPECTED, TIGHT, LeakJudge
from monitor.estimation.pressure import Decay, PressureDecay, compliance_L_per_bar
from monitor.settings import Accumulator, Heater, Pump

HOUR, MINUTE = 3600.0, 60.0
AIR = 1.01325
SMALL = Accumulator(volume_L=2.0, precharge_bar=0.8, cut_in_bar=1.0, cut_out_bar=2.0)


def gauge_bar(gone_L: float, kelvin: float = 0.0) -> float:
    """Full at 2.0 bar and 288 K; then so much water gone and the gas so much warmer: p V / T = const."""
    full_gas_L = 2.0 * (0.8 + AIR) / (2.0 + AIR)
    return (2.0 + AIR) * full_gas_L / (full_gas_L + gone_L) * (288 + kelvin) / 288 - AIR


def test_ten_millibars_an_hour_are_not_quite_six_millilitres() -> None:
    """By hand: 2 L, pre-charge 0.8 bar, at 1.5 bar: C = 1.813 x 2 / 2.513^2 = 0.574 L/bar."""
    assert 0.010 * compliance_L_per_bar(SMALL, 1.5) == pytest.approx(0.0057, abs=0.0001)


def test_the_compliance_is_the_slope_of_boyles_law() -> None:
    """Against the difference of V_gas = P0 V / P a millibar to each side."""
    for gauge in (1.0, 1.4, 2.0):
        low, high = ((0.8 + AIR) * 2.0 / (gauge + AIR + d) for d in (-0.001, 0.001))
        assert compliance_L_per_bar(SMALL, gauge) == pytest.approx((low - high) / 0.002, rel=1e-5)


def night(
    q_L_per_h: float, hours: float, warm_K: float = 0.0, draws: tuple[tuple[float, float], ...] = ()
) -> Decay | None:
    """Readings of two decimals once a minute; the gas warms or cools as a sine over twelve hours."""
    decay, rng = PressureDecay(SMALL), Random(4)
    decay.stop(0)
    for n in range(int(hours * 60)):
        at_h = n / 60
        gone_L = q_L_per_h * at_h + sum(litres for when_h, litres in draws if when_h <= at_h)
        kelvin = warm_K * sin(at_h / 12 * 3.14159)
        decay.take(n * MINUTE, round(gauge_bar(gone_L, kelvin) + rng.gauss(0, 0.002), 2))
    return decay.found()


def test_fifty_millilitres_an_hour_show_in_three_hours() -> None:
    """Three drips a minute (USGS, 1/3 mL a drip: 60 mL/h)."""
    found = night(0.05, 3.0)

    assert found is not None
    assert found.sure
    assert found.L_per_h == pytest.approx(0.05, rel=0.15)
    assert found.low_L_per_h <= 0.05 <= found.high_L_per_h


@pytest.mark.parametrize("warm_K", [-3.0, -1.0, 0.0, 1.0, 3.0])
@pytest.mark.parametrize("hours", [1.5, 3.0, 6.0])
def test_gas_that_warms_or_cools_is_no_leak(warm_K: float, hours: float) -> None:
    """1 K is 9 mbar at 2.5 bar absolute (Gay-Lussac): 5 mL of this accumulator."""
    found = night(0.0, hours, warm_K)

    assert found is not None
    assert not found.sure


@pytest.mark.parametrize("warm_K", [-3.0, 0.0, 3.0])
def test_the_bound_is_not_below_a_leak_even_when_the_gas_warms(warm_K: float) -> None:
    found = night(0.03, 6.0, warm_K)

    assert found is not None
    assert found.high_L_per_h >= 0.03


def test_a_glass_of_water_in_the_night_is_no_leak_and_widens_the_bound() -> None:
    found, without = night(0.0, 6.0, draws=((3.0, 0.25),)), night(0.0, 6.0)

    assert found is not None
    assert without is not None
    assert not found.sure
    assert found.high_L_per_h > without.high_L_per_h


def test_a_rest_that_seems_to_win_water_is_no_tighter_for_it() -> None:
    """A heater said to have taken half a litre that the gauge never missed: the estimate is below none."""
    gauge = PressureDecay(SMALL)
    gauge.stop(0.0)
    for n in range(2, 240):
        gauge.take(n * MINUTE, gauge_bar(0.0))
    without, with_heater = gauge.found(), gauge.found(taken_L=0.5)

    assert without is not None
    assert with_heater is not None
    assert with_heater.high_L_per_h >= without.high_L_per_h > 0


def test_a_short_rest_tells_nothing() -> None:
    assert night(0.5, 1.0) is None


def judged(q_L_per_h: float, asleep: bool = True, warms_C_per_h: float | None = None) -> LeakJudge:
    """Four hours of rest with a gauge aboard, pump switched on; perhaps a heater of 40 L that warms."""
    heaters = [] if warms_C_per_h is None else [Heater(name="heater", volume_L=40)]
    judge = LeakJudge(Pump(name="pump", flow_L_per_min=11, accumulator=SMALL), heaters)
    judge.quiet(0, asleep=asleep)
    judge.tick(0)
    judge.run(MINUTE, MINUTE + 20)
    for n in range(2, 240):
        if warms_C_per_h is not None:
            judge.heater("heater", n * MINUTE, round(30.0 + warms_C_per_h * n / 60, 1), True)
        judge.tick(n * MINUTE)
        judge.pressure(n * MINUTE, gauge_bar(q_L_per_h * (n - 1.3) / 60))
    return judge


def test_the_judge_believes_a_gauge_before_the_pump_has_started_once() -> None:
    judge = judged(0.06)

    rate = judge.rate_L_per_h()
    bound = judge.tight_below_L_per_h()

    assert judge.verdict()[0] == SUSPECTED
    assert judge.verdict()[1].id == "leak by its gauge"
    assert rate is not None
    assert rate[0] == pytest.approx(0.06, rel=0.1)
    assert bound is not None
    assert bound >= 0.06


def test_and_calls_a_system_tight_in_less_than_a_night() -> None:
    judge = judged(0.0)

    bound = judge.tight_below_L_per_h()

    assert judge.verdict()[0] == TIGHT
    assert bound is not None
    assert bound < 0.01


def test_by_day_a_falling_gauge_is_hands_being_washed() -> None:
    assert judged(0.06, asleep=False).verdict()[0] != SUSPECTED


def test_what_a_warming_heater_gives_back_may_go_by_its_relief_valve() -> None:
    """40 L that warm by 8 K an hour swell by 0.1 L (Kell), and the gauge does not rise."""
    assert judged(0.0, warms_C_per_h=8.0).verdict()[0] != SUSPECTED


def test_a_leak_is_found_again_when_all_have_gone_to_sleep() -> None:
    judge = judged(0.06, asleep=False)
    judge.quiet(240 * MINUTE, asleep=True)
    for n in range(240, 420):
        judge.tick(n * MINUTE)
        judge.pressure(n * MINUTE, gauge_bar(0.06 * (n - 1.3) / 60))

    assert judge.verdict()[0] == SUSPECTED
