"""Cells charged in the cold, hot cells, and one hotter than the others.

The alarm test of charging in the cold: makers' tables allow no charge below 0 °C and a tenth of the
capacity up to 5 °C; a sensor is off by 2 °C (common practice). More than C/100 is a charge.
"""

import math

import pytest

from monitor.estimation.cells import CellWatch
from monitor.records import Severity
from tests.estimation.energy.cell_string import CAPACITY_AH, Listener, settings

CHARGE_A = 0.02 * CAPACITY_AH


@pytest.mark.parametrize(
    ("celsius", "holds", "severity"),
    [
        (-0.5, True, Severity.ALARM),
        (1.5, True, Severity.ALARM),
        (3.0, True, None),
        (6.0, False, None),
    ],
)
def test_the_published_alarm_test(celsius: float, holds: bool, severity: Severity | None) -> None:
    """-0.5 and 1.5 °C: alarm; 3 °C: warning; 6 °C: none."""
    listener = Listener()

    listener.hear({"house current": CHARGE_A, "house cell 1 temperature": celsius})

    found = listener.finding("cold charging")
    assert (found.holds, found.severity) == (holds, severity)


def test_a_sensor_that_is_not_available_is_unknown_and_not_well() -> None:
    listener = Listener()

    listener.hear({"house current": CHARGE_A, "house cell 1 temperature": math.nan})

    found = listener.finding("cold charging")
    assert (found.holds, found.clears) == (None, None)


def test_one_sensor_missing_leaves_the_other_to_warn_but_not_to_say_that_all_is_well() -> None:
    listener = Listener()
    listener.hear(
        {"house current": CHARGE_A, "house cell 1 temperature": math.nan, "house cell 2 temperature": 15.0}
    )
    assert listener.finding("cold charging").holds is None

    listener.hear(
        {"house current": CHARGE_A, "house cell 1 temperature": math.nan, "house cell 2 temperature": 1.0}
    )
    assert listener.finding("cold charging").holds is True


def test_the_coldest_cell_counts_and_is_named() -> None:
    listener = Listener()

    listener.hear(
        {"house current": CHARGE_A, "house cell 1 temperature": 12.0, "house cell 2 temperature": 1.0}
    )

    assert listener.finding("cold charging").reason.facts["cell"] == "cell 2"


def test_the_banks_own_sensor_serves_where_no_cell_has_one() -> None:
    listener = Listener()

    listener.hear({"house current": CHARGE_A, "house temperature": -2.0})

    assert listener.finding("cold charging").severity is Severity.ALARM


@pytest.mark.parametrize("amps", [-40.0, 0.0, 0.009 * CAPACITY_AH])
def test_cold_cells_may_be_drawn_from(amps: float) -> None:
    listener = Listener()

    listener.hear({"house current": amps, "house cell 1 temperature": -5.0})

    found = listener.finding("cold charging")
    assert (found.holds, found.clears) == (False, True)


def test_between_two_clouds_it_is_not_over() -> None:
    """The sun's current comes and goes about C/100: one alert, not ten."""
    listener = Listener()
    for minute in range(40):
        amps = CHARGE_A if minute % 8 < 2 else 0.005 * CAPACITY_AH
        listener.hear({"house current": amps, "house cell 1 temperature": 1.0})
        assert listener.finding("cold charging").clears is False

    for _ in range(20):
        listener.hear({"house current": -3.0, "house cell 1 temperature": 1.0})

    assert listener.finding("cold charging").clears is True


def test_a_current_that_is_not_heard_is_unknown() -> None:
    listener = Listener()

    listener.hear({"house cell 1 temperature": -5.0})

    assert listener.finding("cold charging").holds is None


def test_the_makers_limit_is_the_settings() -> None:
    """A bank that must not be charged below 5 °C."""
    listener = Listener(CellWatch(settings(cold_C=5.0)))

    listener.hear({"house current": CHARGE_A, "house cell 1 temperature": 6.0})

    assert listener.finding("cold charging").severity is Severity.ALARM


@pytest.mark.parametrize(
    ("celsius", "holds", "severity"),
    [(49.0, False, None), (51.0, True, None), (56.0, True, Severity.ALARM)],
)
def test_hot_cells_warn_before_the_limit_and_alarm_above_it(
    celsius: float, holds: bool, severity: Severity | None
) -> None:
    """The limit is 55 °C, the settings' default: common practice for the BMS of an LFP bank."""
    listener = Listener()

    listener.hear({"house current": 30.0, "house cell 1 temperature": celsius})

    found = listener.finding("hot cells")
    assert (found.holds, found.severity) == (holds, severity)


@pytest.mark.parametrize(("amps", "holds"), [(100.0, True), (-100.0, True), (1.0, False)])
def test_one_cell_much_hotter_than_the_others_under_current(amps: float, holds: bool) -> None:
    """A joint that heats by current shows only while it flows. The 8 °C are common practice."""
    listener = Listener()
    warmths = {f"house cell {n} temperature": 25.0 for n in (1, 2, 3)}

    listener.hear({"house current": amps, **warmths, "house cell 4 temperature": 34.0})

    found = listener.finding("hot cells")
    assert found.holds is holds
    if holds:
        assert found.reason.id == "alert: one cell hot"
        assert found.reason.facts["cell"] == "cell 4"


def test_unknown_temperatures_are_not_cool() -> None:
    listener = Listener()

    listener.hear({"house current": 30.0})

    assert listener.finding("hot cells").holds is None
    assert listener.finding("hot cells").clears is None
