"""Second opinions: the line between two instruments, which one errs, which way each counts."""

import json
from pathlib import Path

import numpy as np
import pytest

from monitor.alerts.rules import RULES
from monitor.estimation.bands import BAND_90
from monitor.estimation.direction import Direction
from monitor.estimation.disagreement import Disagreement
from monitor.estimation.opinions import OpinionWatch
from monitor.estimation.pairs import Pairs, total_least_squares
from monitor.estimation.watcher import Heard
from monitor.records import Finding, Frame, Mode, Reason
from monitor.routing.router import Router
from monitor.settings_file import parse_settings
from monitor.wire.identifier import join
from monitor.wire.nmea2000 import LAYOUTS
from monitor.words.say import SENTENCES, say
from monitor.words.units import Dress
from tests.estimation.energy.watched_bank import (
    CURRENT,
    OHM,
    SECOND,
    SETTINGS,
    TEXT,
    VOLTAGE,
    Bank,
    household,
    steps,
)

CHARGE = "house charge"


def lived(
    minutes: int,
    seed: int = 1,
    offset_A: float = 0.0,
    gain: float = 1.0,
    first_sign: float = 1.0,
    bank: Bank | None = None,
) -> Bank:
    """Some days of the two sensors: readings of 0.1 A and 0.01 V, noise of 0.06 A."""
    rng = np.random.default_rng(seed)
    bank = bank or Bank()
    truth = household(rng, minutes)
    for amps in truth.tolist():
        now = np.full(6, amps)
        bank.minute(
            {
                CURRENT: steps(first_sign * now + rng.normal(0, 0.06, 6), 0.1),
                SECOND: steps(offset_A + gain * now + rng.normal(0, 0.06, 6), 0.1),
                VOLTAGE: steps(13.2 + OHM * now + rng.normal(0, 0.004, 6), 0.01),
            }
        )
    return bank


def compared(minutes: int, offset_A: float = 0.0, gain: float = 1.0) -> tuple[Pairs, Disagreement]:
    """The same, only the two sensors beside each other."""
    rng = np.random.default_rng(4)
    pairs, judge = Pairs(), Disagreement()
    for amps in household(rng, minutes).tolist():
        now = np.full(6, amps)
        if pairs.take(now + rng.normal(0, 0.06, 6), offset_A + gain * now + rng.normal(0, 0.06, 6)):
            judge.hour(pairs)
    return pairs, judge


def test_pearsons_own_line() -> None:
    """The ten points of Pearson (1901), "On lines and planes of closest fit": y = 5.784 - 0.5456 x
    (points and line from memory; the line to the figures he gives)."""
    x = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
    y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])

    line = total_least_squares(x, y)

    assert line is not None
    assert line.offset == pytest.approx(5.784, abs=0.0005)
    assert line.gain == pytest.approx(-0.5456, abs=0.00005)


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_the_first_singular_vector(seed: int) -> None:
    """numpy.linalg.svd of the centred points: another way to the same line."""
    rng = np.random.default_rng(seed)
    x = rng.normal(0, 8, 72)
    y = 0.2 + 1.03 * x + rng.normal(0, 0.3, 72)
    direction = np.linalg.svd(np.column_stack((x - x.mean(), y - y.mean())))[2][0]

    line = total_least_squares(x, y)

    assert line is not None
    assert line.gain == pytest.approx(direction[1] / direction[0], rel=1e-9)
    assert line.offset == pytest.approx(y.mean() - line.gain * x.mean(), rel=1e-9)


