"""One load switched on now: who carries it, what trips, what is left."""

from collections.abc import Mapping
from pathlib import Path
from string import Formatter

import pytest

from monitor.clock import HOUR_S
from monitor.estimation.afterwards import turned_away_Wh
from monitor.estimation.run_now import RunAnswer, run_now
from monitor.records import Course, Estimate, Reading, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

NOW_S = 1_790_856_000.0
"""2026-10-01 12:00 UTC."""
DAWN_S = NOW_S + 18 * HOUR_S


def boat(inverter: str = 'supply = "shore"', limit_A: float = 16, bank: str = "") -> Settings:
    return parse_settings(
        f"""
        [boat]
        name = "Test"
        [[banks]]
        name = "house"
        nominal_V = 12.5
        capacity_Ah = 400
        reserve_pct = 20
        {bank}
        [[chargers]]
        name = "shore charger"
        kind = "shore"
        into = "house"
        rated_A = 60
        [[supplies]]
        name = "shore"
        limit_A = {limit_A}
        [[supplies]]
        name = "generator supply"
        kind = "generator"
        limit_A = 14
        rated_W = 2800
        """
        + (
            f'[[inverters]]\nname = "inverter"\nbank = "house"\nrated_W = 2000\n{inverter}'
            if inverter
            else ""
        ),
        Path(),
    )


def said(**values: float) -> dict[str, Reading]:
    return {name.replace("_", " "): Reading(0.0, value, False) for name, value in values.items()}


def left(low_Wh: float, likely_Wh: float) -> dict[tuple[str, str], Estimate]:
    """Of the 5000 Wh bank; dawn is 18 h ahead."""
    high_Wh, dawn = 2 * likely_Wh - low_Wh, Reason("charge at dawn", {"moment_s": DAWN_S})
    return {
        ("left_Wh", "house"): Estimate("left_Wh", "house", 0.0, likely_Wh, low_Wh, high_Wh, Reason("charge")),
        ("dawn_pct", "house"): Estimate("dawn_pct", "house", 0.0, None, None, None, dawn),
    }


def course(low_Wh: list[float], likely_Wh: list[float]) -> Course:
    times = tuple(NOW_S + n * HOUR_S for n in range(len(low_Wh)))
    return Course(times, tuple(low_Wh), tuple(likely_Wh), tuple(likely_Wh))


def ids(answer: RunAnswer) -> list[str]:
    return [reason.id for reason in answer.reasons]


SHORE = {"shore_ac_voltage": 230.0, "shore_ac_current": 0.0, "shore_ac_power": 0.0}
ALONGSIDE = left(4500, 4750)


def test_the_breaker_counts_the_current_and_not_the_watts() -> None:
    """S = V I (DOE-HDBK-1011 vol. 3): 3500 W at pf 0.9 on 230 V is 16.9 A, over 16 A although 3500 is
    less than 3680; at pf 1 it is 15.2 A."""
    over = run_now(3500, 30, boat(inverter=""), said(**SHORE), ALONGSIDE, None, NOW_S)
    within = run_now(3500, 30, boat(inverter=""), said(**SHORE), ALONGSIDE, None, NOW_S, power_factor=1.0)

    assert over.can is False
    assert over.supply_A == pytest.approx(16.9, abs=0.05)
    assert "run: over the supply" in ids(over)
    assert within.can is True
    assert within.supply_A == pytest.approx(3500 / 230)
    assert within.bank_W == 0.0


