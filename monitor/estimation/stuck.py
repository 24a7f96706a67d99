"""A sensor that goes on saying exactly the same while everything round it moves.

The same value is no fault by itself: a bank with nothing on it rests. It takes evidence of change
from elsewhere, over half an hour: another sensor of the same, the bank's voltage going up and down,
metered chargers, the pump.
"""

from collections import Counter
from collections.abc import Iterable

import numpy as np

from monitor.estimation.readings import Floats

LONG_S = 1800.0
ENOUGH = 5
"""So many minutes in which something else moved."""
PUMPS_COUNT = 2
"""The pump may hang on another bank: alone it proves nothing."""
UP, DOWN, PUMP, CHARGERS = "voltage up", "voltage down", "the pump", "the chargers"
COARSE = 0.1
"""The step of a sensor that has not shown a finer one."""


class Still:
    """One sensor: since when it has said the same, and what has moved meanwhile."""

    def __init__(self, step: float | None = None) -> None:
        self.step = step
        """The smallest change it has ever shown."""
        self.value: float | None = None
        self.since_s = 0.0
        self.moved: Counter[str] = Counter()

    @property
    def resolution(self) -> float:
        return COARSE if self.step is None else self.step

    def take(self, values: Floats, end_s: float, moved: Iterable[str]) -> None:
        """A minute of the sensor, and what else moved in it. Silence starts it anew."""
        if not values.size:
            self.pause()
            return
        steps = np.abs(np.diff(values if self.value is None else np.concatenate(([self.value], values))))
        steps = steps[steps > 1e-9]
        if steps.size:
            smallest = float(steps.min())
            self.step = smallest if self.step is None else min(self.step, smallest)
        if steps.size or self.value is None:
            self.value, self.since_s = float(values[-1]), end_s
            self.moved.clear()
        else:
            self.moved.update(set(moved))

    def pause(self) -> None:
        self.value = None
        self.moved.clear()

    def stuck(self, at_s: float) -> bool | None:
        """None while it says nothing."""
        if self.value is None:
            return None
        return at_s - self.since_s >= LONG_S and self.evidence >= ENOUGH

    @property
    def evidence(self) -> int:
        """Voltage counts where it went both ways: after a charge it falls for hours by itself."""
        others = sum(n for what, n in self.moved.items() if what not in (UP, DOWN, PUMP))
        return others + 2 * min(self.moved[UP], self.moved[DOWN]) + min(self.moved[PUMP], PUMPS_COUNT)

    @property
    def witnesses(self) -> str:
        """What moved, in words."""
        names = {UP: "the voltage", DOWN: "the voltage"}
        return ", ".join(dict.fromkeys(names.get(what, what) for what, _ in self.moved.most_common()))
