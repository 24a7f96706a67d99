"""Dusk and dawn, and the sun of a cloudless sky."""

import numpy as np
import numpy.typing as npt

from monitor.clock import DAY_S, HOUR_S, Interval

Floats = npt.NDArray[np.float64]

_RIM = float(np.sin(np.radians(-0.833)))
"""The height of the sun's centre when its upper rim stands on the horizon, refraction included."""
_STEP_S = 600.0


def darkness(latitude: float, longitude: float, span: Interval) -> list[tuple[float, float]]:
    """The nights that touch `span`, sunset to sunrise in UTC seconds, cut to it.

    Polar day gives none, polar night one that fills the span. Sunset and sunrise are those of
    almanacs: the upper rim on a level horizon, 34' of refraction. Within 10 s of the NREL solar
    position algorithm at ordinary latitudes, less exact where the sun grazes the horizon; a day or
    night shorter than ten minutes may be passed over.
    """
    if span.end_s <= span.start_s:
        return []
    grid = np.linspace(span.start_s, span.end_s, max(2, int(span.seconds / _STEP_S) + 2))
    above = sine_of_elevation(latitude, longitude, grid) >= _RIM
    turns = np.flatnonzero(above[1:] != above[:-1])
    edges = _crossings(latitude, longitude, grid[turns], grid[turns + 1]).tolist()
    if not above[0]:
        edges.insert(0, span.start_s)
    if not above[-1]:
        edges.append(span.end_s)
    return list(zip(edges[::2], edges[1::2], strict=True))


def _crossings(latitude: float, longitude: float, early: Floats, late: Floats) -> Floats:
    """When the sun's rim crosses the horizon between each pair of moments: by halving, to 0.1 s."""
    rising = sine_of_elevation(latitude, longitude, late) >= _RIM
    for _ in range(13):
        middle = (early + late) / 2
        past = (sine_of_elevation(latitude, longitude, middle) >= _RIM) == rising
        early, late = np.where(past, early, middle), np.where(past, middle, late)
    return (early + late) / 2


def clear_sky_W_per_m2(latitude: float, longitude: float, utc_s: Floats) -> Floats:
    """Global irradiance on a level surface under a cloudless sky.

    Haurwitz (1945), with the constants of pvlib: G = 1098 cos z exp(-0.059 / cos z), z the sun's zenith
    angle, 0 below the horizon. Sea level, ordinary haze; some 5 % off on average.
    """
    height = np.maximum(sine_of_elevation(latitude, longitude, utc_s), 1e-4)
    return np.where(height > 1e-4, 1098.0 * height * np.exp(-0.059 / height), 0.0)


def sine_of_elevation(latitude: float, longitude: float, utc_s: Floats) -> Floats:
    """Sine of the height of the sun's centre, without refraction.

    Mean elements of the sun to the second order (J. Meeus, Astronomical Algorithms, ch. 25, low
    accuracy): within 0.02 degrees from 1950 to 2050.
    """
    centuries = (np.asarray(utc_s, np.float64) / DAY_S - 10957.5) / 36525.0
    mean_longitude = np.radians(280.46646 + 36000.76983 * centuries)
    anomaly = np.radians(357.52911 + 35999.05029 * centuries)
    centre = 1.914602 * np.sin(anomaly) + 0.019993 * np.sin(2 * anomaly) + 0.000289 * np.sin(3 * anomaly)
    ecliptic = mean_longitude + np.radians(centre - 0.00569)
    tilt = np.radians(23.439291 - 0.0130042 * centuries)
    declination = np.arcsin(np.sin(tilt) * np.sin(ecliptic))
    ascension = np.arctan2(np.cos(tilt) * np.sin(ecliptic), np.cos(ecliptic))
    sidereal = np.radians(280.46061837 + 360.98564736629 * 36525.0 * centuries)
    hour_angle = sidereal + np.radians(longitude) - ascension
    here = np.radians(latitude)
    return np.asarray(
        np.sin(here) * np.sin(declination) + np.cos(here) * np.cos(declination) * np.cos(hour_angle)
    )


def clear_sky_hours(latitude: float, longitude: float, first_hour_utc_s: float, hours: int) -> Floats:
    """Mean clear-sky irradiance of each of so many hours from `first_hour_utc_s` on. [W/m²]"""
    middles: Floats = first_hour_utc_s + (np.arange(hours * 6, dtype=np.float64) + 0.5) * (HOUR_S / 6)
    means: Floats = clear_sky_W_per_m2(latitude, longitude, middles).reshape(hours, 6).mean(axis=1)
    return means


def shape_of_day(latitude: float, longitude: float, utc_s: float) -> list[float]:
    """How a cloudless day's sun is spread over the 24 hours of UTC: shares that sum to 1.

    All alike where the sun does not rise.
    """
    hours = clear_sky_hours(latitude, longitude, utc_s // DAY_S * DAY_S, 24)
    total = float(hours.sum())
    return [1 / 24] * 24 if total <= 0 else [float(h) / total for h in hours]
