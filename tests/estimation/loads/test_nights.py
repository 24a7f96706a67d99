"""The nights that the naming of loads is tried on: what is heard is the truth, and each seed its own boat."""

import numpy as np
import pytest

from tests.estimation.loads.appliances import HOUR, Compressor
from tests.estimation.loads.nights import FIRST_S, STEP_A, Boat, lives

SEEDS = range(5)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_truth_sums_to_the_current_that_is_heard(seed: int) -> None:
    """Over twelve hours the noise and the steps average out: what is left is the instrument's offset.

    43200 readings of sd 0.06 A and steps of 0.1 A (sd 0.029 A) have a mean good to 0.0003 A; a reading of an
    instant and a mean of a second differ at the edges of runs, which does not add up.
    """
    boat = lives(seed)
    night = boat.night(0)
    true_W = sum(night.truth.values())

    heard_W = -(night.heard.amps - boat.offset_A) * night.heard.volts
    assert heard_W.mean() == pytest.approx(np.mean(true_W), abs=0.05)
    assert abs(boat.offset_A) <= 0.05

    off_A = (heard_W - true_W) / night.heard.volts
    quiet = np.abs(off_A) < 0.5
    assert quiet.mean() > 0.99
    assert off_A[quiet].std() == pytest.approx(np.hypot(0.06, STEP_A / 12**0.5), abs=0.02)


def test_a_boat_is_its_seed() -> None:
    again, other = lives(3).night(2).heard.amps, lives(4).night(2).heard.amps

    assert np.array_equal(lives(3).night(2).heard.amps, again)
    assert not np.array_equal(again, other)
    assert not np.array_equal(again, lives(3).night(1).heard.amps)
    assert lives(3).appliances == lives(3).appliances != lives(4).appliances


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_on_takes_power_and_what_is_off_none(seed: int) -> None:
    night = lives(seed).night(1)

    for name, watts in night.truth.items():
        whole = np.zeros(len(watts), dtype=bool)
        touched = np.zeros(len(watts), dtype=bool)
        for on_s, off_s in night.runs[name]:
            on, off = on_s - night.start_s, off_s - night.start_s
            whole[int(np.ceil(on)) : int(off)] = True
            touched[int(on) : int(np.ceil(off))] = True
        assert (watts[whole] > 1).all()
        assert (watts[~touched] == 0).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_cold_stores_cycle_as_cold_stores_do(seed: int) -> None:
    """Runs of 8 to 25 minutes, up to half as long again for a door; on for 25 to 55 % and what doors add."""
    boat = lives(seed)
    night = boat.night(0)

    makers = [appliance for appliance in boat.appliances if isinstance(appliance, Compressor)]
    assert [maker.name for maker in makers] == ["fridge", "freezer"]
    low, high = sorted(maker.takes_W for maker in makers)
    assert high > 1.15 * low
    for maker in makers:
        runs = np.array(night.runs[maker.name][1:-1])
        lengths = (runs[:, 1] - runs[:, 0]) / 60
        assert lengths.min() > 7.9
        assert lengths.max() < 38
        on_share = sum(b - a for a, b in night.runs[maker.name]) / (16 * HOUR)
        assert 0.2 < on_share < 0.65


@pytest.mark.parametrize("seed", SEEDS)
def test_the_pump_runs_shortly_and_as_often_as_asked(seed: int) -> None:
    runs = lives(seed).night(0).runs["pump"]

    assert 10 <= len(runs) <= 54
    assert all(1.9 <= b - a <= 40.1 for a, b in runs)


def test_a_lithium_bank_sags_by_its_resistance() -> None:
    boat = lives(1)
    heard = boat.night(0).heard
    slope, _ = np.polyfit(heard.amps[:3600], heard.volts[:3600], 1)

    # Rounding of the amps and the fall within the hour take a little off: within a quarter.
    assert slope == pytest.approx(boat.ohm, rel=0.25)
    assert 12.7 < heard.volts.min() < heard.volts.max() < 13.45


@pytest.mark.parametrize("every_s", [1.5, 10.0])
def test_a_slow_instrument_tells_the_same_night_seldom(every_s: float) -> None:
    night, slow = lives(2).night(0), lives(2, every_s).night(0)

    for name, watts in night.truth.items():
        assert np.array_equal(watts, slow.truth[name])
    wanted = 16 * HOUR / every_s
    assert len(slow.heard.utc_s) == pytest.approx(0.99 * wanted, rel=0.01)
    assert np.median(np.diff(slow.heard.utc_s)) == pytest.approx(every_s, abs=0.05)
    assert slow.heard.amps.mean() == pytest.approx(night.heard.amps.mean(), abs=0.1)


def test_steps_of_any_length_hold_the_same_watt_hours() -> None:
    night = lives(6).night(0)

    for step_s in (1.0, 1.5, 10.0):
        edges = night.during.start_s + np.arange(12 * HOUR / step_s + 1) * step_s
        for name, watts in night.truth_by(edges).items():
            inside = night.truth[name][2 * 3600 : 14 * 3600]
            assert watts.sum() * step_s == pytest.approx(inside.sum())
    assert night.during == (FIRST_S + 2 * HOUR, FIRST_S + 14 * HOUR)


def test_alongside_the_charger_carries_what_is_used() -> None:
    boat: Boat = lives(5, alongside=True)
    night = boat.night(0)
    made_W = night.heard.made_W
    assert made_W is not None

    used_W = made_W - (night.heard.amps - boat.offset_A) * night.heard.volts
    assert used_W.mean() == pytest.approx(np.mean(sum(night.truth.values())), rel=0.021)
    assert np.ptp(night.heard.volts) < 0.06
