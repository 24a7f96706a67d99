"""How the traces beside this were made: weeks in the life of a bank of modelled lithium cells.

The cell is PyBaMM's (26.10) single particle model with the parameter set Prada2013: graphite against
lithium iron phosphate, 2.3 Ah. It knows nothing of this project. Four in series, currents times
400 / 2.3, make a bank of 12.8 V and 400 Ah. As published its current at a held voltage falls to
nothing within three minutes; that of a boat's bank takes half an hour. So its positive particles are
slowed by a stated factor (`slow`): by 30 the current falls from C/5 to C/25 in 25 min and to C/50 in
40. That is at 25 °C; in the cooler days they are slower still (35 kJ/mol, an assumption), so no tail is
quite like the last. Nothing else changes with the warmth. Lossless, with one curve of rested voltage
for charge and discharge.

Full, 100 %, is the charge at the end of two days held at the voltage that the pattern's chargers hold.
What is missing from that is the model's own count of its current. Empty is 2.5 V a cell at C/20.

Made in an environment of its own (`make traces`):

    python -m venv there && there/bin/pip install --group traces
    there/bin/python tests/proof/traces/recipe.py [PATTERN ...]

Each file: by the minute `current_cA` [0.01 A, the mean, into the bank], `celsius`, and at its
end `voltage_mV` and `below_cAh` [0.01 Ah below full]; `capacity_Ah`, `hold_V` and `slow`.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pybamm  # type: ignore[import-not-found]

HERE = Path(__file__).parent
CELLS, SCALE = 4, 400 / 2.3
DAY, HOUR = 1440, 60
FULL_REST_MIN = 2880
CUT_V = 2.5
DROOP_OHM = 0.01
"""Of a cell's charger: it gives up voltage for current, as a real one does."""
ACTIVATION_K = 35_000 / 8.314
SOFT_A = 2e-4
"""Rounds the corners of the charger's characteristic for the solver."""


@dataclass(frozen=True)
class Run:
    """A charger other than the sun: from about an hour of a day, for so long or until it is content."""

    day: int
    hour: float
    hours: float
    amps: float
    ends: tuple[float, int] | None = None
    """It is content once the current was below so much [A] for so long [min]; None: as the pattern has it."""


@dataclass(frozen=True)
class Pattern:
    """How a crew lives: amperes of the bank."""

    seed: int
    steady_A: tuple[float, float]
    """By day and by night, besides a refrigerator of 5 A that runs 40 % of the time."""
    hauls: float
    """Times a day that 60 to 110 A are drawn for some minutes: kettle, windlass."""
    sun_A: tuple[float, ...]
    """Noon's best, day after day, over and over."""
    runs: tuple[Run, ...] = ()
    heavy_days: tuple[int, ...] = ()
    """Days of the week with twice the steady load and thrice the hauls."""
    hold_V: float = 14.2
    float_V: float = 13.5
    ends: tuple[float, int] = (10.0, 10)
    """Chargers hold their voltage until the current was below about this [A] for so long [min]."""
    start_pct: float = 65.0
    slow: float = 30.0
    days: int = 24


def every(
    step: int, hour: float, hours: float, amps: float, first: int = 0, ends: tuple[float, int] | None = None
) -> tuple[Run, ...]:
    """The same charge every so many days."""
    return tuple(Run(day, hour, hours, amps, ends) for day in range(first, 24, step))


PATTERNS = {
    "anchorage": Pattern(1, (1.5, 2.0), 1.0, (36, 12, 42, 16, 9, 44, 14)),
    "cloudy": Pattern(2, (2.0, 2.5), 1.0, (9, 5, 12, 6), every(4, 16.0, 7.0, 65, first=2)),
    "passage": Pattern(
        3,
        (6.0, 7.5),
        0.5,
        (12, 18, 8),
        every(2, 6.5, 6.0, 90, 1) + every(2, 18.0, 1.5, 90),
        hold_V=14.4,
    ),
    "liveaboard": Pattern(
        4,
        (2.5, 3.0),
        1.5,
        (10, 6, 14),
        every(7, 15.0, 14.0, 50, first=6)
        + every(7, 8.0, 10.0, 50, first=2)
        + every(7, 17.0, 6.0, 50, first=4),
        heavy_days=(5, 6),
        hold_V=14.4,
        ends=(8.0, 30),
        start_pct=80.0,
    ),
    "half-charges": Pattern(
        5,
        (2.5, 3.0),
        1.0,
        (10, 7, 4),
        every(5, 10.0, 9.0, 70, first=4) + every(5, 18.0, 1.2, 70) + every(5, 18.0, 1.5, 70, first=2),
        ends=(14.0, 12),
    ),
    "hard-slow": Pattern(
        6,
        (2.0, 2.5),
        0.7,
        (12, 8, 14),
        every(4, 9.0, 9.0, 65, first=1),
        slow=50.0,
        ends=(14.0, 12),
    ),
    "hard-broken-off": Pattern(
        7,
        (2.0, 2.5),
        0.5,
        (10, 6, 8),
        every(4, 9.0, 9.0, 65, first=1) + every(4, 9.0, 9.0, 65, first=3, ends=(20.0, 1)),
        slow=40.0,
        ends=(14.5, 11),
    ),
}


