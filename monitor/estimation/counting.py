"""Ampere-hours below full, and what full charges teach about the sensor that counts them.

A Gaussian over five numbers: q, the charge below full [Ah]; b, the sensor's offset and whatever is
drawn past it [A]; l, the loss per ampere-hour charged; Q, the capacity [Ah]; g, the sensor's gain
error. Between fulls

    dq = -(S - b T)(1 - g) + l C

with S the sum of the measured current [Ah], C the part of it that charges [Ah] and T the time [h].
A full charge measures q. What was missed then is due to b T + l C, so the same update corrects
q and learns b and l; with even cycling only their sum is learned, which is what counting needs.
No noise is added per reading: errors of a current sensor are correlated, and averaging them away on
paper would make the band too narrow.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

BELOW, OFFSET, LOSS, CAPACITY, GAIN = range(5)


class Prior(NamedTuple):
    """What is believed before anything is learned: means, and standard deviations in the same order.

    Common practice: 150 mA is 15 µV at a 500 A, 50 mV shunt; a bank's capacity is within 8 % of its label
    (15 % for lead); lithium iron phosphate gives back 99.6 % (0.99617 measured at 25 °C in the ESC
    toolbox data), lead some 90 %.
    """

    offset_sd_A: float
    loss: float
    loss_sd: float
    capacity_sd: float
    gain_sd: float


PRIORS: dict[str, Prior] = {
    "lifepo4": Prior(0.15, 0.003, 0.004, 0.08, 0.005),
    "lead": Prior(0.15, 0.10, 0.05, 0.15, 0.005),
}

_OFFSET_WALK_A2_PER_DAY = 0.010**2
_LOSS_WALK_PER_DAY = 2e-4**2
_CAPACITY_WALK_PER_DAY = 0.02**2 / 365
_STRANGE = 4.0
"""A closure this many standard deviations off teaches nothing; two in a row mean a change."""


class Closure(NamedTuple):
    """What a full charge found: how far the count was off [Ah], in standard deviations, and learned from?"""

    miss_Ah: float
    z: float
    learned: bool


class Remaining(NamedTuple):
    """What is left as a share of the capacity and in Ah, and their standard deviations."""

    share: float
    share_sd: float
    Ah: float
    sd_Ah: float


class ChargeCount:
    """The Gaussian, moved by counting and pinned by full charges. Pure arithmetic, no time of its own."""

    def __init__(self, capacity_Ah: float, prior: Prior) -> None:
        self._prior = prior
        self.mean: Floats = np.array([0.0, 0.0, prior.loss, capacity_Ah, 0.0])
        sd = [0.0, prior.offset_sd_A, prior.loss_sd, prior.capacity_sd * capacity_Ah, prior.gain_sd]
        self.cov: Floats = np.diag(np.square(sd))
        self.strange = 0
        """Closures in a row that did not fit."""
        self.changed = False
        """Sensor or bank is not what it was: the offset is being learned anew."""

    @property
    def below_Ah(self) -> float:
        return float(self.mean[BELOW])

    @property
    def below_sd_Ah(self) -> float:
        return float(np.sqrt(self.cov[BELOW, BELOW]))

    @property
    def offset_A(self) -> float:
        return float(self.mean[OFFSET])

    @property
    def offset_sd_A(self) -> float:
        return float(np.sqrt(self.cov[OFFSET, OFFSET]))

    @property
    def capacity_Ah(self) -> float:
        return float(self.mean[CAPACITY])

    def remaining(self, unheard_Ah2: float = 0.0) -> Remaining:
        """What is left, between nothing and all; `unheard_Ah2` is added to the variance of q."""
        full_Ah, used = self.capacity_Ah, self.below_Ah / self.capacity_Ah
        below2 = float(self.cov[BELOW, BELOW]) + unheard_Ah2
        both, full2 = float(self.cov[BELOW, CAPACITY]), float(self.cov[CAPACITY, CAPACITY])
        return Remaining(
            min(1.0, max(0.0, 1 - used)),
            max(0.0, below2 - 2 * used * both + used**2 * full2) ** 0.5 / full_Ah,
            min(full_Ah, max(0.0, full_Ah - self.below_Ah)),
            max(0.0, full2 - 2 * both + below2) ** 0.5,
        )

    def advance(self, hours: float, net_Ah: float, charged_Ah: float) -> None:
        """Count on: `net_Ah` as the sensor has it, `charged_Ah` the charging part of it, offset removed."""
        below, offset, loss, _, gain = self.mean
        true_Ah = net_Ah - offset * hours
        self.mean[BELOW] = below - true_Ah * (1 - gain) + loss * charged_Ah
        slope = np.array([1.0, hours * (1 - gain), charged_Ah, 0.0, true_Ah])
        row = slope @ self.cov
        self.cov[BELOW, :] = self.cov[:, BELOW] = row
        self.cov[BELOW, BELOW] = row @ slope
        days = hours / 24
        self.cov[OFFSET, OFFSET] += _OFFSET_WALK_A2_PER_DAY * days
        self.cov[LOSS, LOSS] += _LOSS_WALK_PER_DAY * days
        self.cov[CAPACITY, CAPACITY] += _CAPACITY_WALK_PER_DAY * days * self.capacity_Ah**2

    def blur(self, variance_Ah2: float) -> None:
        """Something unknown flowed: nobody counted. The mean stays, the band widens."""
        self.cov[BELOW, BELOW] += variance_Ah2

    def pin(self, below_Ah: float, sd_Ah: float) -> None:
        """So far below full it is now, and nothing can be learned from that: count from here."""
        self.mean[BELOW] = below_Ah
        self.cov[BELOW, :] = self.cov[:, BELOW] = 0.0
        self.cov[BELOW, BELOW] = sd_Ah**2

    def close(self, below_Ah: float, sd_Ah: float) -> Closure:
        """So far below full it is now, after a stretch that was counted: learn from what was missed.

        The capacity is considered and held. A miss that cannot be is not learned from; the second in
        a row makes offset and loss as uncertain again as they were at first.
        """
        noise = sd_Ah**2
        variance = self.cov[BELOW, BELOW] + noise
        miss_Ah = below_Ah - self.below_Ah
        z = miss_Ah / float(np.sqrt(variance))
        if abs(z) <= _STRANGE:
            self.strange, self.changed = 0, False
            gain = self.cov[:, BELOW] / variance
            gain[CAPACITY] = 0.0
            self._correct(miss_Ah, gain, np.eye(5)[BELOW], noise)
            return Closure(miss_Ah, z, True)
        self.strange += 1
        if self.strange >= 2:
            self.changed = True
            for at, sd in ((OFFSET, self._prior.offset_sd_A), (LOSS, self._prior.loss_sd)):
                self.cov[at, at] = max(self.cov[at, at], sd**2)
        self.pin(below_Ah, sd_Ah)
        return Closure(miss_Ah, z, False)

    def rested(self, share: float, sd_share: float) -> None:
        """A rested voltage under the plateau says that `share` of the capacity is left.

        Measures q - (1 - share) Q = 0, and so corrects q and Q: between full and the lower knee lies
        nearly the whole capacity. Offset, loss and gain are considered, and learn nothing.
        """
        see = np.array([1.0, 0.0, 0.0, -(1 - share), 0.0])
        noise = (sd_share * self.capacity_Ah) ** 2
        seen = self.cov @ see
        gain = seen / (see @ seen + noise)
        gain[[OFFSET, LOSS, GAIN]] = 0.0
        self._correct(-float(see @ self.mean), gain, see, noise)

    def _correct(self, miss: float, gain: Floats, see: Floats, noise: float) -> None:
        """Any gain's update in Joseph's form, which keeps the covariance one."""
        self.mean += gain * miss
        keep = np.eye(5) - np.outer(gain, see)
        self.cov = keep @ self.cov @ keep.T + noise * np.outer(gain, gain)

    def state(self) -> dict[str, Any]:
        return {
            "mean": self.mean.tolist(),
            "cov": self.cov.tolist(),
            "strange": self.strange,
            "changed": self.changed,
        }

    def restore(self, state: dict[str, Any]) -> None:
        mean, cov = _numbers(state["mean"]), _numbers(state["cov"])
        if mean.shape == self.mean.shape and cov.shape == self.cov.shape:
            self.mean, self.cov = mean, cov
            self.strange, self.changed = int(state["strange"]), bool(state["changed"])


def _numbers(rows: Sequence[Any]) -> Floats:
    return np.array(rows, dtype=np.float64)
