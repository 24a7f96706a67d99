"""Sun, cloud and what the panels could give. Powers in W, angles in degrees, times UTC seconds."""

import math

import numpy as np
from numpy.typing import NDArray

from monitor.clock import DAY_S

Floats = NDArray[np.float64]

J2000_DAYS = 10957.5
"""Noon of 1 January 2000, in days since 1970."""
ARRAY_W = 520.0
TILT_DEG = 25.0
"""The panels tilt on their rail, and the crew turns them to the noon sun."""
DERATING = 0.56
"""Rig and boom shadows, salt, wiring and warm cells together: common practice for a ketch."""
CLEAR_DIFFUSE = 0.15
PERSISTENCE = 0.35
"""Lag-one correlation of daily clearness."""


def sun(latitude: float, longitude: float, utc_s: Floats) -> tuple[Floats, Floats]:
    """Sine of the sun's height, and its azimuth from south [rad], west positive.

    The Astronomical Almanac's low-precision formulae: within 0.02 degrees from 1950 to 2050,
    without refraction.
    """
    n = utc_s / DAY_S - J2000_DAYS
    anomaly = np.radians(357.528 + 0.9856003 * n)
    ecliptic = np.radians(280.460 + 0.9856474 * n + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    tilt = np.radians(23.439 - 4e-7 * n)
    declination = np.arcsin(np.sin(tilt) * np.sin(ecliptic))
    ascension = np.arctan2(np.cos(tilt) * np.sin(ecliptic), np.cos(ecliptic))
    sidereal = np.radians((280.46062 + 360.98564737 * n + longitude) % 360)
    hour_angle, phi = sidereal - ascension, math.radians(latitude)
    height_sin = math.sin(phi) * np.sin(declination) + math.cos(phi) * np.cos(declination) * np.cos(
        hour_angle
    )
    azimuth = np.arctan2(
        np.sin(hour_angle), np.cos(hour_angle) * math.sin(phi) - np.tan(declination) * math.cos(phi)
    )
    return height_sin, azimuth


def clear_sky_W_per_m2(height_sin: Floats) -> Floats:
    """Global horizontal irradiance under a clear sky: 1098 s exp(-0.059 / s), s the height's sine.

    Haurwitz (1945); sea level.
    """
    s = np.maximum(height_sin, 1e-3)
    return np.where(height_sin > 0, 1098.0 * s * np.exp(-0.059 / s), 0.0)


def panels_clear_W(latitude: float, longitude: float, utc_s: Floats) -> Floats:
    """What *Marram*'s array could give under a clear sky."""
    height_sin, azimuth = sun(latitude, longitude, utc_s)
    flat = clear_sky_W_per_m2(height_sin)
    tilt = math.radians(TILT_DEG)
    height_cos = np.sqrt(np.maximum(0.0, 1 - height_sin**2))
    facing = height_sin * math.cos(tilt) + height_cos * math.sin(tilt) * np.cos(azimuth)
    gain = np.clip(facing / np.maximum(height_sin, 0.1), 0.0, 3.0)
    tilted = flat * ((1 - CLEAR_DIFFUSE) * gain + CLEAR_DIFFUSE * (1 + math.cos(tilt)) / 2)
    return ARRAY_W * DERATING * np.minimum(tilted, 1100.0) / 1000.0


class Clouds:
    """Daily clearness with persistence, and passing clouds by the minute within it."""

    def __init__(self, mean: float, sd: float, rng: np.random.Generator) -> None:
        self._mean, self._sd, self._rng = mean, sd, rng
        self._day: int | None = None
        self._deviation = 0.0
        self._passing = 0.0
        self.today = mean

    def begin_day(self, day: int, dull: float | None = None) -> None:
        """Draw that day's clearness; `dull` is a mean that overrules the usual one."""
        if day == self._day:
            return
        fresh = float(self._rng.normal())
        keep = PERSISTENCE if self._day is not None else 0.0
        self._deviation = keep * self._deviation + math.sqrt(1 - keep * keep) * fresh
        self._day = day
        mean, sd = (self._mean, self._sd) if dull is None else (dull, 0.3 * dull)
        self.today = min(1.0, max(0.05, mean + sd * self._deviation))

    def minutes(self, count: int) -> Floats:
        """The share of the clear sky's power for each of the coming minutes."""
        spread = 0.9 * self.today * (1.0 - self.today) + 0.02
        shocks = self._rng.normal(size=count)
        out = np.empty(count)
        passing = self._passing
        for n in range(count):
            passing = 0.85 * passing + 0.53 * shocks[n]
            out[n] = passing
        self._passing = passing
        return np.clip(self.today + spread * out, 0.03, 1.05)
