"""A supply's impedance by recursive regression, against ordinary regression and against its own band."""

import json

import numpy as np
import pytest

from monitor.estimation.bands import BAND_90
from monitor.estimation.sag import SourceLine

NOMINAL_V = 230.0
LEAST_V = 0.92 * NOMINAL_V


def pedestal(
    rng: np.random.Generator, minutes: int, ohm: float, open_V: float, noise_V: float, wander_V: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Volts and amps of a supply whose load changes every few minutes, and whose V0 walks."""
    amps = np.repeat(rng.uniform(0.0, 14.0, minutes), rng.integers(1, 8, minutes))[:minutes]
    walk = np.cumsum(rng.normal(0.0, wander_V, minutes))
    return open_V + walk - ohm * amps + rng.normal(0.0, noise_V, minutes), amps


def follow(volts: np.ndarray, amps: np.ndarray, line: SourceLine) -> SourceLine:
    for v, a in zip(volts.tolist(), amps.tolist(), strict=True):
        line.take(v, a)
    return line


def test_without_wander_it_is_the_ordinary_regression() -> None:
    """numpy.polyfit with cov=True (least squares, residual variance over n - 2) on the same pairs.

    The recursive residuals' squares sum to the regression's own (Brown, Durbin and Evans, 1975), so
    the standard deviations agree too. Tolerance: what the diffuse start leaves.
    """
    volts, amps = pedestal(np.random.default_rng(3), 200, 0.4, 231.0, 0.6)

    line = follow(volts, amps, SourceLine(wander=0.0))
    (slope, level), cov = np.polyfit(amps, volts, 1, cov=True)

    assert line.ohm == pytest.approx(-slope, abs=1e-5)
    assert line.open_V == pytest.approx(level, abs=1e-4)
    assert line.ohm_sd == pytest.approx(cov[0, 0] ** 0.5, rel=0.01)
    assert line.open_sd_V == pytest.approx(cov[1, 1] ** 0.5, rel=0.01)


def test_the_band_holds_the_truth_as_often_as_it_says() -> None:
    """90 % of 300 pedestals; three standard deviations of a binomial are 5 %."""
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(300):
        ohm = rng.uniform(0.1, 1.2)
        volts, amps = pedestal(rng, 240, ohm, rng.uniform(215, 240), 0.6, 0.3)
        line = follow(volts, amps, SourceLine())
        assert line.known
        held += abs(line.ohm - ohm) <= BAND_90 * line.ohm_sd
    assert 0.85 <= held / 300 <= 0.95


def test_a_steady_load_tells_nothing_of_the_impedance() -> None:
    """One point is no line: with 8 A all the time nothing separates V0 from R A."""
    rng = np.random.default_rng(5)
    line = follow(224.0 + rng.normal(0, 0.5, 300), np.full(300, 8.0), SourceLine())

    assert not line.known
    assert not line.significant
    assert line.most_A(LEAST_V) is None


def test_the_greatest_current_by_hand() -> None:
    """230 V nominal: 8 % below is 211.6 V. From 232 V over 1.5 ohm: (232 - 211.6) / 1.5 = 13.6 A."""
    amps = np.tile([0.0, 4.0, 9.0, 2.0], 20)
    line = follow(232.0 - 1.5 * amps, amps, SourceLine())

    most, cautious = line.most_A(LEAST_V), line.most_A(LEAST_V, BAND_90)
    assert most == pytest.approx(13.6, abs=0.05)
    assert cautious is not None
    assert cautious < 13.6


def test_a_neighbours_kettle_moves_the_open_voltage_and_not_the_impedance() -> None:
    """A step of 6 V that our own load did not make."""
    rng = np.random.default_rng(8)
    volts, amps = pedestal(rng, 400, 0.5, 232.0, 0.4)
    volts[200:] -= 6.0

    line = follow(volts, amps, SourceLine())

    assert line.ohm == pytest.approx(0.5, abs=2 * BAND_90 * line.ohm_sd)
    assert line.open_V == pytest.approx(226.0, abs=1.5)


def test_what_is_kept_goes_on_as_if_nothing_had_been() -> None:
    volts, amps = pedestal(np.random.default_rng(2), 120, 0.4, 231.0, 0.5)
    whole = follow(volts, amps, SourceLine())
    half = follow(volts[:60], amps[:60], SourceLine())
    again = SourceLine()
    again.restore(json.loads(json.dumps(half.state())))

    follow(volts[60:], amps[60:], again)

    assert (again.ohm, again.open_V, again.ohm_sd) == pytest.approx((whole.ohm, whole.open_V, whole.ohm_sd))
