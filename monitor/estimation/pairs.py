"""Two instruments on one current, compared hour by hour: by how much they differ, and in what way.

Pairs of hourly means (x the one that counts, y the other, charge in an hour in Ah) lie on

    y = offset + gain x

with errors on both sides, so the line is fitted by total least squares. The offset between two
sensors shows in the one, their gain in the other; a difference at small currents only is a dead band,
and one that begins when an instrument comes back is a zero that was set anew.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.readings import Floats

WINDOW_H = 72
MINUTES = 60
AWAY_S = 600.0
"""An instrument silent for so long has been away: its zero may be another."""
SETTLING_H = 6
SHIFT_A, SHIFT_SDS = 0.1, 4.0
SMALL_A = (0.2, 1.0)
DEAD_MINUTES = 30.0
DEAD_SHARE = 0.8
DEAD_MEMORY_MIN = 1440.0


class Line(NamedTuple):
    """y = offset + gain x, with standard deviations; `alike` is the squared correlation."""

    offset: float
    offset_sd: float
    gain: float
    gain_sd: float
    alike: float


def total_least_squares(x: Floats, y: Floats) -> Line | None:
    """The line with the smallest squared distances to the points, errors alike on both axes.

    gain = (Syy - Sxx + sqrt((Syy - Sxx)^2 + 4 Sxy^2)) / (2 Sxy), through the mean (Pearson, 1901).
    Standard deviations by the delta method (Fuller, Measurement Error Models, 1987, section 1.3), valid
    where the points spread much farther along the line than across it.

    Args:
        x, y: The points, three or more. [A]

    Returns:
        None where the points do not make a line: fewer than three, or no spread.
    """
    n = x.size
    if n < 3:
        return None
    mean_x, mean_y = float(x.mean()), float(y.mean())
    dx, dy = x - mean_x, y - mean_y
    sxx, syy, sxy = float(dx @ dx), float(dy @ dy), float(dx @ dy)
    if sxx <= 0.0 or syy <= 0.0 or sxy == 0.0:
        return None
    gain = (syy - sxx + np.hypot(syy - sxx, 2 * sxy)) / (2 * sxy)
    offset = mean_y - gain * mean_x
    across = dy - gain * dx
    variance = float(across @ across) / (n - 2)
    along = max(sxx - float(across @ across) / (1 + gain**2), 1e-12)
    gain_sd = (variance / along) ** 0.5
    offset_sd = (variance / n + mean_x**2 * gain_sd**2) ** 0.5
    return Line(float(offset), offset_sd, float(gain), gain_sd, sxy**2 / (sxx * syy))


class Pairs:
    """Gathers the hours of one pair of instruments."""

    def __init__(self, window_h: int = WINDOW_H) -> None:
        self._window_h = window_h
        self.x: list[float] = []
        self.y: list[float] = []
        self._sums = (0, 0.0, 0.0)
        self._small = self._mute_x = self._mute_y = 0.0
        self._apart_s = 0.0
        self._before: Line | None = None
        """The line as it was before an instrument was away, until it is known to hold still."""
        self._since_h = 0
        self.shift_A: float | None = None
        """By how much the difference changed when an instrument came back last."""

    def take(self, x: Floats, y: Floats) -> bool:
        """A minute of both. True when another hour is complete."""
        if not x.size or not y.size:
            self._apart_s += 60.0
            return False
        if self._apart_s >= AWAY_S and len(self.x) >= SETTLING_H:
            self._before, self._since_h = self.line(), 0
        self._apart_s = 0.0
        mean_x, mean_y = float(x.mean()), float(y.mean())
        self._mind_dead_band(x, y, mean_x, mean_y)
        if self.mute is not None and max(abs(mean_x), abs(mean_y)) < SMALL_A[1]:
            return False
        n, sum_x, sum_y = self._sums
        self._sums = (n + 1, sum_x + mean_x, sum_y + mean_y)
        if n + 1 < MINUTES:
            return False
        self._complete((sum_x + mean_x) / MINUTES, (sum_y + mean_y) / MINUTES)
        return True

    def _complete(self, x: float, y: float) -> None:
        self._sums = (0, 0.0, 0.0)
        self.x, self.y = [*self.x, x][-self._window_h :], [*self.y, y][-self._window_h :]
        self._since_h += 1
        if self._before is not None and self._since_h == SETTLING_H:
            self._judge_return(self._before)

    def _judge_return(self, before: Line) -> None:
        """Six hours after: do they lie off the line as it was? Then what was before is forgotten."""
        self._before = None
        x, y = np.array(self.x[-SETTLING_H:]), np.array(self.y[-SETTLING_H:])
        gain, gain_sd = (before.gain, before.gain_sd) if np.isfinite(before.gain) else (1.0, 0.0)
        shift, sd = _mean(y - before.offset - gain * x)
        sd = float(np.hypot(np.hypot(sd, before.offset_sd), gain_sd * x.mean()))
        if abs(shift) > max(SHIFT_A, SHIFT_SDS * sd):
            self.x, self.y = x.tolist(), y.tolist()
            self.shift_A = shift

    def _differences(self) -> Floats:
        return np.array(self.y, np.float64) - np.array(self.x, np.float64)

    def _mind_dead_band(self, x: Floats, y: Floats, mean_x: float, mean_y: float) -> None:
        """One says nothing but 0 while the other sees a small current."""
        low, high = SMALL_A
        mute_x, mute_y = not x.any(), not y.any()
        if low <= max(abs(mean_x), abs(mean_y)) < high:
            keep = 1 - 1 / DEAD_MEMORY_MIN
            self._small = keep * self._small + 1.0
            self._mute_x = keep * self._mute_x + mute_x
            self._mute_y = keep * self._mute_y + mute_y

    @property
    def mute(self) -> int | None:
        """Which says 0 below about 1 A: 0 the one that counts, 1 the other; None where neither does."""
        if self._small < DEAD_MINUTES:
            return None
        shares = (self._mute_x / self._small, self._mute_y / self._small)
        return next((n for n, share in enumerate(shares) if share > DEAD_SHARE), None)

    @property
    def hours(self) -> int:
        return len(self.x)

    def spread_A(self) -> tuple[float, float]:
        """Standard deviations of both."""
        return float(np.std(self.x)), float(np.std(self.y))

    def line(self) -> Line | None:
        """Fitted through the window. Without much spread the gain is unknown and taken as 1."""
        x, y = np.array(self.x), np.array(self.y)
        line = total_least_squares(x, y)
        if line is not None and line.gain_sd < 0.05:
            return line
        if x.size < 3:
            return None
        mean, sd = _mean(y - x)
        return Line(mean, sd, float("nan"), float("nan"), line.alike if line is not None else float("nan"))

    def state(self) -> dict[str, Any]:
        """Currents in steps of 10 mA, differences in mA: small."""
        return {
            "x": [round(100 * v) for v in self.x],
            "d": [round(1000 * v) for v in self._differences().tolist()],
            "dead": [round(v, 2) for v in (self._small, self._mute_x, self._mute_y)],
            "shift_A": self.shift_A,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`: the instruments count as having been away."""
        x, d = ([float(v) / per for v in state[what]] for what, per in (("x", 100), ("d", 1000)))
        if len(x) != len(d):
            return
        self.x, self.y = x, [a + b for a, b in zip(x, d, strict=True)]
        self._small, self._mute_x, self._mute_y = (float(v) for v in state["dead"])
        self.shift_A = state["shift_A"]
        self._apart_s = AWAY_S


def _mean(differences: Floats) -> tuple[float, float]:
    """Mean and its standard deviation."""
    n = differences.size
    return float(differences.mean()), float(differences.std(ddof=1) / n**0.5) if n > 1 else np.inf
