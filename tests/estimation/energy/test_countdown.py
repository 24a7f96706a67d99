"""The countdown to a disconnect, on cells of published curves; and its arithmetic by hand.

That a warning comes before the BMS shuts down is what ABYC E-13 asks for (by secondary sources; the
standard's text was not opened). How long before, five minutes, is our own bar.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from monitor.estimation.cells import CellWatch
from monitor.estimation.trend import fit, meets
from monitor.records import Severity
from tests.estimation.energy.cell_string import A123, PRADA, CellString, Listener, settings

UPPER_V, LOWER_V = 3.65, 2.5
"""Makers' sheets: the common limits of an LFP cell."""


def until_cut(listener: Listener, cells: CellString, amps: float, *, alternator: bool = False) -> list[bool]:
    """Minutes of a steady current until a cell is at its limit: whether each warned."""
    warned: list[bool] = []
    while min(cells.volts()) > LOWER_V and max(cells.volts()) < UPPER_V:
        listener.live(cells, amps, alternator=alternator)
        warned.append(bool(listener.finding("cut coming").holds))
        assert len(warned) < 2000, "the cut never came"
    return warned


# ---- the arithmetic


def test_a_straight_line_meets_its_limit_at_gap_over_slope() -> None:
    # 3.50 V, 10 mV a minute, limit 3.65 V: 150 / 10 = 15 minutes after the last minute's end.
    minutes = 3.50 - 0.010 * (np.arange(8)[::-1] + 0.5)

    line = fit(minutes)

    assert line is not None
    assert meets(line, 3.65, upwards=True).likely == pytest.approx(15.0, abs=1e-6)


def test_a_steepening_line_is_followed_along_its_bend() -> None:
    # y = 3.5 + 0.01 x + 0.001 x² = 3.65: x = (-0.01 + sqrt(0.0001 + 4 * 0.001 * 0.15)) / 0.002 = 8.2288.
    x = -(np.arange(8)[::-1] + 0.5)

    line = fit(3.5 + 0.01 * x + 0.001 * x * x)

    assert line is not None
    assert meets(line, 3.65, upwards=True).likely == pytest.approx(8.2288, abs=1e-3)


def test_what_moves_away_from_its_limit_never_meets_it() -> None:
    line = fit(3.5 - 0.01 * np.arange(8))

    assert line is not None
    assert meets(line, 3.65, upwards=True).likely > 1e9
    assert meets(line, 2.5, upwards=False).likely < 1e3


def test_what_is_beyond_its_limit_has_met_it() -> None:
    line = fit(3.60 + 0.01 * np.arange(8))

    assert line is not None
    assert meets(line, 3.65, upwards=True).likely == 0.0


@pytest.mark.parametrize("minutes", [[3.4], [3.4, 3.4], [3.4, math.nan, 3.4]])
def test_too_little_gives_no_line(minutes: Sequence[float]) -> None:
    assert fit(minutes) is None


# ---- charging


