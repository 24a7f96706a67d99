"""Dusk and dawn against the NREL solar position algorithm and almanacs; clear sky against pvlib."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd  # type: ignore[import-untyped]
import pvlib
import pytest

from monitor.clock import DAY_S, Interval
from monitor.estimation.sun import clear_sky_W_per_m2, darkness, shape_of_day, sine_of_elevation

SPA_S = 10.0
ALMANAC_S = 60.0
"""USNO prints minutes: half a minute of rounding, and its own atmosphere."""
MST = timezone(timedelta(hours=-7))
CHINA = timezone(timedelta(hours=8))

# Place, zone, day, sunrise, sunset, tolerance. NREL SPA calculator values as printed in pvlib's own
# tests (test_spa.py, test_solarposition.py), and U.S. Naval Observatory tables to the minute. pvlib
# prints 19:13:58 as the sunset of 2 August: that is the one of that UTC day, on 1 August in Golden.
RISE_AND_SET = [
    pytest.param(39.742476, -105.1786, MST, "2015-01-02", "07:21:55", "16:47:43", SPA_S, id="Golden winter"),
    pytest.param(39.742476, -105.1786, MST, "2015-08-02", "05:00:27", None, SPA_S, id="Golden summer, rise"),
    pytest.param(39.742476, -105.1786, MST, "2015-08-01", None, "19:13:58", SPA_S, id="Golden summer, set"),
    pytest.param(39.742476, -105.1786, MST, "2015-08-02", "05:00:00", "19:13:00", ALMANAC_S, id="USNO"),
    pytest.param(-35.0, 0.0, UTC, "1996-07-05", "07:08:15", "17:01:04", SPA_S, id="35 south, July"),
    pytest.param(-35.0, 0.0, UTC, "2004-12-04", "04:38:57", "19:02:02", SPA_S, id="35 south, December"),
    pytest.param(35.0, 0.0, UTC, "1994-01-02", "07:08:12", "16:59:55", SPA_S, id="35 north, January"),
    pytest.param(39.0, -105.0, MST, "2015-04-02", "05:43:00", "18:24:00", ALMANAC_S, id="USNO April"),
    pytest.param(39.0, -105.0, MST, "2015-12-02", "07:01:00", "16:38:00", ALMANAC_S, id="USNO December"),
    pytest.param(39.917, 116.383, CHINA, "2015-01-02", "07:36:00", "17:00:00", ALMANAC_S, id="Beijing"),
    pytest.param(39.917, 116.383, CHINA, "2015-08-02", "05:13:00", "19:28:00", ALMANAC_S, id="Beijing, 8"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "day", "rise", "set_", "tolerance_s"), RISE_AND_SET
)
def test_sunrise_and_sunset_are_the_almanacs(
    latitude: float,
    longitude: float,
    zone: timezone,
    day: str,
    rise: str | None,
    set_: str | None,
    tolerance_s: float,
) -> None:
    midnight = datetime.fromisoformat(day).replace(tzinfo=zone).timestamp()

    before, after = darkness(latitude, longitude, Interval(midnight, midnight + DAY_S))

    for found, clock in ((before[1], rise), (after[0], set_)):
        if clock is not None:
            expected = datetime.fromisoformat(f"{day}T{clock}").replace(tzinfo=zone).timestamp()
            assert found == pytest.approx(expected, abs=tolerance_s)


PLACES = [
    pytest.param(42.55, -8.90, id="a Galician ria"),
    pytest.param(-17.7, 180.0, id="on longitude 180"),
    pytest.param(-17.7, -179.99, id="just beyond it"),
    pytest.param(59.6, 150.8, id="sunrise on the UTC day before"),
    pytest.param(0.0, 0.0, id="on the equator"),
]


def times_of(utc_s: npt.NDArray[np.float64]) -> Any:
    """The index of times that pvlib takes."""
    return pd.to_datetime(utc_s, unit="s", utc=True)


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_every_night_of_a_year_ends_with_the_rim_on_the_horizon(latitude: float, longitude: float) -> None:
    """By the NREL algorithm in pvlib the centre then stands 50 minutes of arc below the horizon."""
    start = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    nights = darkness(latitude, longitude, Interval(start, start + 365 * DAY_S))

    whole = [n for n in nights if n[0] > start and n[1] < start + 365 * DAY_S]
    assert len(whole) in (363, 364, 365)
    assert all(b[0] > a[1] for a, b in pairwise(nights))
    edges = times_of(np.array(whole).ravel())
    elevation = pvlib.solarposition.get_solarposition(edges, latitude, longitude).elevation
    assert np.abs(elevation.to_numpy() + 50 / 60).max() < 0.02


def test_polar_night_is_one_and_polar_day_is_none() -> None:
    """Tromsø, 69.65 N: by the NREL algorithm the sun's noon height is below the rim from 28 November
    to 14 January, and its midnight height above it from 19 May to 25 July."""
    winter, summer = (datetime(2026, month, 21, tzinfo=UTC).timestamp() for month in (12, 6))
    dark, light = (Interval(start, start + 3 * DAY_S) for start in (winter, summer))

    assert darkness(69.65, 18.96, dark) == [(dark.start_s, dark.end_s)]
    assert darkness(69.65, 18.96, light) == []
    assert darkness(90.0, 0.0, light) == []
    assert darkness(-90.0, 0.0, light) == [(light.start_s, light.end_s)]


def test_a_span_inside_a_night_is_dark_and_an_empty_one_is_not() -> None:
    midnight = datetime(2026, 1, 2, 0, 30, tzinfo=UTC).timestamp()

    assert darkness(42.55, -8.9, Interval(midnight, midnight + 60)) == [(midnight, midnight + 60)]
    assert darkness(42.55, -8.9, Interval(midnight, midnight)) == []


def test_the_solar_position_example_of_nrel() -> None:
    """NREL TP-560-34302: zenith 50.11162 degrees seen through the air, whose refraction there (820 hPa,
    11 °C) lifts the sun by 0.016 degrees. Tolerance 0.02 for a simple algorithm."""
    at = datetime(2003, 10, 17, 12, 30, 30, tzinfo=MST).timestamp()

    (sine,) = sine_of_elevation(39.742476, -105.1786, np.array([at]))

    assert 90 - np.degrees(np.arcsin(sine)) == pytest.approx(50.11162 + 0.016, abs=0.02)


def test_the_clear_sky_is_haurwitz_as_pvlib_has_it() -> None:
    times = datetime(2026, 1, 1, tzinfo=UTC).timestamp() + np.arange(0.0, 365 * DAY_S, 7001.0)
    sun = pvlib.solarposition.get_solarposition(times_of(times), 42.55, -8.9)
    expected = pvlib.clearsky.haurwitz(sun.zenith).ghi.to_numpy()

    assert clear_sky_W_per_m2(42.55, -8.9, times) == pytest.approx(expected, abs=1.0)


def test_the_shape_of_a_day_is_shares_around_local_noon() -> None:
    """At longitude 90 west the sun stands highest near 18 UTC."""
    shape = shape_of_day(30.0, -90.0, datetime(2026, 3, 21, tzinfo=UTC).timestamp())

    assert sum(shape) == pytest.approx(1.0)
    assert int(np.argmax(shape)) in (17, 18)
    assert shape[6] == 0.0
    assert shape_of_day(80.0, 0.0, datetime(2026, 12, 21, tzinfo=UTC).timestamp()) == [1 / 24] * 24
