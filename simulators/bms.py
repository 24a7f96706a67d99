"""*Marram*'s battery management system: what it lets the bank do, and when it opens the contactor.

It guards single cells. It says what it would like (limits, a pre-alarm) and, where nobody listens,
opens. Limits of voltage are common practice for LFP cells; those of temperature are under the table
of a module's manual: no charging below 0 °C, a tenth of the capacity an hour up to 5 °C, two up to
10 °C.
"""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Cause = Literal["", "cell high", "cell low", "cold"]

OVER_V, UNDER_V = 3.65, 2.65
OVER_S = 3
FREEZING_C = 0.0
COLD_CHARGE_A = 4.6
"""A hundredth of the capacity an hour: less is no charging."""
COLD_S = 360
CHARGING_W = 200.0
"""What closes a contactor that opened on a low cell: something charges in earnest."""
QUIET_W = 20.0
READY_S = 60
CHARGE_BY_CELL = ((3.50, 230.0), (3.55, 115.0), (3.60, 46.0), (3.65, 0.0))
CHARGE_BY_WARMTH = ((0.0, 0.0), (2.0, 46.0), (5.0, 46.0), (7.0, 92.0), (10.0, 92.0), (15.0, 230.0))
DISCHARGE_BY_CELL = ((2.8, 0.0), (3.0, 230.0))
ALARM_HIGH_V, ALARM_LOW_V, ALARM_COLD_C = 3.60, 2.9, 1.0


def _along(points: tuple[tuple[float, float], ...], values: Floats) -> Floats:
    return np.asarray(np.interp(values, [x for x, _ in points], [y for _, y in points]))


def charge_limit_A(highest_V: Floats, coldest_C: Floats) -> Floats:
    """Tapers as the fullest cell nears its limit, and with the cold. [A]"""
    return np.minimum(_along(CHARGE_BY_CELL, highest_V), _along(CHARGE_BY_WARMTH, coldest_C))


def discharge_limit_A(lowest_V: Floats) -> Floats:
    """Tapers as the emptiest cell nears its limit. [A]"""
    return _along(DISCHARGE_BY_CELL, lowest_V)


def pre_alarm(highest_V: Floats, lowest_V: Floats, current_A: Floats, coldest_C: Floats) -> Floats:
    """1 when the contactor will soon open unless somebody eases the load or the charging."""
    cold = (coldest_C < ALARM_COLD_C) & (current_A > COLD_CHARGE_A)
    return ((highest_V > ALARM_HIGH_V) | (lowest_V < ALARM_LOW_V) | cold).astype(np.float64)


class Bms:
    """The contactor. `cause` says why it is open."""

    def __init__(self) -> None:
        self.closed = True
        self.cause: Cause = ""
        self._high_s = self._cold_s = self._ready_s = 0

    def mind(
        self, highest_V: float, lowest_V: float, current_A: float, coldest_C: float, offered_W: float
    ) -> None:
        """One second on. `offered_W` is what would charge if the contactor were closed."""
        if not self.closed:
            self._mind_open(highest_V, offered_W)
            return
        self._high_s = self._high_s + 1 if highest_V > OVER_V else 0
        cold = coldest_C < FREEZING_C and current_A > COLD_CHARGE_A
        self._cold_s = self._cold_s + 1 if cold else max(0, self._cold_s - 1)
        if lowest_V <= UNDER_V:
            self._open("cell low")
        elif self._high_s >= OVER_S:
            self._open("cell high")
        elif self._cold_s >= COLD_S:
            self._open("cold")

    def _open(self, cause: Cause) -> None:
        self.closed, self.cause = False, cause
        self._high_s = self._cold_s = self._ready_s = 0

    def _mind_open(self, highest_V: float, offered_W: float) -> None:
        """After a low cell it waits for a charger; else until the chargers have been taken away."""
        ready = offered_W > CHARGING_W if self.cause == "cell low" else offered_W < QUIET_W
        self._ready_s = self._ready_s + 1 if ready else 0
        self.closed = self._ready_s >= READY_S and highest_V < OVER_V
        if self.closed:
            self.cause = ""
