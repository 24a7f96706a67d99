"""The night's ledger: exact in its sum whatever comes in, and nothing told that was not heard."""

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import Interval
from monitor.estimation.ledger import STANDING, night
from monitor.records import NightLedger

DUSK_S = 1_780_000_000.0
TEN_HOURS = Interval(DUSK_S, DUSK_S + 36_000.0)
Floats = npt.NDArray[np.float64]
MINUTES: Floats = DUSK_S + np.arange(600.0) * 60.0


def balances(ledger: NightLedger) -> bool:
    """made - used = net and the parts of use add up, to the last bit."""
    assert ledger.made_Wh is not None
    assert ledger.used_Wh is not None
    assert ledger.unexplained_Wh is not None
    parts = sum(share.Wh for share in ledger.by) + ledger.unexplained_Wh
    return ledger.made_Wh - ledger.used_Wh == ledger.net_Wh and parts == ledger.used_Wh


def test_a_night_by_hand() -> None:
    """Ten hours: 30 W always, a fridge of 60 W for a third of the time, 300 W charged in the last
    hour. Used 300 + 200, made 300, net -200 Wh (own arithmetic)."""
    load = np.where(np.arange(600) % 30 < 10, 90.0, 30.0)
    made = np.where(np.arange(600) >= 540, 300.0, 0.0)

    ledger = night(
        TEN_HOURS, MINUTES, made - load, made, water_L=21.0, pump_starts=9, lowest_V={"house": 12.9},
        dusk_pct=71.0, dawn_pct=66.0,
    )  # fmt: skip

    assert (ledger.used_Wh, ledger.made_Wh, ledger.net_Wh) == (500.0, 300.0, -200.0)
    (standing,) = ledger.by
    assert (standing.what, standing.Wh, standing.runs) == (STANDING, 300.0, None)
    assert ledger.unexplained_Wh == 200.0
    assert ledger.missing_s == 0.0
    assert not ledger.made_estimated
    assert (ledger.water_L, ledger.pump_starts, ledger.lowest_V) == (21.0, 9, {"house": 12.9})
    assert (ledger.dusk_pct, ledger.dawn_pct) == (71.0, 66.0)
    assert balances(ledger)


def test_time_not_heard_is_told_and_in_no_figure() -> None:
    """Three of ten hours missing from a steady 50 W: 350 Wh used, not 500."""
    net = np.full(600, -50.0)
    net[120:300] = np.nan

    ledger = night(TEN_HOURS, MINUTES, net, np.zeros(600))

    assert ledger.used_Wh == pytest.approx(350.0, abs=0.01)
    assert ledger.missing_s == 3 * 3600.0
    assert ledger.by[0].confidence < 0.9 * 0.71
    assert balances(ledger)


def test_a_night_not_heard_has_no_figures() -> None:
    for utc_s, net in ((MINUTES, np.full(600, np.nan)), (np.empty(0), np.empty(0))):
        ledger = night(TEN_HOURS, utc_s, net, None)

        assert (ledger.used_Wh, ledger.made_Wh, ledger.net_Wh, ledger.unexplained_Wh) == (None,) * 4
        assert ledger.by == ()
        assert ledger.missing_s == 36_000.0


def test_charging_without_a_meter_is_estimated_and_said() -> None:
    """An hour of 200 W into the bank that no meter saw was made by something: at least 200 Wh."""
    net = np.where(np.arange(600) < 60, 200.0, -40.0)

    for made in (None, np.zeros(600)):
        ledger = night(TEN_HOURS, MINUTES, net, made)

        assert ledger.made_estimated
        assert ledger.made_Wh == pytest.approx(200.0, abs=0.01)
        assert ledger.used_Wh == pytest.approx(360.0, abs=0.01)
        assert balances(ledger)
        (standing,) = ledger.by
        assert standing.Wh == pytest.approx(360.0, abs=0.01)
        assert standing.confidence < 0.7


def test_only_the_night_itself_counts() -> None:
    around: Floats = DUSK_S + np.arange(-60.0, 660.0) * 60.0
    net = np.where((around < DUSK_S) | (around >= TEN_HOURS.end_s), -5000.0, -36.0)

    assert night(TEN_HOURS, around, net, np.zeros(720)).used_Wh == pytest.approx(360.0, abs=0.01)


def test_a_few_hours_are_no_ground_for_a_standing_load() -> None:
    hours: Floats = DUSK_S + np.arange(10.0) * 3600.0

    ledger = night(TEN_HOURS, hours, np.full(10, -50.0), np.zeros(10), step_s=3600.0)

    assert ledger.by == ()
    assert ledger.unexplained_Wh == ledger.used_Wh == 500.0


POWER = st.one_of(st.floats(-1e6, 1e6), st.just(math.nan), st.just(math.inf), st.just(-math.inf))


@given(
    st.lists(st.tuples(st.floats(-7200.0, 43_200.0), POWER, POWER), min_size=1, max_size=80),
    st.booleans(),
    st.sampled_from([1.0, 60.0, 3600.0]),
)
def test_whatever_comes_in_the_sum_is_exact(
    rows: list[tuple[float, float, float]], metered: bool, step_s: float
) -> None:
    at, net, made = (np.array(x) for x in zip(*rows, strict=True))

    ledger = night(TEN_HOURS, DUSK_S + at, net, made if metered else None, step_s=step_s)

    assert 0.0 <= ledger.missing_s <= 36_000.0
    if ledger.net_Wh is not None:
        assert balances(ledger)
        assert ledger.used_Wh is not None
        assert ledger.used_Wh >= 0.0
        assert all(0.0 <= share.Wh <= ledger.used_Wh and 0 <= share.confidence <= 1 for share in ledger.by)
