"""A sensor that says the same for ever, and one channel with two voices."""

import numpy as np
import pytest

from monitor.estimation.voices import two_voices
from tests.estimation.energy.watched_bank import CURRENT, OHM, SECOND, VOLTAGE, Bank, household, steps


def noisy(rng: np.random.Generator, volts: float) -> list[float]:
    """Six readings of a good voltage sensor."""
    return steps(volts + rng.normal(0, 0.004, 6), 0.01)


def test_a_current_that_never_moves_while_the_voltage_does() -> None:
    """Told after the half hour, when loads have come and gone."""
    rng = np.random.default_rng(1)
    bank = Bank()
    for amps in household(rng, 240).tolist():
        bank.minute({CURRENT: -3.2, VOLTAGE: noisy(rng, 13.2 + OHM * amps)})

    assert bank.found("sensor stuck").holds is True
    assert bank.found("sensor stuck").reason.id == "alert: sensor stuck"
    assert bank.found("sensor stuck", VOLTAGE).holds is False


def test_a_second_sensor_that_moves_is_evidence_and_not_before_half_an_hour() -> None:
    rng = np.random.default_rng(2)
    bank = Bank()
    truth = household(rng, 300) * 2
    for n, amps in enumerate(truth.tolist()):
        bank.minute({CURRENT: -3.2, SECOND: steps(amps + rng.normal(0, 0.06, 6), 0.1)})
        if n < 29:
            assert bank.found("sensor stuck").holds is False
    assert bank.found("sensor stuck").holds is True
    assert bank.found("sensor stuck", SECOND).holds is False


def test_exactly_nothing_with_nothing_on_is_no_fault() -> None:
    """Two days at rest: after a charge the voltage sinks for hours by itself, and no sun shines."""
    rng = np.random.default_rng(3)
    bank = Bank()
    for n in range(2880):
        volts = 13.3 + 0.3 * np.exp(-n / 90)
        bank.minute({CURRENT: 0.0, VOLTAGE: noisy(rng, float(volts)), "panels current": 0.0})
        assert bank.found("sensor stuck").holds is not True


def test_nothing_while_the_chargers_work_is_a_stuck_sensor_or_a_bank_cut_off() -> None:
    """Cut off, with its chargers on the bars alone, the voltage swings; stuck, it follows R I. Either way."""
    rng = np.random.default_rng(4)
    bank = Bank()
    for n in range(90):
        given = 20.0 if n % 10 < 5 else 2.0
        bank.minute({CURRENT: 0.0, "panels current": given, VOLTAGE: noisy(rng, 13.4 + OHM * given)})

    assert bank.found("sensor stuck").holds is True
    assert bank.found("sensor stuck").reason.id == "alert: current stays at nothing"


def test_a_full_bank_at_the_quay_is_no_stuck_sensor() -> None:
    """The charger holds the voltage and carries every load: nothing flows into the bank or out of it, and
    a sensor with a dead band of 1 A says exactly that for days."""
    rng = np.random.default_rng(6)
    bank = Bank()
    for load in (household(rng, 1440)).tolist():
        bank.minute(
            {
                CURRENT: 0.0,
                "panels current": 12.0 - load,
                VOLTAGE: noisy(rng, 13.5),
                "pump running": [0, 1, 0],
            }
        )
        assert bank.found("sensor stuck").holds is not True


def test_an_open_contactor_is_no_stuck_sensor() -> None:
    bank = Bank()
    for n in range(120):
        bank.minute({CURRENT: 0.0, VOLTAGE: 13.0 + 0.3 * (n % 2), "house contactor closed": 0.0})

    assert bank.found("sensor stuck").holds is None


def test_the_pump_alone_proves_nothing() -> None:
    """It may hang on another bank."""
    bank = Bank()
    for _ in range(120):
        bank.minute({CURRENT: 0.0, VOLTAGE: 13.2, "pump running": [0.0, 1.0, 0.0]})

    assert bank.found("sensor stuck").holds is False


