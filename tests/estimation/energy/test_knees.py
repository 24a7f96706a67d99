"""What a rested voltage says: at the knee something, on the plateau only what cannot be, in frost nothing."""

import pytest

from monitor.estimation.knees import bounds, cold_doubt, rested_charge

PLATEAU = [
    pytest.param(3.245, id="20 % by the measured cell"),
    pytest.param(3.308, id="50 %"),
    pytest.param(3.352, id="90 %"),
    pytest.param(3.440, id="98 %: only the charger's tail tells"),
    pytest.param(float("nan"), id="not available"),
]


@pytest.mark.parametrize("cell_V", PLATEAU)
def test_the_plateau_measures_nothing(cell_V: float) -> None:
    assert rested_charge(cell_V, 25.0) is None


@pytest.mark.parametrize(
    ("cell_V", "measured", "modelled"),
    [
        # Rested volts, charge by the measured A123 cell (ESC toolbox data) and by PyBaMM's Prada2013.
        pytest.param(3.178, 10.0, 22.4, id="measured 10 %"),
        pytest.param(3.025, 5.0, 12.5, id="measured 5 %"),
        pytest.param(3.169, 9.7, 20.0, id="modelled 20 %"),
        pytest.param(2.978, 4.8, 10.0, id="modelled 10 %"),
    ],
)
def test_under_the_plateau_the_band_holds_both_published_cells(
    cell_V: float, measured: float, modelled: float
) -> None:
    rested = rested_charge(cell_V, 25.0)

    assert rested is not None
    for pct in (measured, modelled):
        assert abs(pct - rested.pct) <= 1.645 * rested.sd_pct


# Charge [%], rested volts of a cell on its discharging and on its charging branch: the measured cell's mean
# (ESC toolbox data, C/27) with the widest of its gaps, 60 mV; and the modelled one (Prada2013), without.
CELLS = [
    *[
        pytest.param(pct, mean_V - 0.030, mean_V + 0.030, id=f"measured {pct} %")
        for pct, mean_V in (
            (20, 3.245), (30, 3.280), (40, 3.301), (50, 3.308), (60, 3.317),
            (70, 3.330), (80, 3.345), (90, 3.352), (95, 3.369),
        )
    ],
    *[
        pytest.param(pct, volts, volts, id=f"modelled {pct} %")
        for pct, volts in ((30, 3.206), (50, 3.266), (70, 3.274), (80, 3.310), (90, 3.314), (99, 3.415))
    ],
]  # fmt: skip


@pytest.mark.parametrize(("pct", "discharged_V", "charged_V"), CELLS)
@pytest.mark.parametrize("celsius", [25.0, None])
def test_what_a_published_cell_shows_is_never_called_impossible(
    pct: float, discharged_V: float, charged_V: float, celsius: float | None
) -> None:
    for cell_V in (discharged_V, charged_V):
        edges = bounds(cell_V, celsius)
        if edges is not None:
            assert edges[0] <= pct <= edges[1]


def test_a_plateau_voltage_rules_out_the_ends() -> None:
    """Published at rest: 3.025 and 2.9 V at 5 %, 3.369 and 3.36 V at 95 %: neither shows the other's."""
    high, low = bounds(3.33, 25.0), bounds(3.22, 25.0)

    assert high is not None
    assert low is not None
    assert high[0] > 5.0
    assert low[1] < 95.0


@pytest.mark.parametrize("cell_V", [3.10, 3.55, float("nan")])
def test_off_the_plateau_nothing_is_ruled_out(cell_V: float) -> None:
    assert bounds(cell_V, 25.0) is None


def test_temperature_not_told_is_no_twenty_five_degrees() -> None:
    """Common practice: half an hour is a rest from 10 to 45 °C; colder it is none, in frost no reading."""
    warm, untold, cool = (rested_charge(3.10, celsius) for celsius in (25.0, None, 5.0))

    assert warm is not None
    assert untold is not None
    assert cool is not None
    assert untold.sd_pct >= 5.0
    assert warm.sd_pct < untold.sd_pct == cool.sd_pct
    assert rested_charge(3.10, -3.0) is None
    assert bounds(3.30, 5.0) is None
    known, unknown = bounds(3.30, 25.0), bounds(3.30, None)
    assert known is not None
    assert unknown is not None
    assert unknown[0] < known[0]
    assert unknown[1] >= known[1]


def test_a_cold_bank_may_keep_some_to_itself() -> None:
    """Common practice: half a per cent a kelvin below 15 °C; 7.5 % at 0 °C."""
    assert cold_doubt(20.0) == 0.0
    assert cold_doubt(0.0) == pytest.approx(0.075)
    assert cold_doubt(None) > 0.0
