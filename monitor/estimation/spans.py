"""How long each reading of a current holds, and what time nobody covers."""

from typing import NamedTuple

import numpy as np

from monitor.estimation.readings import Floats

_LONGEST_SPACINGS = 5.0
_LEAST_CAP_S = 2.0


class Held(NamedTuple):
    """Pieces of time and the reading that held in each [s, A], and the time that none covers. [s]"""

    spans_s: Floats
    amps: Floats
    unheard_s: float

    @property
    def heard_s(self) -> float:
        return float(self.spans_s.sum())


class Holding:
    """Follows one current: each reading holds until the next, for at most five times the usual spacing."""

    def __init__(self) -> None:
        self.until_s: float | None = None
        """Elapsed time up to which everything is accounted for."""
        self._last_A = np.nan
        self._cap_s = 60.0

    def take(self, times: Floats, amps: Floats) -> Held:
        """A minute's readings, one at least. Times that run backwards begin a new boot."""
        if self.until_s is not None and times[-1] < self.until_s:
            self.until_s = None
        if times.size > 2:
            self._cap_s = max(_LONGEST_SPACINGS * float(np.median(np.diff(times))), _LEAST_CAP_S)
        if self.until_s is None:
            edges, held = times, amps[:-1]
        else:
            edges, held = np.concatenate(([self.until_s], times)), np.concatenate(([self._last_A], amps[:-1]))
        whole = np.maximum(np.diff(edges), 0.0)
        spans = np.minimum(whole, self._cap_s)
        if self.until_s is not None and np.isnan(self._last_A):
            spans[0] = 0.0
        self._last_A, self.until_s = float(amps[-1]), float(times[-1])
        return Held(spans, np.where(spans > 0, held, 0.0), float((whole - spans).sum()))

    def gap(self, seconds: float) -> None:
        """Nothing holds any more, and so much time has gone."""
        self._last_A = np.nan
        if self.until_s is not None:
            self.until_s += seconds

    def new_boot(self) -> None:
        """Elapsed time begins anew, wherever it was."""
        self.until_s, self._last_A = None, np.nan

    def silence_s(self, at_s: float | None) -> float:
        """How long nothing has covered by then."""
        if at_s is None or self.until_s is None:
            return 0.0
        return max(0.0, at_s - self.until_s - self._cap_s)
