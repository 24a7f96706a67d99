"""How an AC supply gives way under load: its impedance and its open-circuit voltage.

    V = V0 - R A

V0 wanders (the neighbours' kettles), R stays as long as the plug does. Both are followed by recursive
least squares (a Kalman filter in units of the unknown noise), so that nothing has to be remembered but
five numbers. With `wander` 0 it is the ordinary regression of V on A.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from monitor.estimation.bands import BAND_90

_DIFFUSE = 1e8
_WANDER = 0.25
"""Variance by which V0 moves in a minute, in units of the readings' own. Common practice."""
_LEAST_NOISE_V = 0.05
_NOISE_MEMORY = 300.0
"""Minutes over which the noise is averaged."""
_STRANGE = 5.0
"""A voltage so many standard deviations off was stepped by somebody else: V0 is found anew."""
_FEW, _SETTLED = 4, 20
"""Pairs before anything is known, and before the noise is known well enough to call a step one."""


class SourceLine:
    """V0 [V] and R [ohm] of one supply, moved by a pair of means every minute."""

    def __init__(self, wander: float = _WANDER) -> None:
        self._wander = wander
        self.forget()

    def forget(self) -> None:
        """Another plug, another pedestal."""
        self._mean = np.zeros(2)
        self._cov = np.diag([_DIFFUSE, _DIFFUSE])
        self._noise_V2 = 0.0
        self._count = 0

    def take(self, volts: float, amps: float) -> None:
        """One pair. [V, A]"""
        if self._count == 0:
            self._mean[0] = volts
        see = np.array([1.0, -amps])
        self._cov[0, 0] += self._wander
        spread = float(see @ self._cov @ see) + 1.0
        miss_V = volts - float(see @ self._mean)
        if self._count > _SETTLED and miss_V**2 > _STRANGE**2 * self._var_V2 * spread:
            self._cov[0, 0] += miss_V**2 / self._var_V2
            spread = float(see @ self._cov @ see) + 1.0
        gain = self._cov @ see / spread
        self._mean = self._mean + gain * miss_V
        keep = np.eye(2) - np.outer(gain, see)
        self._cov = keep @ self._cov @ keep.T + np.outer(gain, gain)
        self._count += 1
        if self._count > 2:
            weight = 1.0 / min(self._count - 2, _NOISE_MEMORY)
            self._noise_V2 += weight * (miss_V**2 / spread - self._noise_V2)

    @property
    def _var_V2(self) -> float:
        return float(max(self._noise_V2, _LEAST_NOISE_V**2))

    @property
    def ohm(self) -> float:
        """R: by how much the voltage falls for an ampere. [V/A]"""
        return float(self._mean[1])

    @property
    def ohm_sd(self) -> float:
        return float(np.sqrt(self._var_V2 * self._cov[1, 1]))

    @property
    def open_V(self) -> float:
        """V0: what it would be without our load. [V]"""
        return float(self._mean[0])

    @property
    def open_sd_V(self) -> float:
        return float(np.sqrt(self._var_V2 * self._cov[0, 0]))

    @property
    def known(self) -> bool:
        """Whether the load has moved enough: the 90 % band of R is within 0.15 ohm or half of it."""
        return self._count > _FEW and BAND_90 * self.ohm_sd < max(0.15, 0.5 * abs(self.ohm))

    @property
    def significant(self) -> bool:
        """Whether the voltage surely falls with the load (one side, 95 %)."""
        return self.known and self.ohm - BAND_90 * self.ohm_sd > 0.0

    def most_A(self, least_V: float, sds: float = 0.0) -> float | None:
        """The current at which the voltage comes down to `least_V`: (V0 - V) / R. [A]

        `sds` takes R so many standard deviations higher. None while R is not surely above 0.
        """
        ohm = self.ohm + sds * self.ohm_sd
        if not self.significant or ohm <= 0.0:
            return None
        return max(0.0, (self.open_V - least_V) / ohm)

    def state(self) -> dict[str, Any]:
        return {
            "mean": self._mean.tolist(),
            "cov": self._cov.tolist(),
            "noise_V2": self._noise_V2,
            "count": self._count,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        mean, cov = np.array(state["mean"], np.float64), np.array(state["cov"], np.float64)
        if mean.shape == (2,) and cov.shape == (2, 2):
            self._mean, self._cov = mean, cov
            self._noise_V2, self._count = float(state["noise_V2"]), int(state["count"])
