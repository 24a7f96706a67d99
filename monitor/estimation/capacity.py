"""The capacity, from what lies between a full charge and the lower knee, and back.

Both members of a pair are in doubt: the share x that was drawn, by the knee's voltage, and the
ampere-hours y that were counted for it. Least squares on y alone would then be biased; weighted total
least squares are not, and their approximation below runs on six sums that forget:

    chi2(Q) = (c4 Q^4 - 2 c5 Q^3 + (c1 + c6) Q^2 - 2 c2 Q + c3) / (1 + Q^2)^2

with c1 = sum x²/sy², c2 = sum xy/sy², c3 = sum y²/sy², c4 = sum x²/sx², c5 = sum xy/sx², c6 = sum y²/sx²;
its least gives Q, its curvature the variance 2 / chi2''. Source: G. L. Plett, "Recursive approximate
weighted total least squares estimation of battery cell total capacity", Journal of Power Sources 196
(2011) 2319-2331, with y scaled so that both errors are about alike, and its forgetting of 0.98.
"""

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial

Floats = npt.NDArray[np.float64]

FORGETTING = 0.98
"""For every pair, and for every day between two: a bank fades by time, and pairs are rare."""
_MOST_FORGOTTEN = 0.7
"""However long ago the last pair was: a single knee is worth less than several older ones."""
_SCALE = 5.0
"""A knee's share is some five times less sure than the count."""
LEAST_DEPTH = 0.6
_FADES_PER_DAY = 0.20 / 365
"""One standard deviation of what a bank may have lost. Common practice: few age faster than that."""
_STRANGE = 3.0
_NEW_SD = 0.15
"""Of a bank that is no longer the one that was learned: common practice."""


class Learned(NamedTuple):
    """The capacity and its standard deviation. [Ah]"""

    Ah: float
    sd_Ah: float


class Capacity:
    """Sums over pairs, in parts of the label. It begins with the label as a pair of its own."""

    def __init__(self, label_Ah: float, label_sd: float) -> None:
        self._label_Ah = label_Ah
        self._sums: Floats = np.zeros(6)
        self._common = np.zeros(3)
        """Sums over pairs of what every one has, of their age in days, and of their weight."""
        self._believe(1.0, label_sd)
        self.pairs = 0
        self._days = 0.0
        self._strange = 0
        self.changed = False
        """Two pairs in a row did not fit: another bank, or one that has lost much at once."""

    def wait(self, days: float) -> None:
        """So much time has gone by."""
        self._days += days

    def pair(self, depth: float, drawn_Ah: float, depth_sd: float, drawn_sd_Ah: float, table: float) -> bool:
        """Between full and a knee lay `depth`, a share of the capacity, and `drawn_Ah` were counted.

        `table` is the part of `depth_sd` that is the same every time: what is not known of the cells'
        curve. The mean of many pairs has it, too. A pair of little depth says nothing, and a first one
        that cannot be is not learned from. Whether it was learned from.
        """
        drawn, drawn_sd = drawn_Ah / self._label_Ah, max(drawn_sd_Ah / self._label_Ah, 1e-4)
        if not LEAST_DEPTH <= depth <= 1 or not drawn > 0:
            return False
        at, sd = self._least()
        noise = np.hypot(depth_sd * at, drawn_sd)
        if abs(drawn - at * depth) > _STRANGE * np.hypot(noise, sd * depth):
            self._strange += 1
            if self._strange < 2:
                return False
            self._believe(drawn / depth, _NEW_SD)
            self.changed, self.pairs = True, 0
        else:
            self.changed = False
        self._strange = 0
        gamma = max(_MOST_FORGOTTEN, FORGETTING ** max(1.0, self._days))
        self._sums = gamma * self._sums + _terms(depth, drawn, depth_sd, drawn_sd)
        table_sum, age_sum, weight = self._common
        self._common = gamma * np.array([table_sum, age_sum + weight * self._days, weight])
        self._common += table / depth, 0.0, 1.0
        self.pairs, self._days = self.pairs + 1, 0.0
        return True

    def learned(self) -> Learned:
        """As it stands after the newest pair: what is in every pair, and what the bank may have lost since
        the mean pair, does not shrink with their number."""
        at, sd = self._least()
        table, age, weight = self._common
        common = np.hypot(table, _FADES_PER_DAY * age) / weight if weight > 0 else 0.0
        return Learned(at * self._label_Ah, float(np.hypot(sd, common * at)) * self._label_Ah)

    def _believe(self, at: float, sd: float) -> None:
        part = sd / (1 + 1 / _SCALE**2) ** 0.5
        self._sums = _terms(1.0, at, part / at, part / _SCALE)
        self._common = np.zeros(3)

    def _least(self) -> tuple[float, float]:
        """Where chi2 is least, and its standard deviation, in parts of the label."""
        c1, c2, c3, c4, c5, c6 = self._sums
        top = Polynomial([c3, -2 * c2, c1 + c6, -2 * c5, c4])
        slope = top.deriv() * Polynomial([1.0, 0.0, 1.0]) - top * Polynomial([0.0, 4.0])
        roots = np.asarray(slope.roots(), np.complex128)
        real = roots.real[(np.abs(roots.imag) < 1e-6 * np.abs(roots)) & (roots.real > 0)]
        best = float(real[np.argmin(top(real) / (1 + real**2) ** 2)])
        bend = float(slope.deriv()(best)) / (1 + best**2) ** 3
        return best / _SCALE, (2 / bend) ** 0.5 / _SCALE

    def state(self) -> dict[str, Any]:
        return {
            "sums": self._sums.tolist(),
            "common": self._common.tolist(),
            "pairs": self.pairs,
            "days": self._days,
            "strange": self._strange,
            "changed": self.changed,
        }

    def restore(self, state: dict[str, Any]) -> None:
        sums, common = (np.array(state[name], np.float64) for name in ("sums", "common"))
        self._sums, self._common = sums.reshape(6), common.reshape(3)
        self.pairs, self._days = int(state["pairs"]), float(state["days"])
        self._strange, self.changed = int(state["strange"]), bool(state["changed"])


def _terms(x: float, y: float, sx: float, sy: float) -> Floats:
    """One pair's part of the six sums."""
    y, sy = _SCALE * y, _SCALE * sy
    products = np.array([x * x, x * y, y * y])
    return np.concatenate((products / sy**2, products / sx**2))