def test_the_bands_of_offset_and_gain_hold_what_they_say() -> None:
    """90 % of 1000 seeded sets with errors on both sides; three binomial deviations are 2.8 %."""
    rng = np.random.default_rng(21)
    offsets = gains = 0
    for _ in range(1000):
        truth = rng.normal(3, 6, 72)
        line = total_least_squares(
            truth + rng.normal(0, 0.2, 72), 0.1 + 0.99 * truth + rng.normal(0, 0.2, 72)
        )
        assert line is not None
        offsets += abs(line.offset - 0.1) <= BAND_90 * line.offset_sd
        gains += abs(line.gain - 0.99) <= BAND_90 * line.gain_sd
    assert 870 <= offsets <= 930
    assert 870 <= gains <= 930


def test_points_without_spread_are_no_line() -> None:
    assert total_least_squares(np.zeros(10), np.zeros(10)) is None
    assert total_least_squares(np.array([1.0, 2.0]), np.array([1.0, 2.0])) is None


def test_offset_and_gain_are_found_in_three_days() -> None:
    """What was put in: 0.18 A and 2 %. The instruments' steps of 0.1 A and noise average away."""
    bank = lived(4320, offset_A=0.18, gain=1.02)
    offset, gain = bank.told("opinion_offset_A"), bank.told("opinion_gain")

    assert offset.value == pytest.approx(0.18, abs=0.01)
    assert gain.value == pytest.approx(1.02, abs=0.002)
    assert bank.found("instruments disagree", "house").holds is True


@pytest.mark.parametrize(
    ("offset_A", "gain", "holds"),
    [(0.03, 1.0, False), (0.0, 1.008, False), (0.0, 1.03, True), (-0.09, 1.0, True)],
)
def test_fifty_milliamperes_or_one_and_a_half_percent(offset_A: float, gain: float, holds: bool) -> None:
    """The limits are common practice: below both nothing is said."""
    pairs, judge = compared(4320, offset_A, gain)
    verdict = judge.verdict(pairs, None, None)

    assert verdict.holds is holds
    assert verdict.clears is not holds


def test_two_days_must_pass_before_it_is_said() -> None:
    """Held for 48 hours, from the first twelve on: 12 + 48 = 60."""
    bank = lived(58 * 60, offset_A=0.2)
    assert bank.found("instruments disagree", "house").holds is False

    lived(3 * 60, offset_A=0.2, bank=bank)
    assert bank.found("instruments disagree", "house").holds is True


@pytest.mark.parametrize(
    ("offset", "expected"),
    [
        ((-0.2, 0.02), "alert: first instrument errs"),
        ((0.0, 0.02), "alert: second instrument errs"),
        ((0.3, 0.02), "alert: both instruments err"),
        ((0.0, 0.14), "alert: instruments disagree"),
        (None, "alert: instruments disagree"),
    ],
)
def test_the_full_charges_tell_which_to_believe(offset: tuple[float, float] | None, expected: str) -> None:
    """y - x = 0.2 A. If x is 0.2 A too low by its own full charges, y is right: -0.2 + 0.2 = 0. If x is
    right, y errs by 0.2 A. If x is 0.3 A too high, y is 0.5 A too high. Untaught, nobody knows."""
    pairs, judge = compared(62 * 60, offset_A=0.2)
    verdict = judge.verdict(pairs, *(offset or (None, None)))

    assert (verdict.holds, verdict.id) == (True, expected)
    assert "unknown" not in say(
        Reason(verdict.id, {"bank": "b", "first": "x", "other": "y", **verdict.facts}), Dress()
    )


def test_a_dead_band_is_no_offset() -> None:
    """A BMS that says 0 below 1 A: at rest it is off by all there is, and yet nothing is wrong."""
    rng = np.random.default_rng(9)
    bank = Bank()
    for amps in (household(rng, 4320) + 2.0).tolist():
        now = np.full(6, amps) + rng.normal(0, 0.05, 6)
        bank.minute({CURRENT: steps(now, 0.1), SECOND: steps(np.where(np.abs(now) < 1.0, 0.0, now), 0.1)})

    assert bank.found("instruments disagree", "house").holds is False
    assert bank.told("opinion_offset_A").reason.id == "opinions compared, one mute"