def test_an_oven_on_a_weak_pedestal() -> None:
    """A 2 kW oven and 250 W of house on 6 A at 230 V, pf 0.9: (2250 - 6 x 230 x 0.9) / 0.9 = 1.12 kW from
    the bank; 5 kWh last 4.5 h. Common practice, own arithmetic."""
    house = {"shore_ac_voltage": 230.0, "shore_ac_power": 250.0, "shore_power_factor": 0.9}
    settings = boat(limit_A=6, bank="")
    estimates = left(5000 + 1000, 5000 + 1000)

    answer = run_now(2000, 40, settings, said(**house), estimates, None, NOW_S)

    assert answer.carried_by == "both"
    assert answer.bank_W == pytest.approx(1120, abs=1)
    assert answer.lasts_h == pytest.approx(4.46, abs=0.01)
    assert answer.supply_A == pytest.approx(6.0)
    assert answer.can is True


def test_without_a_bank_that_helps_the_pedestal_trips() -> None:
    house = said(shore_ac_voltage=230.0, shore_ac_power=250.0)
    alone = run_now(2000, 40, boat("", 6), house, ALONGSIDE, None, NOW_S)
    unwilling = run_now(
        2000, 40, boat('supply = "shore"\nhelps = false', 6), house, ALONGSIDE, None, NOW_S
    )  # fmt: skip

    assert (alone.can, alone.carried_by) == (False, "supply")
    assert (unwilling.can, unwilling.carried_by) == (False, "supply")


def test_a_charger_gives_way_before_the_bank_is_called_upon() -> None:
    """Of 10 A at 230 V the charger takes 2070 W and puts 1863 W (90 %) into the bank. A kettle of 1000 W
    takes its place: the bank gets 900 W less, and no inverter is at work."""
    values = said(
        shore_ac_voltage=230.0, shore_ac_power=2070.0, shore_ac_current=10.0, shore_power_factor=0.9,
        shore_charger_power=1863.0,
    )  # fmt: skip
    answer = run_now(1000, 6, boat(limit_A=10), values, ALONGSIDE, None, NOW_S)

    assert answer.bank_W == pytest.approx(900.0)
    assert answer.can is True
    assert answer.supply_A == pytest.approx(10.0)


def test_the_inverter_alone_costs_its_losses() -> None:
    """1800 W through an inverter of 90 % are 2000 W from the bank: in half an hour 1000 Wh of the 3000 at
    hand, and from 2000 above the reserve of 1000 it lasts an hour. Own arithmetic."""
    answer = run_now(
        1800, 30, boat(), said(house_voltage=12.5, house_current=0.0), left(2500, 3000), None, NOW_S
    )

    assert answer.carried_by == "bank"
    assert answer.bank_W == pytest.approx(2000.0)
    assert answer.after_pct == pytest.approx(100 * 2000 / 5000)
    assert answer.after_low_pct == pytest.approx(100 * 1500 / 5000)
    assert answer.lasts_h == pytest.approx(1.0)
    assert answer.lasts_low_h == pytest.approx(0.75)
    assert answer.can is True


def test_what_the_bank_gives_already_shortens_it() -> None:
    """With 40 A at 12.5 V, 500 W, already drawn: 2000 Wh above the reserve last 2000 / 2500 h."""
    values = said(house_voltage=12.5, house_current=-40.0)
    answer = run_now(1800, 30, boat(), values, left(3000, 3000), None, NOW_S)

    assert answer.lasts_h == pytest.approx(0.8)
    assert answer.after_pct == pytest.approx(100 * (3000 - 1000 - 250) / 5000)


def test_the_inverter_is_over_its_rating_with_what_it_carries_already() -> None:
    alone = run_now(1800, 10, boat(), said(house_voltage=13.0), ALONGSIDE, None, NOW_S)
    beside = run_now(
        1800, 10, boat(), said(house_voltage=13.0, inverter_ac_power=300.0), ALONGSIDE, None, NOW_S
    )

    assert alone.can is True
    assert "run: inverter does not tell" in ids(alone)
    assert beside.can is False
    assert "run: over the inverter" in ids(beside)
    assert "run: inverter does not tell" not in ids(beside)


