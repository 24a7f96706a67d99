"""What flows while nobody listens: how far this bank's charge usually moves in so long a time.

Net ampere-hours are remembered hour by hour for ten days. Up to a day: nine in ten of the bank's own
stretches of that length moved it by less than the band made of this. Over more days it is the usual
net of a day, D times, with its spread, and what the rest of a day moves:

    var = (m D)² + s² D (1 + D / n) + (what the rest of a day moves)², from n days

Until a day is known a current of 3 % of the capacity is taken to flow one way all the time. Days that
are unlike the last ten are not foreseen.
"""

import base64
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation.bands import BAND_90

Floats = npt.NDArray[np.float64]

KEPT_H = 240
_WITHIN = 0.68
_USUAL_CURRENT_SHARE = 0.03
"""Of the capacity, common practice."""
_HEARD_SHARE = 0.75
"""Of an hour: less says too little of it."""
_LEAST_H = 24
_LEAST_STRETCHES = 12
_STEPS = 4000
"""Kept in so many steps of the capacity: 0.1 Ah of 400."""
_UNHEARD = -(1 << 15)


class _Usual(NamedTuple):
    """What 0 to 24 hours move [Ah], and the net of a day: mean, variance, and from how many days."""

    by_hours: Floats
    net_Ah: float
    spread_Ah2: float
    days: float
    range_Ah: float
    """Between the highest and the lowest charge."""


class Swing:
    """The last ten days of one bank by the hour: ampere-hours, the sensor's offset removed."""

    def __init__(self, capacity_Ah: float) -> None:
        self._usual_A = _USUAL_CURRENT_SHARE * capacity_Ah
        self._step_Ah = capacity_Ah / _STEPS
        self._hours: Floats = np.full(KEPT_H, np.nan)
        self._passed_s = self._heard_s = self._Ah = 0.0
        self._usual: _Usual | None = None

    def take(self, heard_s: float, net_Ah: float) -> None:
        """So much flowed in so long."""
        self._heard_s += heard_s
        self._Ah += net_Ah
        self._pass(heard_s)

    def gap(self, seconds: float) -> None:
        """Nobody listened."""
        self._pass(min(seconds, KEPT_H * HOUR_S))

    def _pass(self, seconds: float) -> None:
        self._passed_s += seconds
        while self._passed_s >= HOUR_S:
            known = self._heard_s >= _HEARD_SHARE * HOUR_S
            self._hours = np.append(self._hours[1:], self._Ah * HOUR_S / self._heard_s if known else np.nan)
            self._passed_s -= HOUR_S
            self._heard_s = self._Ah = 0.0
            self._usual = None

    def sd_Ah(self, seconds: float) -> float:
        """What may have flowed in so long without a listener: its standard deviation. [Ah]"""
        if seconds <= 0:
            return 0.0
        if self._usual is None:
            self._usual = self._look_back()
        by_hours, net_Ah, spread_Ah2, known, range_Ah = self._usual
        if seconds <= DAY_S or known < 1:
            inside = float(np.interp(min(seconds, DAY_S) / HOUR_S, np.arange(25), by_hours))
            return inside * max(1.0, seconds / DAY_S)
        days, rest_s = divmod(seconds, DAY_S)
        rest_Ah = float(np.interp(rest_s / HOUR_S, np.arange(25), by_hours))
        sd = np.sqrt((net_Ah * days) ** 2 + spread_Ah2 * days * (1 + days / known) + rest_Ah**2)
        return float(min(sd, _WITHIN * range_Ah * (1 + 2 / known) / BAND_90))

    def _look_back(self) -> _Usual:
        heard = self._hours[~np.isnan(self._hours)]
        if heard.size < _LEAST_H:
            usual_A = float(np.sqrt(np.square(heard).mean())) if heard.size else 0.0
            one_way: Floats = np.arange(25.0) * max(usual_A, self._usual_A)
            return _Usual(one_way, 0.0, 0.0, 0.0, 0.0)
        by_hours = np.zeros(25)
        for hours in range(1, 25):
            moved = np.abs(self._moved(hours))
            if moved.size >= _LEAST_STRETCHES:
                few = (1 + (24 + hours) / heard.size) ** 0.5
                by_hours[hours] = few * np.quantile(moved, 0.9) / BAND_90
            else:
                by_hours[hours] = by_hours[hours - 1] * hours / max(hours - 1, 1)
        nets = self._moved(24)
        if nets.size < _LEAST_STRETCHES:
            return _Usual(by_hours, 0.0, 0.0, 0.0, 0.0)
        net_Ah = float(nets.mean())
        spread_Ah2 = max(float(nets.var()), by_hours[24] ** 2 - net_Ah**2)
        course = np.nancumsum(self._hours)
        range_Ah = max(float(np.ptp(course)), BAND_90 * float(by_hours.max()))
        return _Usual(by_hours, net_Ah, spread_Ah2, heard.size / 24, range_Ah)

    def _moved(self, hours: int) -> Floats:
        """By how much each stretch of so many hours moved the charge, of those that were heard whole. [Ah]"""
        total = np.concatenate(([0.0], np.nancumsum(self._hours)))
        unheard = np.concatenate(([0], np.isnan(self._hours).cumsum()))
        whole = unheard[hours:] == unheard[:-hours]
        moved: Floats = (total[hours:] - total[:-hours])[whole]
        return moved

    def state(self) -> dict[str, Any]:
        steps = np.where(np.isnan(self._hours), _UNHEARD, np.clip(self._hours / self._step_Ah, -3e4, 3e4))
        hours = base64.b85encode(np.rint(steps).astype("<i2").tobytes()).decode()
        return {"hours": hours, "now": [self._passed_s, self._heard_s, self._Ah]}

    def restore(self, state: dict[str, Any]) -> None:
        steps = np.frombuffer(base64.b85decode(state["hours"]), "<i2").reshape(KEPT_H)
        passed_s, heard_s, Ah = (float(value) for value in state["now"])
        self._hours = np.where(steps == _UNHEARD, np.nan, steps * self._step_Ah)
        self._passed_s, self._heard_s, self._Ah = passed_s, heard_s, Ah
        self._usual = None