def test_a_zero_that_is_another_after_a_reconnection() -> None:
    """Its old hours are forgotten, and by how much it moved is told: 0.3 A."""
    bank = lived(50 * 60, seed=6)
    for _ in range(30):
        bank.minute({CURRENT: -2.5, VOLTAGE: 13.2})

    lived(70 * 60, seed=7, offset_A=0.3, bank=bank)
    found = bank.found("instruments disagree", "house")

    assert found.reason.id == "alert: an instrument has shifted"
    assert found.reason.facts["shift_mA"] == pytest.approx(300, abs=20)


def test_one_that_comes_back_as_it_was_has_not_shifted() -> None:
    """A night's loads after a day of sun, and a gain of 1 %: no step."""
    bank = lived(50 * 60, seed=6, gain=1.01)
    bank.minute({CURRENT: -2.5, VOLTAGE: 13.2})
    for _ in range(30):
        bank.minute({CURRENT: -2.5, VOLTAGE: 13.2})

    lived(20 * 60, seed=7, gain=1.01, bank=bank)

    assert bank.found("instruments disagree", "house").reason.id != "alert: an instrument has shifted"
    assert bank.watch.state()["house"]["pairs"]["1"]["shift_A"] is None


def test_two_that_measure_different_things_are_told_soon() -> None:
    """Two devices with one number on the bus: no two days are needed to see that."""
    bank = Bank()
    other = 9 * np.sin(np.arange(900) / 61)
    for first, second in zip(household(np.random.default_rng(3), 900).tolist(), other.tolist(), strict=True):
        bank.minute({CURRENT: first, SECOND: second})
    found = bank.found("instruments disagree", "house")

    assert (found.holds, found.reason.id) == (True, "alert: instruments are strangers")


def test_two_devices_with_one_number_are_kept_apart_by_their_address_and_then_told() -> None:
    """On the bus a second battery's monitor has instance 0, too: it becomes an opinion, and a stranger."""
    router, watch, layout = Router(SETTINGS), OpinionWatch(SETTINGS), LAYOUTS[127508]
    other = 9 * np.sin(np.arange(900) / 61)
    for n, pair in enumerate(
        zip(household(np.random.default_rng(3), 900).tolist(), other.tolist(), strict=True)
    ):
        for second in range(0, 60, 10):
            for address, amps in zip((0x20, 0x21), pair, strict=True):
                told = layout.encode({"instance": 0, "voltage": 13.2, "current": round(amps, 1)})
                router.frame(Frame(60.0 * n + second, "bus", join(6, 127508, address), told))
        columns = {slot.name: slot.drain() for slot in router.slots.values() if slot.times}
        readings = router.slots.readings(60.0 * (n + 1))
        watch.take(Heard(60.0 * n, None, 1, columns, readings, Mode("at anchor", "awake"), {}))

    assert _found(watch, "instruments disagree", "house").reason.id == "alert: instruments are strangers"
    assert _found(watch, "instruments disagree", "house").holds is True
    assert _found(watch, "instruments disagree", VOLTAGE).holds is not True


# ---- the wrong way round


@pytest.mark.parametrize("seed", range(4))
def test_a_sensor_turned_round_is_noticed_within_hours(seed: int) -> None:
    """V = E + R I with R above 0: it is the voltage that tells. Six hours, whatever the hour of the day."""
    bank = lived(360, seed=seed, first_sign=-1.0)

    assert bank.found("current reversed").holds is True
    assert bank.found("current reversed", SECOND).holds is False
    assert bank.found("current reversed").reason.facts["key"] == "banks[0].feeds[0].positive"
    assert bank.found("current reversed", SECOND).reason.facts["key"] == "banks[0].feeds[1].positive"