def test_the_bms_allows_so_many_amperes() -> None:
    """1800 W / 0.9 / 12.5 V = 160 A, and 15 A are drawn already: 175 A. What the BMS says counts before
    the settings."""
    values = {"house_voltage": 12.5, "house_current": -15.0}
    settings = boat(bank="discharge_limit_A = 170")
    by_settings = run_now(1800, 10, settings, said(**values), ALONGSIDE, None, NOW_S)
    by_bms = run_now(1800, 10, settings, said(**values, house_discharge_limit=180.0), ALONGSIDE, None, NOW_S)

    over = next(r for r in by_settings.reasons if r.id == "run: over the bank")
    assert over.facts["amps"] == pytest.approx(175.0)
    assert by_settings.can is False
    assert by_bms.can is True


def test_a_bank_that_is_cut_off_carries_nothing() -> None:
    values = said(house_voltage=12.5, house_contactor_closed=0.0)

    assert run_now(100, 10, boat(), values, ALONGSIDE, None, NOW_S).can is False


def test_a_generator_may_carry_its_rating_for_hours() -> None:
    """On 2000 W already: 500 W more are within its 2800 W, 1000 W are not although 14 A allow them."""
    values = said(
        generator_supply_ac_voltage=230.0, generator_supply_ac_power=2000.0, generator_supply_power_factor=1.0
    )
    good = run_now(500, 30, boat(), values, ALONGSIDE, None, NOW_S, power_factor=1.0)
    bad = run_now(1000, 30, boat(), values, ALONGSIDE, None, NOW_S, power_factor=1.0)

    assert (good.can, good.supply, good.bank_W) == (True, "generator supply", 0.0)
    assert bad.can is False
    assert "run: over the generator" in ids(bad)


def test_the_shore_carries_where_both_are_live() -> None:
    values = said(shore_ac_voltage=230.0, generator_supply_ac_voltage=230.0)

    assert run_now(500, 30, boat(), values, ALONGSIDE, None, NOW_S).supply == "shore"


def test_a_load_on_the_bank_itself_needs_no_inverter() -> None:
    answer = run_now(120, 60, boat(""), said(house_voltage=12.5), left(3000, 3000), None, NOW_S, dc=True)

    assert answer.bank_W == 120.0
    assert answer.can is True
    assert "run: care" not in ids(answer)


def test_nobody_carries_mains_without_supply_and_inverter() -> None:
    answer = run_now(1000, 10, boat(""), said(house_voltage=12.5), ALONGSIDE, None, NOW_S)

    assert (answer.can, answer.carried_by) == (False, "nothing")


def test_an_unknown_charge_stays_unknown() -> None:
    answer = run_now(1000, 10, boat(), said(house_voltage=12.5), {}, None, None)

    assert answer.can is None
    assert (answer.after_pct, answer.dawn_pct, answer.lasts_h) == (None, None, None)
    assert "run: charge unknown" in ids(answer)


def test_silent_readings_count_for_nothing() -> None:
    """A pedestal that was heard once and is silent now is not live: the bank must carry."""
    old = {name: Reading(0.0, r.value, True) for name, r in said(**SHORE).items()}

    assert run_now(1000, 10, boat(), old, ALONGSIDE, None, NOW_S).carried_by == "bank"


def test_the_cautious_charge_must_stay_above_the_reserve() -> None:
    """1000 Wh out of cautiously 1900: 900 Wh are under the reserve of 1000, though 1500 are likely left."""
    answer = run_now(1800, 30, boat(), said(house_voltage=12.5), left(1900, 2500), None, NOW_S)

    assert answer.can is False
    assert "run: charge after, under the reserve" in ids(answer)