def test_a_voltage_that_never_moves_under_heavy_currents() -> None:
    """30 A on 6 thousandths of an ohm are 0.18 V: eighteen steps of 0.01 V."""
    bank = Bank()
    for n in range(60):
        bank.minute({CURRENT: -2.0, VOLTAGE: 13.2 + 0.01 * (n % 2)})
    for n in range(60):
        bank.minute({CURRENT: [-32.0, -32.2] if n % 10 < 5 else [-2.0, -2.1], VOLTAGE: 13.2})

    assert bank.found("sensor stuck", VOLTAGE).holds is True
    assert bank.found("sensor stuck").holds is False


def test_a_coarse_voltage_may_well_stand_still() -> None:
    """In steps of 0.1 V, 12 A on 6 thousandths of an ohm (0.07 V) need not show."""
    bank = Bank()
    for n in range(60):
        bank.minute({CURRENT: -2.0, VOLTAGE: 13.2 + 0.1 * (n % 2)})
    for n in range(240):
        bank.minute({CURRENT: [-14.0, -14.2] if n % 10 < 5 else [-2.0, -2.1], VOLTAGE: 13.2})

    assert bank.found("sensor stuck", VOLTAGE).holds is False


def test_a_coarse_voltage_that_flickers_is_no_evidence_against_the_current() -> None:
    """One step of 0.1 V up and down on the edge between two figures, while nothing flows."""
    rng = np.random.default_rng(8)
    bank = Bank()
    for _ in range(600):
        bank.minute({CURRENT: 0.0, VOLTAGE: (13.2 + 0.1 * rng.integers(0, 2, 6)).tolist()})

    assert bank.found("sensor stuck").holds is False


def test_a_sensor_that_moves_again_is_well_at_once() -> None:
    rng = np.random.default_rng(5)
    bank = Bank()
    truth = household(rng, 240) * 2
    for amps in truth.tolist():
        bank.minute({CURRENT: -3.2, SECOND: amps})
    assert bank.found("sensor stuck").holds is True

    bank.minute({CURRENT: [-3.3, -3.1], SECOND: -3.2})
    assert (bank.found("sensor stuck").holds, bank.found("sensor stuck").clears) == (False, True)


def test_silence_is_unknown() -> None:
    bank = Bank().minute({CURRENT: -1.0, VOLTAGE: 13.2}).minute({VOLTAGE: 13.2})

    assert bank.found("sensor stuck").holds is None
    assert bank.found("sensor stuck", VOLTAGE).holds is False


# ---- two devices on one channel

EVERY_S = np.arange(0.0, 60.0, 1.0)
NOTHING = (np.empty(0), np.empty(0))


def test_two_levels_by_turns_are_two_voices() -> None:
    """13.3 V and 12.6 V, one reading from each."""
    rng = np.random.default_rng(1)
    volts = np.where(EVERY_S % 2 > 0, 13.3, 12.6) + rng.normal(0, 0.01, 60)

    levels = two_voices((EVERY_S, volts), NOTHING, 1.0)

    assert levels == pytest.approx((12.6, 13.3), abs=0.01)


def test_a_pulsing_load_is_one_voice() -> None:
    """An autopilot's 20 A by turns on an old bank of 15 thousandths of an ohm: 0.3 V down and up."""
    amps = np.where(EVERY_S % 2 > 0, -1.0, -21.0)

    assert two_voices((EVERY_S, 12.8 + 0.015 * amps), (EVERY_S, amps), 1.0) is None


@pytest.mark.parametrize(
    "volts",
    [
        np.linspace(13.0, 13.6, 60),
        np.where(EVERY_S < 30, 12.6, 13.3),
        13.2 + np.random.default_rng(2).normal(0, 0.1, 60),
        13.2 + 0.1 * (EVERY_S % 2),
    ],
    ids=["a slope", "a step", "noise", "a coarse sensor on an edge"],
)
def test_what_is_one_voice_all_the_same(volts: np.ndarray) -> None:
    assert two_voices((EVERY_S, volts), NOTHING, 1.0) is None


def test_ten_minutes_of_two_voices_are_told() -> None:
    bank = Bank()
    for _ in range(9):
        bank.minute({VOLTAGE: [12.6, 13.3] * 15, CURRENT: -2.0})
    assert bank.found("instruments disagree", VOLTAGE).holds is False

    bank.minute({VOLTAGE: [12.6, 13.3] * 15, CURRENT: -2.0})
    assert bank.found("instruments disagree", VOLTAGE).holds is True
