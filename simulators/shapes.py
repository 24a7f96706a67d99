"""How the power of an appliance runs within one use; its mean is the use's own, to the joule.

Sizes are common practice: a compressor's motor starts with 1.5 to 2.5 times its power for a second or two
and sinks from a twelfth above while the gas settles; a computer wanders with what is done on it; a battery
in a telephone takes less and less; a hob is switched on and off.
"""

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from simulators.household import Use

Floats = NDArray[np.float64]
Piece = tuple[float, float, float]
"""Start and end [UTC s], and the power between them [W]."""

STEP_S = 15.0
"""A curve is drawn in pieces of so long."""


class Shape(Protocol):
    def powers(self, rng: np.random.Generator, seconds: float) -> tuple[Floats, Floats]:
        """The pieces' edges from 0 to `seconds`, and each piece's power on any scale."""


class Motor(NamedTuple):
    """Starts with a multiple of its power, then sinks to it from a share above."""

    times: tuple[float, float] = (1.5, 2.5)
    start_s: tuple[float, float] = (1.0, 2.0)
    more: float = 0.08
    settles_s: float = 150.0

    def powers(self, rng: np.random.Generator, seconds: float) -> tuple[Floats, Floats]:
        times, start_s = rng.uniform(*self.times), min(rng.uniform(*self.start_s), seconds / 2)
        edges, middles = _grid(seconds)
        edges = np.insert(edges, 1, start_s)
        settled = 1 + self.more * np.exp(-middles / self.settles_s)
        return edges, np.insert(settled, 0, times * settled[0])


class Wander(NamedTuple):
    """About its mean with that standard deviation, which it forgets in `after_s`."""

    sd: float
    after_s: float = 60.0

    def powers(self, rng: np.random.Generator, seconds: float) -> tuple[Floats, Floats]:
        edges, middles = _grid(seconds)
        keeps = float(np.exp(-STEP_S / self.after_s))
        value, values = float(rng.normal(0, self.sd)), []
        for push in rng.normal(0, self.sd * (1 - keeps**2) ** 0.5, len(middles)).tolist():
            value = keeps * value + push
            values.append(value)
        return edges, np.maximum(0.2, 1 + np.array(values))


class Taper(NamedTuple):
    """A battery that is filled: steady for a part of the time, then less and less."""

    steady: float = 0.55

    def powers(self, rng: np.random.Generator, seconds: float) -> tuple[Floats, Floats]:
        edges, middles = _grid(seconds)
        begins_s = seconds * self.steady * rng.uniform(0.7, 1.2)
        return edges, np.exp(-np.maximum(0.0, middles - begins_s) / (0.25 * seconds))


class Switched(NamedTuple):
    """On for a part of every so many seconds."""

    part: float
    every_s: float

    def powers(self, rng: np.random.Generator, seconds: float) -> tuple[Floats, Floats]:
        begins = np.arange(0.0, seconds, self.every_s)
        edges = np.append(np.stack((begins, begins + self.part * self.every_s), axis=1).ravel(), seconds)
        edges = np.minimum(edges, seconds)
        return edges, np.tile((1.0, 0.0), len(begins))


MOTOR = Motor()
SHAPES: dict[str, Shape] = {
    "fridge": MOTOR, "freezer": MOTOR, "new freezer": MOTOR, "watermaker": Motor(more=0.02),
    "laptop": Wander(0.15), "music": Wander(0.25, 20.0), "telephone charger": Taper(),
    "hob": Switched(0.45, 20.0),
}  # fmt: skip
"""By what it is; what is not named here takes the same all the time."""


def pieces(use: Use, rng: np.random.Generator) -> list[Piece]:
    """The use's power, piece by piece."""
    shape = SHAPES.get(use.what)
    if shape is None:
        return [(use.start_s, use.end_s, use.watts)]
    seconds = use.end_s - use.start_s
    edges, powers = shape.powers(rng, seconds)
    powers = powers * (use.watts * seconds / float(powers @ np.diff(edges)))
    at_s = (use.start_s + edges).tolist()
    return list(zip(at_s[:-1], at_s[1:], powers.tolist(), strict=True))


def _grid(seconds: float) -> tuple[Floats, Floats]:
    """Edges of about STEP_S, and the middles between them."""
    edges = np.linspace(0.0, seconds, max(1, round(seconds / STEP_S)) + 1)
    return edges, (edges[:-1] + edges[1:]) / 2
