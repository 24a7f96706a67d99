"""Ampere-hours below full, and what full charges teach about the sensor that counts them.

A Gaussian over five numbers: q, the charge below full [Ah]; b, the sensor's offset and whatever is
drawn past it [A]; l, the loss per ampere-hour charged; Q, the capacity [Ah]; g, the sensor's gain
error. Between fulls

    dq = -(S - b T)(1 - g) + l C

with S the sum of the measured current [Ah], C the part of it that charges [Ah] and T the time [h].
A full charge measures q. What was missed then is due to b T + l C, so the same update corrects
q and learns b and l; with even cycling only their sum is learned, which is what counting needs.

What a closure can be known to: the errors of two fulls, and what the sensor wandered between them.
The full that ends one stretch begins the next, so its error comes back with the other sign: that is
why q is corrected and never just set, and stays tied to b. The wander is that of an offset which comes
and goes with the warmth of the days: its integral is a random walk of q. How great both are on this boat
its closures say (`monitor.estimation.repeats`). No noise is added per reading:
errors of a current sensor are correlated, and averaging them away on paper would make the band too
narrow. The capacity is learned elsewhere (`monitor.estimation.capacity`) and only considered here.
"""

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.priors import Prior
from monitor.estimation.repeats import Repeats

Floats = npt.NDArray[np.float64]

BELOW, OFFSET, LOSS, CAPACITY, GAIN = range(5)
_SENSOR = [OFFSET, LOSS, GAIN]


