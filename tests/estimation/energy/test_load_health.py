"""How loads are doing, by hand: duties, warmth, a creeping standing load, a pump that moves less."""

from dataclasses import replace

import pytest

from monitor.estimation.ledger import STANDING
from monitor.estimation.load_health import duty, health
from monitor.records import LoadKind, NightLedger, Share

HOUR, DAY = 3600.0, 86400.0
FRIDGE = LoadKind("load 1", 48.0, 45.0, 1.0, 960.0, 0.15, "cycles", 0.97, 200, 9, 0.0, "fridge")


def a_night(
    number: int,
    on_h: float = 4.0,
    air_C: float | None = 20.0,
    standing_W: float = 12.0,
    pump_Wh: float = 2.0,
    runs: int = 16,
) -> NightLedger:
    """Ten hours; the fridge runs `on_h` of them in even cycles, the pump moves 30 L."""
    start_s = number * DAY
    cycles = tuple(
        (start_s + n * 10 * HOUR / runs, start_s + n * 10 * HOUR / runs + on_h * HOUR / runs)
        for n in range(runs)
    )
    by = (
        Share("fridge", 45.0 * on_h, 0.97, cycles, "load 1"),
        Share("pressure pump", pump_Wh, 1.0),
        Share(STANDING, 10 * standing_W, 0.9),
    )
    used = sum(share.Wh for share in by)
    return NightLedger(
        start_s, start_s + 10 * HOUR, used, 0.0, -used, by, 0.0, 30.0, {}, 9, None, None, 0.0, False,
        place="at anchor", air_C=air_C,
    )  # fmt: skip


BEFORE = [a_night(n) for n in range(7)]


def ids(night: NightLedger, before: list[NightLedger] = BEFORE) -> list[str]:
    return [reason.id for reason in health(night, before, (FRIDGE,))]


def test_duty_is_time_on_over_time_heard() -> None:
    """The published example of a fridge: 18 min on, 68 min off are 20.9 % (Richardson et al. 2010)."""
    night = replace(a_night(0), start_s=0.0, end_s=86 * 60.0)
    share = Share("fridge", 33.0, 0.97, ((0.0, 18 * 60.0),), "load 1")

    assert duty(night, share) == pytest.approx(0.209, abs=0.0005)
    assert duty(night, replace(share, runs=None)) is None


def test_a_night_like_the_others_is_well() -> None:
    assert ids(a_night(7)) == []


def test_a_fridge_with_a_dusty_condenser_works_harder() -> None:
    """By hand: 6 h of ten against four is half as much again at the same warmth."""
    found = health(a_night(7, on_h=6.0), BEFORE, (FRIDGE,))

    assert [reason.id for reason in found] == ["health: works harder"]
    assert found[0].facts["more"] == pytest.approx(50.0)


def test_a_hot_night_is_no_fault() -> None:
    """By hand: against 5 °C inside, 30 °C asks for 25/15 of what 20 °C asks for: 6.7 h of ten."""
    assert ids(a_night(7, on_h=6.5, air_C=30.0)) == []
    assert ids(a_night(7, on_h=6.5, air_C=None), [replace(n, air_C=None) for n in BEFORE]) == [
        "health: works harder"
    ]


def test_a_fridge_that_never_rests() -> None:
    assert "health: no rest" in ids(a_night(7, on_h=9.0, runs=1))


def test_something_left_on_all_night() -> None:
    """An inverter that idles: 11 W more from one night to the next."""
    found = health(a_night(7, standing_W=23.0), BEFORE, (FRIDGE,))

    assert [reason.id for reason in found] == ["health: left on"]
    assert found[0].facts["W"] == pytest.approx(11.0)


def test_a_standing_load_that_creeps_up() -> None:
    rising = [a_night(n, standing_W=12.0 + n) for n in range(7)]

    assert ids(a_night(7, standing_W=19.0), rising) == ["health: standing creeps"]


def test_a_pump_that_moves_less_for_its_watt_hours() -> None:
    """By hand: 30 L for 3 Wh instead of 2 are a third less."""
    found = health(a_night(7, pump_Wh=3.0), BEFORE, (FRIDGE,))

    assert [reason.id for reason in found] == ["health: pump weaker"]
    assert found[0].facts["less"] == pytest.approx(100 / 3)


def test_four_nights_are_no_habit() -> None:
    assert ids(a_night(7, on_h=8.0, standing_W=40.0), BEFORE[:4]) == []
