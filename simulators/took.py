"""What each appliance took from the house's bus, second by second: the truth of a night's ledger."""

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from monitor.clock import HOUR_S
from simulators.power import CONVERTER_EFFICIENCY, Electrics

Floats = NDArray[np.float64]

NAVIGATION = "navigation"


def shared(
    electrics: Electrics, house_W: Mapping[str, Floats], navigation_W: Mapping[str, Floats]
) -> dict[str, Floats]:
    """What the bus supplied, by what took it, losses included: the sum is `electrics.load_W`.

    Nothing while the contactor is open. What the converter gives beyond the navigation's needs fills its
    buffer and counts as "navigation".
    """
    converter_W = electrics.converter_A * electrics.buffer_V / CONVERTER_EFFICIENCY
    asked_W = np.sum(list(house_W.values()), axis=0)
    part = (electrics.load_W - converter_W) / asked_W
    took = {what: watts * part for what, watts in house_W.items() if watts.any()}
    asked_W = np.sum(list(navigation_W.values()), axis=0) / CONVERTER_EFFICIENCY
    part = np.minimum(1.0, converter_W / asked_W)
    others = {
        what: watts / CONVERTER_EFFICIENCY * part
        for what, watts in navigation_W.items()
        if what != NAVIGATION and watts.any()
    }
    took |= others
    took[NAVIGATION] = converter_W - np.sum(list(others.values()), axis=0)
    return took


class Took:
    """A life's, or a part of it. Spans are UTC seconds; what was not lived took nothing."""

    def __init__(self, stretches: Iterable[tuple[float, Mapping[str, Floats]]]) -> None:
        """Of (start, watts by the second) in order of time."""
        self._pieces: dict[str, list[tuple[float, Floats]]] = {}
        for start_s, took in stretches:
            for what, watts in took.items():
                if watts.any():
                    self._pieces.setdefault(what, []).append((start_s, watts.astype(np.float32)))

    @property
    def whats(self) -> tuple[str, ...]:
        """All that ever took something."""
        return tuple(sorted(self._pieces))

    def watts(self, what: str, start_s: float, seconds: int) -> Floats:
        """The mean power of each of so many seconds; starts count in whole seconds. [W]"""
        found = np.zeros(seconds)
        for begins_s, watts in self._pieces.get(what, ()):
            first = round(begins_s - start_s)
            lower, upper = max(first, 0), min(first + len(watts), seconds)
            if lower < upper:
                found[lower:upper] = watts[lower - first : upper - first]
        return found

    def Wh_by(self, what: str, start_s: float, end_s: float) -> float:
        """Of any span, which may begin and end within a second. [Wh]"""
        joules = 0.0
        for begins_s, watts in self._pieces.get(what, ()):
            if begins_s < end_s and begins_s + len(watts) > start_s:
                sums = np.concatenate(([0.0], np.cumsum(watts, dtype=np.float64)))
                seconds = begins_s + np.arange(len(sums))
                until, since = np.interp((end_s, start_s), seconds, sums)
                joules += float(until - since)
        return joules / HOUR_S
