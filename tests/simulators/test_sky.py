"""The sun against NREL's algorithm and published examples; the panels against what they should yield."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import pvlib
import pytest

from simulators.sky import Clouds, clear_sky_W_per_m2, panels_clear_W, sun

RIA = (42.55, -8.90)


def test_the_worked_example_of_nrels_solar_position_report() -> None:
    """NREL/TP-560-34302: 2003-10-17 12:30:30 UTC-7, 39.742476 N 105.1786 W: zenith 50.11162,
    azimuth 194.34024. Tolerance 0.03 degrees, refraction (0.02) included."""
    at = np.array([datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC).timestamp()])

    height_sin, azimuth = sun(39.742476, -105.1786, at)

    assert 90 - np.degrees(np.arcsin(height_sin[0])) == pytest.approx(50.11162, abs=0.03)
    assert 180 + np.degrees(azimuth[0]) == pytest.approx(194.34024, abs=0.03)


@pytest.mark.parametrize("month", range(1, 13))
@pytest.mark.parametrize(("latitude", "longitude"), [RIA, (-35.0, 150.0), (0.0, -30.0), (68.0, 15.0)])
def test_the_sun_stands_where_nrels_algorithm_puts_it(month: int, latitude: float, longitude: float) -> None:
    start = datetime(2026, month, 11, tzinfo=UTC).timestamp()
    times = start + np.arange(0, 86400, 1800.0)
    theirs = pvlib.solarposition.spa_python(pd.to_datetime(times, unit="s", utc=True), latitude, longitude)

    height_sin, _ = sun(latitude, longitude, times)

    assert np.degrees(np.arcsin(height_sin)) == pytest.approx(theirs["elevation"].to_numpy(), abs=0.03)


def test_a_clear_sky_is_haurwitzs() -> None:
    zenith = pd.Series([0.0, 30.0, 60.0, 80.0, 95.0])
    theirs = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy()

    ours = clear_sky_W_per_m2(np.cos(np.radians(zenith.to_numpy())))

    assert ours == pytest.approx(theirs, rel=0.001, abs=0.1)


@pytest.mark.parametrize(("month", "day"), [(6, 21), (10, 21)])
def test_a_clear_day_gives_what_such_an_array_gives(month: int, day: int) -> None:
    """1.6 to 2.4 kWh from 520 W between October and June: common practice, about 3 to 4.6 Wh a
    watt of label; 5 % either way for the choice of the day."""
    times = datetime(2026, month, day, tzinfo=UTC).timestamp() + np.arange(0, 86400, 60.0)

    kWh = panels_clear_W(*RIA, times).sum() / 60 / 1000

    assert 1.6 * 0.95 <= kWh <= 2.4 * 1.05


def test_no_sun_no_power() -> None:
    night = datetime(2026, 10, 1, 1, tzinfo=UTC).timestamp() + np.arange(0, 3600, 60.0)
    assert panels_clear_W(*RIA, night) == pytest.approx(0.0)


def test_cloud_keeps_its_mean_and_its_persistence() -> None:
    """Lag-one correlation of clearness about 0.3 to 0.4: the value the generator states."""
    clouds = Clouds(0.6, 0.1, np.random.default_rng(7))
    days = []
    for day in range(4000):
        clouds.begin_day(day)
        days.append(clouds.today)

    assert np.mean(days) == pytest.approx(0.6, abs=0.01)
    assert np.corrcoef(days[:-1], days[1:])[0, 1] == pytest.approx(0.35, abs=0.05)
    assert np.mean(clouds.minutes(20_000)) == pytest.approx(clouds.today, abs=0.03)