def loads(pattern: Pattern, rng: np.random.Generator) -> np.ndarray:
    """Amperes drawn, by the minute."""
    minutes = np.arange(pattern.days * DAY)
    night = (minutes % DAY < 7 * HOUR) | (minutes % DAY >= 20 * HOUR)
    heavy = np.isin(minutes // DAY % 7, pattern.heavy_days)
    steady = np.where(night, pattern.steady_A[1], pattern.steady_A[0]) * np.where(heavy, 2.0, 1.0)
    usage = np.repeat(rng.lognormal(0.0, 0.3, pattern.days * 24), HOUR)
    fridge = 5.0 * ((minutes + np.repeat(rng.integers(0, 8, pattern.days * 24), HOUR)) % 40 < 16)
    drawn: np.ndarray = steady * usage + fridge
    awake = np.flatnonzero(~night)
    for start in rng.choice(awake, rng.poisson(pattern.hauls * pattern.days)):
        drawn[start : start + rng.integers(3, 9)] += rng.uniform(60, 110)
    for start in rng.choice(awake[heavy[awake]], rng.poisson(2 * pattern.hauls * heavy.sum() / DAY)):
        drawn[start : start + rng.integers(3, 9)] += rng.uniform(60, 110)
    return drawn


def sun(pattern: Pattern, rng: np.random.Generator) -> np.ndarray:
    """Amperes that the sun could give, by the minute: half a sine from 7 to 19 h, under passing clouds."""
    minutes = np.arange(pattern.days * DAY)
    best = np.resize(np.array(pattern.sun_A, float), pattern.days).repeat(DAY)
    height = np.maximum(0.0, np.sin(np.pi * (minutes % DAY - 7 * HOUR) / (12 * HOUR)))
    clouds = np.repeat(rng.uniform(0.55, 1.0, minutes.size // 5), 5)
    given: np.ndarray = best * height**1.3 * clouds
    return given


def warmth(pattern: Pattern, rng: np.random.Generator) -> np.ndarray:
    """The bank's temperature by the minute, whole degrees: weather of days, and the day's own swing."""
    minutes = np.arange(pattern.days * DAY)
    weather = 21 + 5 * np.convolve(rng.normal(0.0, 1.0, pattern.days + 4), np.ones(4) / 2, "valid")
    daily = np.interp(minutes, DAY * np.arange(weather.size), weather)
    celsius: np.ndarray = np.clip(daily + 2 * np.sin(2 * np.pi * (minutes / DAY - 0.4)), 12, 32).round()
    return celsius


class Cell:
    """The modelled cell on a charger and a load, stepped by the minute. All its numbers are the bank's."""

    def __init__(self, slow: float) -> None:
        self._slow = slow
        parameters = pybamm.ParameterValues("Prada2013")
        parameters["Positive particle diffusivity [m2.s-1]"] /= pybamm.InputParameter("slow")
        parameters["Upper voltage cut-off [V]"] = (
            3.7  # the charger holds up to 3.6, where the model would stop
        )
        self._simulation = pybamm.Simulation(
            pybamm.lithium_ion.SPM({"operating mode": self._charger}),
            parameter_values=parameters,
            solver=pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-7),
        )
        self.drawn_Ah = 0.0
        self.voltage_V = 0.0

    @staticmethod
    def _charger(variables: dict[str, pybamm.Symbol]) -> pybamm.Symbol:
        """Into the cell flows what source less load give or the held voltage asks for, whichever is less;
        never less than minus the load."""
        least, most, hold_V = (pybamm.InputParameter(name) for name in ("least", "most", "hold"))
        asked = (hold_V - variables["Voltage [V]"]) / DROOP_OHM
        given = (most + asked - pybamm.sqrt((most - asked) ** 2 + SOFT_A**2)) / 2
        into = (given + least + pybamm.sqrt((given - least) ** 2 + SOFT_A**2)) / 2
        return (variables["Current [A]"] + into) / 2.3

    def minute(
        self, source_A: float, load_A: float, hold_V: float, celsius: float = 25.0, minutes: int = 1
    ) -> float:
        """One minute (or some) of so much source and load; returns the mean current into the bank. [A]"""
        colder = ACTIVATION_K * (1 / (celsius + 273.15) - 1 / 298.15)
        inputs = {
            "least": -load_A / SCALE,
            "most": (source_A - load_A) / SCALE,
            "hold": hold_V / CELLS,
            "slow": self._slow * np.exp(colder),
        }
        self._simulation.step(60.0 * minutes, inputs=inputs, save=False)
        solution = self._simulation.solution
        before_Ah = self.drawn_Ah
        self.drawn_Ah = SCALE * float(solution["Discharge capacity [A.h]"].entries[-1])
        self.voltage_V = CELLS * float(solution["Voltage [V]"].entries[-1])
        return (before_Ah - self.drawn_Ah) * 60 / minutes


def capacity_Ah(pattern: Pattern) -> float:
    """From full to 2.5 V a cell at C/20."""
    cell = Cell(pattern.slow)
    cell.minute(60.0, 0.0, pattern.hold_V, minutes=FULL_REST_MIN)
    full_Ah = cell.drawn_Ah
    while cell.voltage_V > CELLS * CUT_V:
        cell.minute(0.0, 20.0, pattern.hold_V)
    return cell.drawn_Ah - full_Ah


def running(pattern: Pattern, rng: np.random.Generator) -> tuple[np.ndarray, list[tuple[float, int]]]:
    """Amperes of chargers other than the sun, by the minute, and what each is content with."""
    given = np.zeros(pattern.days * DAY)
    ends = [pattern.ends] * given.size
    for run in pattern.runs:
        start = int(run.day * DAY + run.hour * HOUR + rng.uniform(-60, 60))
        minutes = slice(start, start + int(run.hours * HOUR))
        ends_A, lasts_min = run.ends or pattern.ends
        given[minutes] = run.amps * rng.uniform(0.7, 1.1)
        ends[minutes] = [(ends_A * rng.uniform(0.7, 1.05), lasts_min)] * given[minutes].size
    return given, ends


def life(pattern: Pattern, capacity: float) -> Iterator[tuple[float, float, float, float]]:
    """Mean current [A], voltage [V], charge below full [Ah] and temperature [°C], minute after minute."""
    rng = np.random.default_rng(pattern.seed)
    drawn, shone, (run_A, ends), warm = (what(pattern, rng) for what in (loads, sun, running, warmth))
    cell = Cell(pattern.slow)
    cell.minute(60.0, 0.0, pattern.hold_V, minutes=FULL_REST_MIN)
    full_Ah = cell.drawn_Ah
    cell.minute(0.0, 20.0, pattern.hold_V, minutes=int(60 * (1 - pattern.start_pct / 100) * capacity / 20))
    content, tail_min = False, 0
    for load_A, sun_A, engine_A, (ends_A, lasts_min), celsius in zip(
        drawn, shone, run_A, ends, warm, strict=True
    ):
        if sun_A + engine_A < 1.0:
            content = False
        source_A, held_V = (sun_A, pattern.float_V) if content else (sun_A + engine_A, pattern.hold_V)
        amps = cell.minute(source_A, load_A, held_V, celsius)
        held = cell.voltage_V > pattern.hold_V - 0.03
        tail_min = tail_min + 1 if held and 0 < amps < ends_A else 0
        content = content or tail_min >= lasts_min
        yield amps, cell.voltage_V, cell.drawn_Ah - full_Ah, celsius


def make(name: str) -> None:
    pattern = PATTERNS[name]
    capacity = capacity_Ah(pattern)
    amps, volts, below, celsius = np.array(list(life(pattern, capacity))).T
    np.savez_compressed(
        HERE / f"{name}.npz",
        current_cA=np.round(100 * amps).astype(np.int16),
        voltage_mV=np.round(1000 * volts).astype(np.int16),
        below_cAh=np.round(100 * below).astype(np.int32),
        celsius=celsius.astype(np.int8),
        capacity_Ah=capacity,
        hold_V=pattern.hold_V,
        slow=pattern.slow,
    )


if __name__ == "__main__":
    for wanted in sys.argv[1:] or PATTERNS:
        make(wanted)