@pytest.mark.parametrize(
    ("curve", "amps"), [(A123, 20.0), (A123, 45.0), (A123, 60.0), (PRADA, 20.0), (PRADA, 30.0)]
)
@pytest.mark.parametrize("ahead_pct", [2.0, 4.0])
def test_a_cell_that_runs_away_under_the_alternator_is_told_five_minutes_before(
    curve: Sequence[tuple[float, float]], amps: float, ahead_pct: float
) -> None:
    listener = Listener()
    cells = CellString([86 - ahead_pct, 86.0, 86 - ahead_pct, 86 - ahead_pct], curve)

    warned = until_cut(listener, cells, amps, alternator=True)

    assert all(warned[-5:]), "from five minutes before the cut on"
    assert listener.finding("cut coming").severity is Severity.ALARM
    assert not any(warned[: len(warned) // 3]), "not hours before"
    assert listener.finding("cut coming").reason.facts["cell"] == "cell 2"


def test_while_the_engine_charges_it_is_told_earlier() -> None:
    def lead(alternator: bool) -> int:
        cells = CellString([93.0, 97.0, 93.0, 93.0])
        return sum(until_cut(Listener(), cells, 8.0, alternator=alternator))

    assert lead(True) > lead(False) >= 5


def test_a_kettle_does_not_take_back_what_the_engine_leads_to() -> None:
    """It hides the climb while it boils; the alert goes when the alternator is eased."""
    listener, cells = Listener(), CellString([82.0, 86.0, 82.0, 82.0])
    while not listener.finding("cut coming").holds:
        listener.live(cells, 45.0, alternator=True)
    boiling = {"house current": -60.0, "alternator current": 45.0}
    volts = {f"house cell {n} voltage": 3.33 for n in range(1, 5)}
    for _ in range(8):
        listener.hear({**boiling, **volts})
        assert listener.finding("cut coming").clears is False

    listener.hear({**volts, "house current": -15.0, "alternator current": 0.0})

    assert listener.finding("cut coming").clears is True


def test_an_ordinary_absorption_is_no_warning() -> None:
    """All cells come to 3.55 V together and the charger holds 14.2 V: nothing is cut."""
    for amps, alternator in ((60.0, True), (25.0, False), (80.0, False)):
        listener, cells = Listener(), CellString([85.0, 85.15, 85.1, 85.0])
        for _ in range(200):
            listener.live(cells, amps, 14.2, alternator=alternator)
            assert listener.finding("cut coming").holds is False
        assert max(cells.volts()) > 3.5
        assert listener.estimate("cut_minutes").beyond


def test_a_sunny_day_with_clouds_is_no_warning() -> None:
    listener, cells = Listener(), CellString([94.0, 94.2, 94.1, 94.0])
    rng = np.random.default_rng(7)
    for _ in range(400):
        sun_A, load_A = 28 * rng.uniform(0.1, 1.0), 5 + 8 * (rng.random() < 0.3)
        listener.live(cells, float(sun_A - load_A), 14.2)
        assert listener.finding("cut coming").holds is False


def test_that_the_charger_holds_is_said() -> None:
    listener, cells = Listener(), CellString([95.0, 95.2, 95.1, 95.0], ohm=0.002)
    reasons = []
    for _ in range(60):
        listener.live(cells, 60.0, 14.2)
        reasons.append(listener.estimate("cut_minutes").reason.id)

    assert "cut: charger holds" in reasons


# ---- discharging


@pytest.mark.parametrize("amps", [15.0, 40.0, 90.0])
def test_the_lowest_cell_down_its_knee_is_told_five_minutes_before(amps: float) -> None:
    listener, cells = Listener(), CellString([25.0, 25.0, 22.0, 25.0])

    warned = until_cut(listener, cells, -amps)

    assert all(warned[-5:])
    assert listener.finding("cut coming").reason.facts["cell"] == "cell 3"
    assert not any(warned[: len(warned) // 2])


@pytest.mark.parametrize("amps", [15.0, 40.0])
def test_the_minutes_told_on_the_lower_knee_are_the_minutes_left(amps: float) -> None:
    """On the curve whose shape is built in, and within what its corners allow: a third."""
    listener, cells = Listener(), CellString([12.0, 12.0, 11.0, 12.0])
    told: list[float | None] = []
    while min(cells.volts()) > LOWER_V:
        listener.live(cells, -amps)
        told.append(listener.estimate("cut_minutes").value)

    for left_min in (10, 20):
        assert told[-left_min] == pytest.approx(left_min, rel=0.34)


def test_a_kettle_on_the_plateau_is_no_warning() -> None:
    listener, cells = Listener(), CellString([45.0, 45.0, 44.0, 45.0])
    for minute in range(120):
        listener.live(cells, -150.0 if minute % 30 < 4 else -10.0)
        assert listener.finding("cut coming").holds is False


# ---- what the BMS says itself

STEADY = {
    **{f"house cell {n} voltage": 3.33 for n in range(1, 5)},
    "house voltage": 13.32,
}


def test_a_limit_of_nothing_while_current_flows_is_told_at_once() -> None:
    listener = Listener()

    listener.hear({**STEADY, "house current": 60.0, "alternator current": 60.0, "house charge limit": 0.0})

    found = listener.finding("cut coming")
    assert (found.holds, found.severity) == (True, Severity.ALARM)
    assert found.reason.id == "alert: cut: charge limit, now, engine"


def test_a_limit_of_nothing_without_a_charge_is_nothing() -> None:
    listener = Listener()

    listener.hear({**STEADY, "house current": -5.0, "house charge limit": 0.0})

    assert listener.finding("cut coming").holds is False


def test_one_step_down_of_a_limit_is_no_countdown() -> None:
    listener = Listener()
    for limit_A in (230.0, 230.0, 230.0, 46.0, 46.0, 46.0, 46.0):
        listener.hear({**STEADY, "house current": 30.0, "house charge limit": limit_A})
        assert listener.finding("cut coming").holds is False


def test_a_limit_that_runs_out_is_followed_where_the_cells_are_silent() -> None:
    # 100, 90, 80, 70 A: 10 A a minute less: nothing in 7 minutes.
    listener = Listener()
    for limit_A in (100.0, 90.0, 80.0, 70.0):
        listener.hear({"house current": 60.0, "house voltage": 13.6, "house charge limit": limit_A})

    assert listener.estimate("cut_minutes").value == pytest.approx(7.0)


def test_the_pre_alarm_is_told_at_once() -> None:
    listener = Listener()

    listener.hear({**STEADY, "house current": -20.0, "house pre-alarm": 1.0})

    found = listener.finding("cut coming")
    assert (found.holds, found.severity) == (True, Severity.ALARM)


def test_a_pre_alarm_of_an_empty_bank_never_takes_its_charge_away() -> None:
    """Charging is what it wants: a warning, not an alarm, and no word of taking the alternator off."""
    listener = Listener()
    empty = {f"house cell {n} voltage": 2.88 for n in range(1, 5)}

    listener.hear(
        {**empty, "house voltage": 11.5, "house current": 70.0, "alternator current": 75.0,
         "house pre-alarm": 1.0}
    )  # fmt: skip

    found = listener.finding("cut coming")
    assert (found.holds, found.severity) == (True, None)
    assert found.reason.id == "alert: cut: pre-alarm, empty, now"


def test_an_open_contactor_is_a_cut_and_hides_its_own_forewarning() -> None:
    listener = Listener()
    listener.hear({**STEADY, "house current": 60.0, "house contactor closed": 1.0})
    assert listener.finding("cut off").holds is False

    listener.hear({**STEADY, "house current": 0.0, "house contactor closed": 0.0})

    found = listener.finding("cut off")
    assert (found.holds, found.clears) == (True, False)
    assert found.reason.id == "alert: cut off, charge"
    assert ("cut off", "house") in listener.finding("cut coming").under


# ---- temperatures


def test_cells_that_warm_towards_their_limit_are_counted_down() -> None:
    # Half a degree a minute, 50 °C now, limit 55 °C: ten minutes.
    listener = Listener()
    for minute in range(12):
        warmths = {f"house cell {n} temperature": 44.25 + 0.5 * minute for n in (1, 2)}
        listener.hear({**STEADY, "house current": 100.0, **warmths})

    assert listener.estimate("cut_minutes").value == pytest.approx(10.0, abs=1.0)
    assert listener.estimate("cut_minutes").reason.id == "cut: heat"


# ---- unknown, and restarts


def test_without_cells_nobody_knows() -> None:
    listener = Listener()
    listener.hear({"house voltage": 13.3, "house current": 20.0})

    assert listener.estimate("cut_minutes").value is None
    found = listener.finding("cut coming")
    assert (found.holds, found.clears) == (None, None)


def test_cells_that_fall_silent_are_unknown_again() -> None:
    listener = Listener()
    listener.hear({**STEADY, "house current": 20.0})
    assert listener.finding("cut coming").holds is False

    listener.hear({"house voltage": 13.3, "house current": 20.0})

    assert listener.finding("cut coming").holds is None


def test_what_the_charger_holds_is_remembered_through_a_restart() -> None:
    """An alternator's regulator at 14.4 V, once seen, is expected again."""
    listener, cells = Listener(), CellString([90.0, 90.0, 90.0, 90.0], ohm=0.004)
    for _ in range(90):
        listener.live(cells, 60.0, 14.4, alternator=True)
    again = CellWatch(settings())

    again.restore(listener.watch.state())

    assert again.state() == listener.watch.state()
    assert again.state()["house"]["countdown"]["hold_V"]["engine"] == pytest.approx(14.4, abs=0.01)


def test_a_gap_begins_the_trend_anew() -> None:
    listener, cells = Listener(), CellString([94.0, 98.5, 94.0, 94.0])
    for _ in range(4):
        listener.live(cells, 60.0, alternator=True)

    listener.watch.new_boot()
    assert listener.estimate("cut_minutes").value is None
    listener.at_s = 0.0
    listener.live(cells, 1.0)

    assert listener.finding("cut coming").holds is False
