"""Nights of a published load model at one second: what was on, what it drew and what a monitor reads.

How they were made: `recipe.py`. Watts are the table's own; at 12.8 V the currents are larger than a boat's.
"""

from functools import cached_property, lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.clock import DAY_S, HOUR_S, Interval
from tests.proof.oracle import START_S, Floats

HOUSEHOLDS, NIGHTS, SECONDS = 12, 4, 16 * HOUR_S
VOLTS = 12.8
STEP_A, NOISE_A = 0.1, 0.06
"""What a shunt monitor on a bus tells, and its noise (common practice)."""
COLD = ("Refrigerator", "Fridge freezer", "Upright freezer", "Chest freezer")


class Run(NamedTuple):
    """An appliance at one power, in whole seconds from the start of the night's record at 16:00."""

    name: str
    start: int
    end: int
    watts: int


class Night:
    """16:00 to 08:00 of one household; the night itself is 18:00 to 06:00."""

    def __init__(self, household: int, number: int) -> None:
        runs, names, standing = _table()
        mine = runs[(runs[:, 0] == household) & (runs[:, 1] == number)]
        self.runs = tuple(Run(str(names[which]), *run) for _, _, which, *run in mine.tolist())
        self.standing_W = float(standing[household])
        self.start_s = START_S + number * DAY_S + 16 * HOUR_S
        self.during = Interval(self.start_s + 2 * HOUR_S, self.start_s + 14 * HOUR_S)
        self._seed = (household, number)

    @cached_property
    def utc_s(self) -> Floats:
        return self.start_s + np.arange(SECONDS, dtype=float)

    @cached_property
    def within(self) -> slice:
        """The night itself, of an array by second."""
        return slice(2 * HOUR_S, 14 * HOUR_S)

    def watts(self, name: str) -> Floats:
        """Of one appliance by second, above its standby power."""
        drawn = np.zeros(SECONDS)
        for run in self.runs:
            if run.name == name:
                drawn[run.start : run.end] += run.watts
        return drawn

    @cached_property
    def total_W(self) -> Floats:
        total = np.full(SECONDS, self.standing_W)
        for run in self.runs:
            total[run.start : run.end] += run.watts
        return total

    @cached_property
    def amps(self) -> Floats:
        """As reported: positive into the bank, in the instrument's steps."""
        noise = np.random.default_rng(self._seed).normal(0.0, NOISE_A, SECONDS)
        reported: Floats = np.round((noise - self.total_W / VOLTS) / STEP_A) * STEP_A
        return reported


@lru_cache
def _table() -> tuple[npt.NDArray[np.int64], npt.NDArray[np.str_], npt.NDArray[np.int16]]:
    with np.load(Path(__file__).parent / "nights.npz") as kept:
        return kept["runs"].astype(np.int64), kept["names"], kept["standing_W"]
