"""What an hour of engine really puts in: learned, net, out of the tail."""

import numpy as np
import pytest

from monitor.estimation.charge_power import ChargePower, in_tail, planned_W
from monitor.settings import Bank, Charger
from tests.estimation.energy.test_flows import Aboard

LITHIUM = Bank(name="house", capacity_Ah=400, nominal_V=12.8)
LEAD = Bank(name="house", capacity_Ah=400, nominal_V=12.0, chemistry="lead")


def test_a_rating_in_watts_counts_before_one_in_amperes() -> None:
    """Common practice: an alternator gives 60 % of its label, and a charger on mains 90 %."""
    amps = Charger(name="a", kind="alternator", into="house", rated_A=90)
    watts = Charger(name="b", kind="shore", into="house", rated_A=90, rated_W=1000)

    assert planned_W(amps, LITHIUM, "alternator") == pytest.approx(0.6 * 90 * 12.8)
    assert planned_W(watts, LITHIUM, "shore") == pytest.approx(900)
    assert planned_W(Charger(name="c", kind="wind", into="house"), LITHIUM, "wind") == 0.0


def test_the_tail_begins_where_the_chemistry_has_it() -> None:
    """Common practice: lithium tapers in its last 5 %, lead from 80 % on; both where a charger holds the
    voltage of a full bank: 3.45 V a lithium cell, 2.35 V a lead one."""
    assert in_tail(LITHIUM, 13.4, 94.0) is False
    assert in_tail(LITHIUM, 13.4, 96.0) is True
    assert in_tail(LITHIUM, 13.8, 60.0) is True
    assert in_tail(LEAD, 13.0, 85.0) is True
    assert in_tail(LEAD, 14.2, None) is True
    assert in_tail(LITHIUM, None, None) is None


def test_it_is_the_median_of_running_in_earnest() -> None:
    """Out of normal noise the median of 300 minutes is within 1.25 x sd / sqrt(300) x 3 of the truth."""
    rng = np.random.default_rng(11)
    power = ChargePower(700.0)
    for net_W in rng.normal(640.0, 60.0, 300):
        power.take(720.0, float(net_W))

    assert power.learned
    assert power.usual_W == pytest.approx(640.0, abs=3 * 1.25 * 60 / 300**0.5)


def test_idling_teaches_nothing() -> None:
    power = ChargePower(700.0)
    for _ in range(100):
        power.take(150.0, 100.0)

    assert not power.learned
    assert power.usual_W == 700.0


def test_half_an_hour_is_enough_to_begin() -> None:
    power = ChargePower(700.0)
    for _ in range(29):
        power.take(650.0, 600.0)
    assert not power.learned

    power.take(650.0, 600.0)
    assert (power.learned, power.usual_W) == (True, 600.0)


def test_it_goes_on_learning() -> None:
    """A new belt, or a slipping one: after six hours of running the old figure is gone."""
    power = ChargePower(700.0)
    for net_W in [600.0] * 360 + [450.0] * 360:
        power.take(net_W + 80, net_W)

    assert power.usual_W == 450.0


def test_it_survives_a_restart() -> None:
    power, again = ChargePower(700.0), ChargePower(700.0)
    for _ in range(60):
        power.take(650.0, 600.0)
    again.restore([float(watts) for watts in power.state()])

    assert (again.learned, again.usual_W) == (True, 600.0)


def test_the_loads_and_the_other_sources_are_taken_off() -> None:
    """Alternator 700 W, panels 200 W, loads 120 W: the banks take 780 W, of which 580 W are the
    alternator's net. Own arithmetic."""
    aboard = Aboard().minutes(40, 780, alternator_power=700.0, panels_power=200.0, shore_charger_power=0.0)

    assert aboard.flow("alternator").learned
    assert aboard.flow("alternator").usual_W == pytest.approx(580.0)


def test_the_tail_teaches_nothing() -> None:
    """Nearly full the bank takes 200 W of an alternator that could give 700."""
    others = {"panels_power": 0.0, "shore_charger_power": 0.0}
    by_charge = Aboard().minutes(60, 200, pct=97.0, alternator_power=300.0, **others)
    by_volts = Aboard().minutes(60, 200, house_voltage=14.2, alternator_power=300.0, **others)

    assert not by_charge.flow("alternator").learned
    assert not by_volts.flow("alternator").learned


def test_what_is_told_by_balance_teaches_too() -> None:
    aboard = Aboard().minutes(40, 700, panels_power=100.0, shore_charger_power=0.0, engine_speed=1500.0)

    assert aboard.flow("alternator").learned
    assert aboard.flow("alternator").usual_W == pytest.approx(600.0)


def test_an_unknown_other_source_spoils_the_balance() -> None:
    """Panels whose meter is silent by day may have given some of it."""
    aboard = Aboard().minutes(1, 0, panels_power=100.0)
    aboard.minutes(60, 700, alternator_power=700.0, shore_charger_power=0.0)

    assert not aboard.flow("alternator").learned


def test_generator_and_shore_are_learned_apart() -> None:
    others = {"panels_power": 0.0, "alternator_power": 0.0}
    aboard = Aboard().minutes(40, 500, shore_charger_power=600.0, shore_ac_voltage=230.0, **others)
    aboard.minutes(40, 850, shore_charger_power=950.0, genset_ac_voltage=230.0, **others)

    assert aboard.flow("shore charger").usual_W == pytest.approx(500.0)
    assert aboard.flow("generator").usual_W == pytest.approx(850.0)