_OFFSET_WALK_A2_PER_DAY = 0.002**2
"""Common practice: 1 µV at a 500 A, 50 mV shunt is 10 mA, and so much it goes in a month, 40 mA in a year."""
_WANDER_PER_DAY = 0.0013**2
"""Of the capacity: an offset that comes and goes by 10 mA (1 µV) over two or three days, at 400 Ah."""
_LOSS_WALK_PER_DAY = 2e-4**2
_CAPACITY_WALK_PER_DAY = 0.02**2 / 365
_STRANGE = 4.0
"""A measurement this many standard deviations off teaches nothing; two closures in a row mean a change."""


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
    """The Gaussian, moved by counting and corrected by full charges. Pure arithmetic, no time of its own."""

    def __init__(self, capacity_Ah: float, prior: Prior) -> None:
        self._prior = prior
        self.mean: Floats = np.array([0.0, 0.0, prior.loss, capacity_Ah, 0.0])
        sd = [0.0, prior.offset_sd_A, prior.loss_sd, prior.capacity_sd * capacity_Ah, prior.gain_sd]
        self.cov: Floats = np.diag(np.square(sd))
        self.strange = 0
        """Closures in a row that did not fit."""
        self.changed = False
        """Sensor or bank is not what it was: the offset is being learned anew."""
        self._repeats = Repeats()
        self._believed_Ah2 = 0.0
        """Of the last full and of the wander since, as believed at first."""
        self._common_Ah = 0.0
        """Of q: the standard deviation of what every full charge has alike. No closure shows it."""

    @property
    def below_Ah(self) -> float:
        return float(self.mean[BELOW])

    @property
    def below_sd_Ah(self) -> float:
        return float(np.hypot(self.cov[BELOW, BELOW] ** 0.5, self._common_Ah))

    @property
    def offset_A(self) -> float:
        return float(self.mean[OFFSET])

    @property
    def offset_sd_A(self) -> float:
        return float(np.sqrt(self.cov[OFFSET, OFFSET]))

    @property
    def capacity_Ah(self) -> float:
        return float(self.mean[CAPACITY])

    @property
    def capacity_sd_Ah(self) -> float:
        return float(np.sqrt(self.cov[CAPACITY, CAPACITY]))

    def remaining(self, unheard_Ah2: float = 0.0, doubt: float = 0.0) -> Remaining:
        """What is left, between nothing and all.

        `unheard_Ah2` is added to the variance of q, `doubt`, a share, to what is not known of the capacity.
        """
        full_Ah, used = self.capacity_Ah, self.below_Ah / self.capacity_Ah
        below2 = self.below_sd_Ah**2 + unheard_Ah2
        both = float(self.cov[BELOW, CAPACITY])
        full2 = float(self.cov[CAPACITY, CAPACITY]) + (doubt * full_Ah) ** 2
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
        days = hours / 24
        self.cov[BELOW, :] = self.cov[:, BELOW] = row
        wander_Ah2 = _WANDER_PER_DAY * days * self.capacity_Ah**2
        self._believed_Ah2 += wander_Ah2
        self.cov[BELOW, BELOW] = row @ slope + self._repeats.factor * wander_Ah2
        self.cov[OFFSET, OFFSET] += _OFFSET_WALK_A2_PER_DAY * days
        self.cov[LOSS, LOSS] += _LOSS_WALK_PER_DAY * days
        self.cov[CAPACITY, CAPACITY] += _CAPACITY_WALK_PER_DAY * days * self.capacity_Ah**2

    def blur(self, variance_Ah2: float) -> None:
        """Something unknown flowed: nobody counted. The mean stays, the band widens."""
        self.cov[BELOW, BELOW] += variance_Ah2

    def pin(self, below_Ah: float, sd_Ah: float, common_Ah: float = 0.0) -> None:
        """A full charge, so far below full, from which nothing can be learned: count from here.

        `sd_Ah` is what is believed at first of what it has for itself, `common_Ah` what every full has alike.
        """
        self._believed_Ah2 = sd_Ah**2
        self.put(below_Ah, (self._repeats.factor * self._believed_Ah2) ** 0.5)
        self._common_Ah = common_Ah

    def put(self, below_Ah: float, sd_Ah: float) -> None:
        """So far below full it is now, whatever was counted."""
        self.mean[BELOW] = below_Ah
        self.cov[BELOW, :] = self.cov[:, BELOW] = 0.0
        self.cov[BELOW, BELOW] = sd_Ah**2
        self._common_Ah = 0.0

    def zeroed(self, offset_A: float, sd_A: float) -> float:
        """The sensor's offset was measured by itself: by so much that corrects what is missing. [Ah]

        What was counted since the last full was counted with the offset that was believed, so q is corrected
        with it. Where the two cannot both be right the sensor is not what it was: what it had counted stays.
        """
        was_Ah, noise = self.below_Ah, sd_A**2
        miss_A, variance = offset_A - self.offset_A, float(self.cov[OFFSET, OFFSET]) + noise
        if miss_A**2 > _STRANGE**2 * variance:
            self.hold_offset(offset_A, sd_A)
            return 0.0
        self._correct(miss_A, self.cov[:, OFFSET] / variance, np.eye(5)[OFFSET], noise)
        return self.below_Ah - was_Ah

    def hold_offset(self, offset_A: float, sd_A: float, moved_Ah: float = 0.0) -> None:
        """This is believed of the offset from now on, whatever was; `moved_Ah` is taken back from q."""
        self.mean[BELOW] -= moved_Ah
        self.mean[OFFSET] = offset_A
        self.cov[OFFSET, :] = self.cov[:, OFFSET] = 0.0
        self.cov[OFFSET, OFFSET] = sd_A**2
        self.cov[BELOW, BELOW] += moved_Ah**2

    def settle(self, filled_Ah: float, common_Ah: float) -> None:
        """A full bank is held on: its current says that so much less is missing. What is not known of
        the full stays as it is, however long it is held, but for what all have alike."""
        self.mean[BELOW] -= filled_Ah
        self._common_Ah = min(self._common_Ah, common_Ah)

    def close(self, below_Ah: float, sd_Ah: float, common_Ah: float = 0.0) -> Closure:
        """So far below full it is now, after a stretch that was counted: learn from what was missed.

        What fulls have alike cancels between two of them, but for what they have of it more or less.
        The capacity is considered and held. A miss that cannot be is not learned from; the second in
        a row makes offset and loss as uncertain again as they were at first.
        """
        noise = self._repeats.factor * sd_Ah**2 + (common_Ah - self._common_Ah) ** 2
        variance = float(self.cov[BELOW, BELOW]) + noise
        miss_Ah = below_Ah - self.below_Ah
        z = miss_Ah / variance**0.5
        if abs(z) <= _STRANGE:
            self.strange, self.changed = 0, False
            gain = self.cov[:, BELOW] / variance
            gain[CAPACITY] = 0.0
            self._correct(miss_Ah, gain, np.eye(5)[BELOW], noise)
            self._common_Ah += float(gain[BELOW]) * (common_Ah - self._common_Ah)
            self._repeats.closed(z, self._believed_Ah2 + sd_Ah**2, variance)
            self._believed_Ah2 = sd_Ah**2
            return Closure(miss_Ah, z, True)
        self.strange += 1
        if self.strange >= 2:
            self.changed = True
            for at, sd in ((OFFSET, self._prior.offset_sd_A), (LOSS, self._prior.loss_sd)):
                self.cov[at, at] = max(self.cov[at, at], sd**2)
        self.pin(below_Ah, sd_Ah, common_Ah)
        return Closure(miss_Ah, z, False)

    def rested(self, share: float, sd_share: float, teaches: bool) -> None:
        """A rested voltage under the plateau says that `share` of the capacity is left.

        Measures q - (1 - share) Q = 0. It corrects q and Q, or, where it `teaches` nothing of the capacity,
        q alone, as if the count had done it all; the rest is considered. Where count and voltage cannot
        both be right it is the voltage: the bank stands under its plateau.
        """
        see = np.array([1.0, 0.0, 0.0, -(1 - share), 0.0])
        noise = (sd_share * self.capacity_Ah) ** 2
        miss, doubt = -float(see @ self.mean), float(see @ self.cov @ see)
        if miss**2 > _STRANGE**2 * (doubt + noise):
            self.put((1 - share) * self.capacity_Ah, noise**0.5)
            return
        if not teaches:
            self.put(self.below_Ah, doubt**0.5)
            see[CAPACITY] = 0.0
        gain = self.cov @ see / (doubt + noise)
        gain[_SENSOR] = 0.0
        self._correct(miss, gain, see, noise)

    def between(self, least_Ah: float, most_Ah: float) -> bool:
        """q cannot lie outside [least, most]: an estimate that does moves to the edge, and is then
        uncertain by at least as much as it was wrong. One that lies inside is left alone."""
        edge_Ah = min(max(self.below_Ah, least_Ah), most_Ah)
        moved_Ah = abs(edge_Ah - self.below_Ah)
        if moved_Ah > 0:
            self.put(edge_Ah, max(self.below_sd_Ah, moved_Ah))
        return moved_Ah > 0

    def holds(self, capacity_Ah: float, sd_Ah: float, share_sd: float | None = None) -> None:
        """This is now believed of the capacity. Where it was learned at a share known to `share_sd`, q and
        Q are tied so that the share keeps that."""
        below2, full2 = float(self.cov[BELOW, BELOW]), sd_Ah**2
        self.mean[CAPACITY] = capacity_Ah
        self.cov[CAPACITY, :] = self.cov[:, CAPACITY] = 0.0
        self.cov[CAPACITY, CAPACITY] = full2
        used = self.below_Ah / capacity_Ah
        if share_sd is None or not used > 0:
            return
        both = (below2 + used**2 * full2 - (share_sd * capacity_Ah) ** 2) / (2 * used)
        tied = self.cov[BELOW, _SENSOR] @ np.linalg.pinv(self.cov[np.ix_(_SENSOR, _SENSOR)])
        own2 = max(0.0, below2 - float(tied @ self.cov[BELOW, _SENSOR]))
        most = 0.95 * (own2 * full2) ** 0.5
        self.cov[BELOW, CAPACITY] = self.cov[CAPACITY, BELOW] = min(max(both, -most), most)

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
            "repeats": self._repeats.state(),
            "believed_Ah2": self._believed_Ah2,
            "common_Ah": self._common_Ah,
        }

    def restore(self, state: dict[str, Any]) -> None:
        mean, cov = np.array(state["mean"], np.float64), np.array(state["cov"], np.float64)
        self.mean, self.cov = mean.reshape(5), cov.reshape(5, 5)
        self.strange, self.changed = int(state["strange"]), bool(state["changed"])
        self._repeats.restore(state["repeats"])
        self._believed_Ah2, self._common_Ah = float(state["believed_Ah2"]), float(state["common_Ah"])