@pytest.mark.parametrize("seed", range(3))
def test_in_a_month_of_ordinary_life_nothing_is_turned_round(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    direction = Direction(2.0)
    truth = household(rng, 30 * 1440)
    volts = 13.2 + OHM * truth + rng.normal(0, 0.003, truth.size)
    for amps, told_V in zip((truth + rng.normal(0, 0.03, truth.size)).tolist(), volts.tolist(), strict=True):
        direction.take(amps, told_V, None)
        assert direction.reversed is not True
    assert direction.reversed is False


def test_wires_changed_after_a_week_are_noticed_within_hours_and_back_again() -> None:
    """What was learned before does not stand in the way: some twenty loads that come or go are enough."""
    rng = np.random.default_rng(31)
    direction = Direction(2.0)
    for sign, days in ((1.0, 7), (-1.0, 1), (1.0, 1)):
        truth = household(rng, days * 1440)
        volts = 13.2 + OHM * truth + rng.normal(0, 0.003, truth.size)
        told = []
        for amps, told_V in zip((sign * truth).tolist(), volts.tolist(), strict=True):
            direction.take(amps, told_V, None)
            told.append(direction.reversed)
        assert told.index(sign < 0) < 8 * 60
        assert told[-1] is (sign < 0)


def test_a_charger_at_its_voltage_under_a_heavy_load_turns_nothing_round() -> None:
    """A charger that makes up for part of a load: the bank gives while the charger gives more. By the
    chargers alone that would look turned round; the voltage falls and says that it is right."""
    rng = np.random.default_rng(12)
    bank = Bank()
    for n in range(600):
        kettle = n % 12 < 3
        given, load = (30.0, 120.0) if kettle else (6.0, 5.0)
        amps = given - load
        bank.minute(
            {CURRENT: amps, "panels current": given, VOLTAGE: 13.6 + OHM * amps + float(rng.normal(0, 0.003))}
        )

    assert bank.found("current reversed").holds is False


def test_chargers_that_speak_for_the_sensor_leave_it_open() -> None:
    """The current follows the chargers, the voltage goes against both: then it is the voltage that is odd."""
    rng = np.random.default_rng(13)
    bank = Bank()
    for _ in range(200):
        given = float(rng.uniform(0, 40))
        bank.minute({CURRENT: given - 5.0, "panels current": given, VOLTAGE: 13.4 - OHM * given})

    assert bank.found("current reversed").holds is None


def test_without_a_voltage_nothing_is_said_of_the_direction() -> None:
    bank = Bank()
    for amps in household(np.random.default_rng(1), 600).tolist():
        bank.minute({CURRENT: -amps})

    assert bank.found("current reversed").holds is None


def test_turning_it_round_in_the_settings_forgets_what_was_learned() -> None:
    """The evidence is of the feed as it was read then."""
    state = json.loads(json.dumps(lived(360, first_sign=-1.0).watch.state()))
    same, turned = (
        OpinionWatch(SETTINGS),
        OpinionWatch(
            parse_settings(
                TEXT.replace(
                    "instance = 0 },\n      {", 'instance = 0, positive = "discharging" },\n      {'
                ),
                Path(),
            )
        ),
    )
    same.restore(state)
    turned.restore(state)

    assert _found(same, "current reversed", CURRENT).holds is True
    assert _found(turned, "current reversed", CURRENT).holds is None


def _found(watch: OpinionWatch, rule: str, subject: str) -> Finding:
    return next(f for f in watch.findings() if (f.rule, f.subject) == (rule, subject))


# ---- off zero, changed, and charge figures


@pytest.mark.parametrize(
    ("offset", "holds", "clears"),
    [
        ((0.18, 0.02), True, False),
        ((-0.18, 0.02), True, False),
        ((0.18, 0.08), False, False),
        ((0.09, 0.01), False, False),
        ((0.05, 0.02), False, True),
        (None, None, None),
    ],
)
def test_a_learned_offset_of_three_deviations(
    offset: tuple[float, float] | None, holds: bool | None, clears: bool | None
) -> None:
    """0.18 A at 0.02 A is nine deviations, at 0.08 A little more than two; 0.09 A is under 0.1 A."""
    bank = Bank()
    bank.offset = offset
    found = bank.minute({CURRENT: -2.0, VOLTAGE: 13.2}).found("sensor off zero")

    assert (found.holds, found.clears) == (holds, clears)


def test_an_open_contactor_shows_the_zero() -> None:
    """Nothing flows through it: what is read then is the zero's error."""
    bank = Bank()
    for _ in range(6):
        bank.minute({CURRENT: 0.2, VOLTAGE: 13.2, "house contactor closed": 0.0})
    assert bank.found("sensor off zero").holds is True
    assert bank.found("sensor off zero").reason.facts["offset_mA"] == pytest.approx(200)

    exact = Bank()
    for _ in range(6):
        exact.minute({CURRENT: 0.0, VOLTAGE: 13.2, "house contactor closed": 0.0})
    assert exact.found("sensor off zero").holds is False


def test_the_minute_of_the_cut_is_no_zero() -> None:
    """55 A flowed for a part of it: 55 / 6 A on the mean of six minutes would be a zero 9 A off."""
    bank = Bank()
    bank.minute({CURRENT: 55.0, VOLTAGE: 13.9, "house contactor closed": 1.0})
    bank.minute({CURRENT: (55.0, 0.0), VOLTAGE: 13.2, "house contactor closed": (1.0, 0.0)})
    for _ in range(7):
        bank.minute({CURRENT: 0.0, VOLTAGE: 13.2, "house contactor closed": 0.0})

    assert bank.found("sensor off zero").holds is False


def test_a_bank_that_has_changed_is_what_the_count_says() -> None:
    bank = Bank()
    bank.offset, bank.doubted = (0.0, 0.1), True
    assert bank.minute({CURRENT: -1.0}).found("bank changed", "house").holds is True
    bank.doubted = False
    assert bank.minute({CURRENT: -1.0}).found("bank changed", "house").holds is False
    bank.offset = None
    assert bank.minute({CURRENT: -1.0}).found("bank changed", "house").holds is None


def counting(bank: Bank, minutes: int, amps: float, pct: float) -> float:
    """A charge figure that follows the current, in steps of 1 %. [%]"""
    for _ in range(minutes):
        pct += 100 * amps / 60 / 400
        bank.minute({CURRENT: amps, CHARGE: float(round(pct))})
    return pct


def test_a_figure_that_follows_the_current_is_believed_to_follow() -> None:
    """A discharge at 0.5 C is 0.83 % a minute; 200 A into 400 Ah."""
    bank = Bank()
    pct = counting(bank, 120, -4.0, 90.0)
    counting(bank, 60, -200.0, pct)

    assert bank.found("charge jumped", CHARGE).holds is False


def test_a_jump_is_told_for_a_day_and_used_for_nothing() -> None:
    """81 to 70 %: eleven, where the current brings 0.02 in a minute."""
    bank = Bank()
    counting(bank, 240, -4.0, 84.0)
    counting(bank, 2, -4.0, 70.0)
    found = bank.found("charge jumped", CHARGE)
    assert found.holds is True
    assert found.reason.facts["from_pct"] == pytest.approx(80, abs=1)
    assert found.reason.facts["to_pct"] == 70

    counting(bank, 1441, -0.1, 70.0)
    assert bank.found("charge jumped", CHARGE).holds is False


def test_a_glitch_of_one_minute_is_no_jump() -> None:
    bank = Bank()
    pct = counting(bank, 240, -4.0, 84.0)
    counting(bank, 1, -4.0, 20.0)
    counting(bank, 5, -4.0, pct)

    assert bank.found("charge jumped", CHARGE).holds is False


def test_another_instrument_that_steps_in_does_not_jump() -> None:
    """The first falls silent, the second holds the channel, then the first comes back."""
    bank = Bank()
    second = f"{CHARGE} (opinion 2)"
    for n in range(60):
        bank.minute({CURRENT: -4.0, CHARGE: 80.0 - n // 20, second: 71.0 - n // 20})
    bank.minute({CURRENT: -4.0, CHARGE: 78.0})
    for _ in range(3):
        bank.minute({CURRENT: -4.0})
    for _ in range(20):
        bank.minute({CURRENT: -4.0, CHARGE: 69.0})
    bank.minute({CURRENT: -4.0, CHARGE: [69.0, 77.0], second: 69.0})
    bank.minute({CURRENT: -4.0, CHARGE: 77.0, second: 69.0})

    assert bank.found("charge jumped", CHARGE).holds is not True


def test_a_figure_that_stands_while_the_bank_empties() -> None:
    """At 40 A one per cent of 400 Ah takes 6 min: after 40 min 6.7 % have flowed."""
    bank = Bank()
    counting(bank, 120, -10.0, 80.0)
    for _ in range(30):
        bank.minute({CURRENT: -40.0, CHARGE: 74.0})
    assert bank.found("charge jumped", CHARGE).holds is False
    for _ in range(10):
        bank.minute({CURRENT: -40.0, CHARGE: 74.0})
    assert bank.found("charge jumped", CHARGE).holds is True

    counting(bank, 10, -40.0, 74.0)
    assert bank.found("charge jumped", CHARGE).holds is False


# ---- the watcher as a whole


def test_before_anything_was_heard_everything_is_unknown() -> None:
    watch = OpinionWatch(SETTINGS)
    rules = {f.rule for f in watch.findings()}

    assert rules == {
        "instruments disagree", "sensor stuck", "current reversed", "sensor off zero", "charge jumped",
        "bank changed",
    }  # fmt: skip
    assert {(f.holds, f.clears) for f in watch.findings()} == {(None, None)}
    assert all(e.value is None for e in watch.estimates())


def test_every_finding_is_of_the_table_and_can_be_said() -> None:
    bank = lived(200, first_sign=-1.0)
    for finding in bank.watch.findings():
        assert finding.rule in RULES
        assert finding.reason.id in SENTENCES
        assert all(isinstance(v, str | int | float | None) for v in finding.reason.facts.values())
    assert len({(f.rule, f.subject) for f in bank.watch.findings()}) == len(bank.watch.findings())


def test_a_restart_loses_no_hours() -> None:
    bank = lived(59 * 60, offset_A=0.2)
    kept = json.dumps(bank.watch.state())
    again = Bank()
    again.watch.restore(json.loads(kept))
    again.at_s = bank.at_s
    lived(3 * 60, offset_A=0.2, bank=again)

    assert len(kept) < 2000
    assert again.found("instruments disagree", "house").holds is True


def test_nothing_that_is_said_raises() -> None:
    """Not available, one reading, silence and a current beyond all measure."""
    bank = Bank()
    for said in (
        {CURRENT: float("nan")},
        {},
        {CURRENT: [3.0], VOLTAGE: [0.0]},
        {SECOND: 1e6},
        {CHARGE: 300.0},
    ):
        bank.minute(said)
    bank.watch.new_boot()
    bank.minute({CURRENT: 0.0, SECOND: 0.0})

    assert bank.watch.findings()


def test_pairs_of_nothing_but_rest_still_give_an_offset() -> None:
    """A laid-up bank: no current, no gain, but 0.12 A between the two."""
    rng = np.random.default_rng(2)
    pairs, judge = Pairs(), Disagreement()
    for _ in range(20 * 60):
        if pairs.take(rng.normal(0, 0.05, 6), 0.12 + rng.normal(0, 0.05, 6)):
            judge.hour(pairs)

    assert judge.line is not None
    assert judge.line.offset == pytest.approx(0.12, abs=0.01)
    assert np.isnan(judge.line.gain)
