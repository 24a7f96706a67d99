"""What draws current: compressors that cycle, the household's switches, the boat's own gear."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from simulators.household import Use
from simulators.shapes import Piece

Floats = NDArray[np.float64]

INVERTER_EFFICIENCY = 0.90
INVERTER_IDLE_W = 11.0
# Standing loads [W] of the navigation side by place: radio and router always; instruments,
# plotter and AIS under way; the pilot's mean under sail. Common practice.
NAVIGATION_W = {"laid up": 2.0, "alongside": 9.0, "at anchor": 10.0, "motoring": 48.0, "sailing": 44.0}
PILOT_W = {"sailing": 34.0, "motoring": 20.0}
LIGHT_W = {"at anchor": 3.0, "sailing": 8.0, "motoring": 14.0}
"""Anchor light, or running lights, from sunset to sunrise."""
HOUSE_STANDING_W = 5.0
"""Gas sensor, monitor, the panels of everything that is switched on."""
PUMP_A, PUMP_A_PER_BAR, PUMP_DRY_A = 4.5, 0.75, 3.3
"""Its current while it moves water, by the pressure behind it (some 6 A between cut-in and cut-out: 78 W at
13 V), and dry: a little more than half. Common practice: 40 to 70 % of the usual."""
PUMP_V = 13.0
PUMP_START_TIMES, PUMP_START_S = 1.8, 0.3
"""Its motor's start (common practice)."""
PUMP_PIECE_S = 1.0
FRIDGE_W = 45.0
FREEZER_W, FREEZER_PER_K = 58.0, 0.0095


class Compressor:
    """A thermostat's cycle: runs `on_min`, rests so that its duty suits the cabin's warmth."""

    def __init__(
        self,
        what: str,
        watts: float,
        on_min: float,
        inside: float,
        duty_per_K: float,
        start_s: float,
        rng: np.random.Generator,
    ) -> None:
        self.what, self.watts, self._on_min = what, watts, on_min
        self._inside, self._duty_per_K, self._rng = inside, duty_per_K, rng
        self._next_s = start_s + float(rng.uniform(0, 40)) * 60

    def uses(self, until_s: float, cabin: float) -> Iterator[Use]:
        """Every run that begins before `until_s`."""
        duty = min(0.9, max(0.1, self._duty_per_K * (cabin - self._inside)))
        while self._next_s < until_s:
            runs_s = 60 * self._on_min * float(self._rng.lognormal(0, 0.08))
            rests_s = runs_s * (1 - duty) / duty * float(self._rng.lognormal(0, 0.10))
            yield Use(self._next_s, self._next_s + runs_s, self.watts, "dc", self.what)
            self._next_s += runs_s + rests_s


def compressors(start_s: float, rng: np.random.Generator) -> list[Compressor]:
    """*Marram*'s fridge and freezer: 45 and 58 W, some 0.45 and 0.5 kWh a day in a cool cabin."""
    return [
        Compressor("fridge", FRIDGE_W, 16.0, 5.0, 0.0265, start_s, rng),
        Compressor("freezer", FREEZER_W, 24.0, -16.0, FREEZER_PER_K, start_s, rng),
    ]


def new_freezer(watts: float, start_s: float, rng: np.random.Generator) -> Compressor:
    """Another in the same box, as cold: the stronger it is, the less it runs."""
    return Compressor("new freezer", watts, 17.0, -16.0, FREEZER_PER_K * FREEZER_W / watts, start_s, rng)


def mean_W(intervals: Sequence[Piece], start_s: float, seconds: int) -> Floats:
    """The mean power of each second from `start_s` on, of (start, end, W) intervals: exact sums."""
    if not intervals:
        return np.zeros(seconds)
    begin, end, watts = (np.array(x) for x in zip(*intervals, strict=True))
    begin = np.clip(begin - start_s, 0.0, float(seconds))
    end = np.clip(end - start_s, 0.0, float(seconds))
    corners = np.concatenate((begin, end, [0.0, float(seconds)]))
    order = np.argsort(corners, kind="stable")
    steps = np.concatenate((watts, -watts, [0.0, 0.0]))[order]
    corners = corners[order]
    power = np.cumsum(steps)
    energy = np.concatenate(([0.0], np.cumsum(power[:-1] * np.diff(corners))))
    return np.asarray(np.diff(np.interp(np.arange(seconds + 1.0), corners, energy)))


def ripple(rng: np.random.Generator, seconds: int, watts: float, minutes: float = 3.0) -> Floats:
    """A load that wanders slowly around nothing with that standard deviation (routers, pilots)."""
    knots = math.ceil(seconds / (60 * minutes)) + 2
    values = rng.normal(0.0, watts, knots)
    return np.asarray(np.interp(np.arange(seconds) / (60 * minutes), np.arange(knots), values))