def test_what_is_used_is_missing_at_dawn() -> None:
    """A night without sun: 100 Wh an hour go, and the 1000 Wh of the load are gone at dawn as well."""
    falls = [4000.0 - 100 * n for n in range(25)]
    ahead = course([x - 500 for x in falls], falls)

    answer = run_now(1800, 30, boat(), said(house_voltage=12.5), left(3500, 4000), ahead, NOW_S)

    assert answer.after_pct == pytest.approx(100 * (4000 - 50 - 1000) / 5000)
    assert answer.dawn_pct == pytest.approx(100 * (4000 - 1800 - 1000) / 5000)
    assert answer.dawn_low_pct == pytest.approx(100 * (3500 - 1800 - 1000) / 5000)
    assert "run: dawn, under the reserve" in ids(answer)


def test_a_sun_that_would_fill_the_bank_anyway_makes_it_up() -> None:
    """It fills by 300 Wh an hour until 14:00 and stands full for five hours: refused are 300 Wh an hour,
    of which half count, 750 Wh: the 500 Wh of the load are made up, of 1000 Wh 250 are missing."""
    amounts = [4400.0, 4700.0, *[5000.0] * 6, *[5000.0 - 100 * n for n in range(1, 17)]]
    ahead, values = course(amounts, amounts), said(house_voltage=12.5)

    half = run_now(1800, 15, boat(), values, left(4400, 4400), ahead, NOW_S)
    whole = run_now(1800, 30, boat(), values, left(4400, 4400), ahead, NOW_S)
    without_pct = 100 * (5000 - 1100) / 5000

    assert half.dawn_pct == pytest.approx(without_pct)
    assert "run: made up by dawn" in ids(half)
    assert whole.dawn_pct == pytest.approx(without_pct - 100 * 250 / 5000)


def test_a_bank_that_never_fills_refuses_nothing() -> None:
    rises = tuple(1000.0 + 100 * n for n in range(10))
    times = tuple(NOW_S + n * HOUR_S for n in range(10))

    assert turned_away_Wh(times, rises, 5000.0, NOW_S, times[-1]) == 0.0


def test_a_live_pedestal_puts_it_back_by_dawn() -> None:
    """60 A charger at 90 %: far more than 1000 Wh in a night."""
    steady = course([4000.0] * 25, [4500.0] * 25)
    house = said(shore_ac_voltage=230.0, shore_ac_power=250.0, house_voltage=13.0)

    answer = run_now(2000, 40, boat(limit_A=6), house, left(4000, 4500), steady, NOW_S)

    assert answer.bank_W > 0
    assert answer.dawn_pct == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("watts", "minutes", "factor"), [(0, 1, 0.9), (1, 0, 0.9), (1, 1, 0), (float("nan"), 1, 1)]
)
def test_nonsense_is_refused(watts: float, minutes: float, factor: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        run_now(watts, minutes, boat(), {}, {}, None, None, power_factor=factor)


@pytest.mark.parametrize("estimates", [{}, ALONGSIDE], ids=["unknown charge", "known"])
@pytest.mark.parametrize("watts", [50, 1900, 6000])
@pytest.mark.parametrize(
    "values",
    [
        {"house_voltage": 13.0},
        {
            "house_voltage": 13.0, "house_current": -300.0, "house_discharge_limit": 200.0,
            "house_contactor_closed": 0.0,
        },
        SHORE | {"house_voltage": 13.0},
        {"generator_supply_ac_voltage": 230.0},
    ],
)  # fmt: skip
def test_everything_told_can_be_read(
    values: Mapping[str, float], watts: float, estimates: Mapping[tuple[str, str], Estimate]
) -> None:
    """Each reason has its sentence, every fact that the sentence needs, and no unknown in it."""
    falls = course([4000.0 - 100 * n for n in range(25)], [4500.0 - 100 * n for n in range(25)])
    answer = run_now(watts, 90, boat(), said(**values), estimates, falls, NOW_S)

    assert answer.reasons
    for reason in answer.reasons:
        fields = {name for _, name, _, _ in Formatter().parse(SENTENCES[reason.id]) if name}
        assert fields <= reason.facts.keys(), reason.id
        assert UNKNOWN not in say(reason, Dress()) or reason.id == "run: charge unknown"
