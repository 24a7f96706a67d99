"""Signs of ill health by hand: duties of round figures, lines whose slope is known."""

import pytest

from monitor.clock import Interval
from monitor.estimation.loads.health import (
    CyclerNight,
    Sign,
    cycler_night,
    cycler_signs,
    pump_signs,
    standing_signs,
)

_NIGHT = Interval(0.0, 12 * 3600.0)


def _ids(signs: list[Sign]) -> list[str]:
    return [sign.id for sign in signs]


def test_the_duty_of_a_night() -> None:
    """Ten minutes in each half hour are a third; what reaches beyond the night counts inside it."""
    runs = [(n, n + 600.0) for n in range(900, 43_200, 1800)]

    night = cycler_night(runs, _NIGHT)
    assert night.duty == pytest.approx(1 / 3)
    assert night.longest_s == 600.0
    assert cycler_night([(-600.0, 600.0), (42_600.0, 50_000.0)], _NIGHT).duty == pytest.approx(1200 / 43_200)
    assert cycler_night([], _NIGHT, 21.0) == CyclerNight(0.0, 0.0, 21.0)


def test_a_fridge_that_runs_harder_two_nights_in_a_row() -> None:
    """Usually 0.30; 0.43 is 43 % more, 0.41 only 37 %."""
    usual = [CyclerNight(0.30, 900.0)] * 6
    hard, less = CyclerNight(0.43, 1200.0), CyclerNight(0.41, 1200.0)

    (sign,) = cycler_signs("load 3", [*usual, hard, hard])

    assert sign == ("load runs harder", {"load": "load 3", "duty": 0.43, "usual": 0.30})
    assert not cycler_signs("load 3", [*usual, hard])
    assert not cycler_signs("load 3", [*usual, hard, less])
    assert not cycler_signs("load 3", [*usual[:4], hard, hard])
    assert not cycler_signs("load 3", [])


def test_a_warm_night_is_measured_by_warm_nights() -> None:
    """At 18 °C it runs 0.30 of the night, at 28 °C 0.45: the first warm nights have no past to be ill by."""
    cool, warm = CyclerNight(0.30, 900.0, 18.0), CyclerNight(0.45, 900.0, 28.0)

    assert not cycler_signs("load 3", [*[cool] * 9, warm, warm])
    assert not cycler_signs("load 3", [*[cool] * 9, *[warm] * 6, warm, warm])
    ill = CyclerNight(0.45, 900.0, 19.0)
    assert _ids(cycler_signs("load 3", [*[cool] * 9, ill, ill])) == ["load runs harder"]


def test_a_thermostat_that_never_reaches_its_mark() -> None:
    on = cycler_night([(3600.0, 3600.0 + 6.5 * 3600)], _NIGHT)

    assert cycler_signs("load 2", [on]) == [("load without a pause", {"load": "load 2", "hours": 6.5})]
    assert not cycler_signs("load 2", [cycler_night([(0.0, 5.9 * 3600)], _NIGHT)])


def test_standing_load_that_creeps() -> None:
    """From 10 W by 1 W a night: in seven nights 6 W, more than 3 W and than 15 % of 13 W. The same seven
    in no order have no slope; 0.3 W a night is 1.8 W and is not told."""
    creeps = [10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0]

    assert standing_signs(creeps) == [
        ("standing load creeps up", {"watts": 16.0, "more_W": pytest.approx(6.0)})
    ]
    assert not standing_signs([13.0, 10.0, 16.0, 12.0, 14.0, 11.0, 15.0])
    assert not standing_signs([10 + 0.3 * n for n in range(7)])
    assert not standing_signs(creeps[:5])


def test_an_inverter_left_on() -> None:
    """12 W more than in the nights before, which were alike."""
    signs = standing_signs([15.0, 15.5, 14.8, 15.2, 15.1, 15.0, 27.0])

    assert signs == [("standing load went up", {"watts": 27.0, "more_W": pytest.approx(11.95)})]
    assert not standing_signs([15.0, 15.5, 14.8, 15.2, 15.1, 15.0, 20.0])


def test_a_pump_that_moves_less() -> None:
    """Usually 2 L/Wh; 1.4 is 30 % less, 1.6 is 20 %."""
    usual = [2.0, 2.1, 1.9, 2.0, 2.0]

    assert pump_signs("load 1", [*usual, 1.45, 1.4]) == [
        ("pump moves less", {"load": "load 1", "L_per_Wh": 1.4, "usual": 2.0})
    ]
    assert not pump_signs("load 1", [*usual, 1.6, 1.4])
    assert not pump_signs("load 1", [2.0, 1.4, 1.4])
