"""Pressure decay: a gauge on the accumulator sees water go long before the pump starts."""

from math import sqrt
from typing import NamedTuple

from monitor.clock import HOUR_S
from monitor.estimation.accumulator import AIR_BAR
from monitor.settings import Accumulator

SETTLE_S = 600.0
"""After a stop the gas, warmed by being squeezed, takes its temperature again (common practice). [s]"""
LEAST_H = 1.0
"""A shorter rest says nothing: the gas may have changed by a kelvin in it. [h]"""
PART_S = 600.0
"""A rest is judged in parts, the middle one counting: one draw falls into one part. [s]"""
KEPT_PARTS = 72
GAS_K, GAS_K_PER_H = 1.0, 0.5
"""How much the gas's temperature may have changed: at once, and with every hour. Common practice."""
MOST_K = 6.0
GAS_WARM_K = 288.0
READING_BAR = 0.005
SURE_H, SURE_L_PER_H, SURE_SD = 2.0, 0.02, 4.0
"""How long a rest, how big a loss and how far outside its scatter a leak is called one."""


class Decay(NamedTuple):
    """Water lost in a rest: likely, and its 90 % band. [L/h]"""

    L_per_h: float
    low_L_per_h: float
    high_L_per_h: float
    sd_L_per_h: float
    hours: float

    @property
    def sure(self) -> bool:
        """Whether nothing but a leak explains it."""
        return self.hours >= SURE_H and self.L_per_h > max(SURE_L_PER_H, SURE_SD * self.sd_L_per_h)


def compliance_L_per_bar(accumulator: Accumulator, gauge_bar: float, air_bar: float = AIR_BAR) -> float:
    """How much water an accumulator gives for one bar.

    C = P_0 V / P^2 in absolute pressures, from Boyle's law V_gas = P_0 V / P; a leak is
    q = -C dP/dt. Valid above the pre-charge and slowly (the gas keeps its temperature). [L/bar]
    """
    precharge = accumulator.precharge_bar + air_bar
    return precharge * accumulator.volume_L / (gauge_bar + air_bar) ** 2


class PressureDecay:
    """Hears the pressure while the pump rests."""

    def __init__(self, accumulator: Accumulator, air_bar: float = AIR_BAR) -> None:
        self._precharge_bar = accumulator.precharge_bar + air_bar
        self._volume_L = accumulator.volume_L
        self._air_bar = air_bar
        self._begun_s: float | None = None
        self._parts: list[tuple[float, float]] = []
        """Mean time and mean gas volume of each whole part of the rest."""
        self._part: list[tuple[float, float]] = []

    def stop(self, at_s: float) -> None:
        """The pump has stopped, or its rest is no longer to be judged: begin anew."""
        self._begun_s = at_s
        self._parts.clear()
        self._part.clear()

    def again(self, at_s: float) -> None:
        """What was heard of this rest is not to be judged: begin anew, where its begin was known."""
        if self._begun_s is not None:
            self.stop(at_s)

    def forget(self) -> None:
        """Nothing is known until the pump stops again."""
        self._begun_s = None
        self._parts.clear()
        self._part.clear()

    def take(self, at_s: float, gauge_bar: float) -> None:
        """A reading while the pump rests; below the pre-charge an accumulator tells nothing."""
        absolute = gauge_bar + self._air_bar
        if self._begun_s is None or at_s < self._begun_s + SETTLE_S or absolute <= self._precharge_bar:
            return
        if self._part and at_s - self._part[0][0] >= PART_S:
            count = len(self._part)
            mean_s, mean_L = (sum(column) / count for column in zip(*self._part, strict=True))
            self._parts = [*self._parts[-(KEPT_PARTS - 1) :], (mean_s, mean_L)]
            self._part.clear()
        self._part.append((at_s, self._precharge_bar * self._volume_L / absolute))

    def found(self, taken_L: float = 0.0, taken_sd_L: float = 0.0) -> Decay | None:
        """What the rest under way tells, less what heaters took in it; None while it is short.

        The slope is of the lower quarter of those between parts a quarter of it apart (after Theil
        and Sen): a draw is a step in one place, and a leak goes on all along.
        """
        count = len(self._parts)
        hours = (self._parts[-1][0] - self._parts[0][0]) / HOUR_S if count > 1 else 0.0
        if hours < LEAST_H:
            return None
        lag = max(1, count // 4)
        slopes = sorted(
            (later_L - before_L) / (later_s - before_s) * HOUR_S
            for (before_s, before_L), (later_s, later_L) in zip(
                self._parts[: count - lag], self._parts[lag:], strict=True
            )
        )
        # Pairs that a draw lies between are too steep: what the lower quarter says, all say.
        slope = slopes[len(slopes) // 4]
        kelvin = min(MOST_K, GAS_K + GAS_K_PER_H * hours)
        gas_L = self._parts[-1][1]
        reading_L = gas_L * READING_BAR * gas_L / (self._precharge_bar * self._volume_L)
        sd_L = sqrt((gas_L * kelvin / GAS_WARM_K / 2) ** 2 + taken_sd_L**2 + 2 * reading_L**2)
        unsure = 1.645 * sd_L
        likely = slope - taken_L / hours
        total = (self._parts[-1][1] - self._parts[0][1]) / hours
        # A rest that seems to win water has won none: its bound is no sharper for it.
        high = max(0.0, likely, total - taken_L / hours) + unsure / hours
        return Decay(max(0.0, likely), max(0.0, likely - unsure / hours), high, sd_L / hours, hours)
