"""Which way a current sensor counts: the voltage tells.

A bank's terminals follow V = E + R I with R above 0, whatever is connected: when something is
switched on or off, voltage and current into the bank move the same way. A sensor that sees them
move against each other, again and again, is turned round. Metered chargers may object: what they
give more goes into the bank.
"""

from collections.abc import Mapping
from typing import Any

MEMORY_STEPS = 50.0
ENOUGH_STEPS = 10.0
"""Steps, after forgetting; as many as a forenoon brings. Common practice."""
SURE_T, RIGHT_T = -6.0, 4.0
SURE_CORRELATION = -0.7
CLEAR_V = 0.005
"""A step of the voltage that no noise makes."""
TURNED_AFTER = 8
"""So many clear steps in a row against all that was seen before: somebody has changed the wires."""
OBJECTS = 0.3
"""Slope of the bank's current on the chargers' above which they speak for the sensor."""


class Slope:
    """Regression through 0 of steps on steps, old ones forgotten little by little."""

    def __init__(self) -> None:
        self.n = self.xx = self.xy = self.yy = 0.0

    def take(self, x: float, y: float) -> None:
        keep = 1 - 1 / MEMORY_STEPS
        self.n = keep * self.n + 1.0
        self.xx = keep * self.xx + x * x
        self.xy = keep * self.xy + x * y
        self.yy = keep * self.yy + y * y

    @property
    def value(self) -> float:
        return self.xy / self.xx if self.xx > 0 else 0.0

    @property
    def correlation(self) -> float:
        both = self.xx * self.yy
        return float(self.xy / both**0.5) if both > 0 else 0.0

    @property
    def t(self) -> float:
        """The slope over its standard deviation; 0 while there is too little to tell."""
        if self.n < ENOUGH_STEPS or self.xx <= 0:
            return 0.0
        rest = max(self.yy - self.xy**2 / self.xx, 1e-12)
        return float(self.value / (rest / (self.n - 1) / self.xx) ** 0.5)

    def state(self) -> list[float]:
        return [float(f"{v:.4g}") for v in (self.n, self.xx, self.xy, self.yy)]

    def restore(self, kept: Any) -> None:
        self.n, self.xx, self.xy, self.yy = (float(v) for v in kept)


class Direction:
    """One current sensor of one bank. `least_A` is the smallest step that is looked at."""

    def __init__(self, least_A: float) -> None:
        self._least_A = least_A
        self.volts = Slope()
        self.charge = Slope()
        self._against: list[tuple[float, float]] = []
        """The latest steps, while they speak against the slope."""
        self._last: tuple[float, float | None, float | None] | None = None

    def take(self, amps: float | None, volts: float | None, charged_A: float | None) -> None:
        """Means of a minute: the sensor, the bank's voltage, and what metered chargers give it."""
        last, self._last = self._last, None if amps is None else (amps, volts, charged_A)
        if amps is None or last is None:
            return
        step_A = amps - last[0]
        if volts is not None and last[1] is not None and abs(step_A) >= self._least_A:
            self._step(step_A, volts - last[1])
        if charged_A is not None and last[2] is not None and abs(charged_A - last[2]) >= self._least_A:
            self.charge.take(charged_A - last[2], step_A)

    def _step(self, amps: float, volts: float) -> None:
        self.volts.take(amps, volts)
        if abs(volts) < CLEAR_V:
            return
        against = amps * volts * self.volts.value < 0
        self._against = [*self._against, (amps, volts)] if against else []
        if len(self._against) >= TURNED_AFTER:
            self.volts, self.charge = Slope(), Slope()
            for step in self._against:
                self.volts.take(*step)
            self._against = []

    def pause(self) -> None:
        """Nothing is measured across this."""
        self._last = None

    @property
    def objected(self) -> bool:
        """The chargers' steps are found in the sensor's, the same way round."""
        return self.charge.t > RIGHT_T and self.charge.value > OBJECTS

    @property
    def reversed(self) -> bool | None:
        """None while the voltage has not told, or the chargers object."""
        if self.volts.t < SURE_T and self.volts.correlation < SURE_CORRELATION:
            return None if self.objected else True
        return False if self.volts.t > RIGHT_T else None

    def state(self) -> dict[str, Any]:
        return {"volts": self.volts.state(), "charge": self.charge.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        self.volts.restore(state["volts"])
        self.charge.restore(state["charge"])
