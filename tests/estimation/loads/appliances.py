"""What draws current aboard at night, appliance by appliance: when it runs and what it takes.

Nothing of it comes from the code under test. Sizes and habits are common practice aboard a cruising
yacht of 12.8 V: small hermetic compressors, a membrane pressure pump, lamps by the cabin. Times are seconds
since 16:00 on a grid of TICK_S; watts are those at 12.8 V.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Runs = tuple[tuple[float, float], ...]

TICK_S = 0.25
SPAN_S = 16 * 3600.0
TICKS = int(SPAN_S / TICK_S)
MINUTE, HOUR = 60.0, 3600.0


def hour(at: float) -> float:
    """An hour of the clock, 16 to 32 (8 in the morning), as seconds since 16:00."""
    return (at - 16) * HOUR


@dataclass(frozen=True)
class Tonight:
    """What all appliances of a night have in common."""

    warmth: float
    """0 in the coolest nights, 1 in the warmest."""
    dusk_s: float
    dawn_s: float


class Appliance(Protocol):
    @property
    def name(self) -> str: ...

    @property
    def follows(self) -> float:
        """The power goes with the voltage to this power: 2 for a resistance, 0 for a motor."""

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        """When it is on; the ends may lie outside the span."""

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        """What one run takes by the time since it began."""


def wander(rng: Generator, seconds: float, sd: float, after_s: float) -> Floats:
    """A slow wander about 0 by the tick: its standard deviation, and the time in which it forgets (1/e)."""
    knot_s = min(5.0, after_s / 4)
    count = int(seconds / knot_s) + 2
    keeps = float(np.exp(-knot_s / after_s))
    value, values = rng.normal(0, sd), []
    for push in rng.normal(0, sd * (1 - keeps**2) ** 0.5, count):
        value = keeps * value + push
        values.append(value)
    ticks = np.arange(round(seconds / TICK_S)) * TICK_S
    wandering: Floats = np.interp(ticks, np.arange(count) * knot_s, values)
    return wandering


@dataclass(frozen=True)
class Compressor:
    """A motor by its thermostat, with doors opened in the evening and quieter hours before dawn."""

    name: str
    takes_W: float
    on_s: float
    duty: tuple[float, float]
    """In the coolest and the warmest nights."""
    start_times: float
    start_s: float
    more: float
    """By which share a run begins higher,"""
    more_s: float
    """and how fast that goes (1/e)."""
    follows: float = 0.05

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        duty = float(np.interp(tonight.warmth, (0, 1), self.duty))
        off_s = self.on_s * (1 - duty) / duty
        at, found = -rng.uniform(0, self.on_s + off_s), []
        while at < SPAN_S:
            on = float(np.clip(self.on_s * rng.lognormal(0, 0.08), 8 * MINUTE, 25 * MINUTE))
            off = off_s * rng.lognormal(0, 0.1) * np.interp(at, (0, SPAN_S), (0.9, 1.1))
            if hour(17.5) < at < hour(22.5) and rng.random() < 0.3:  # somebody opens the door
                on, off = on * rng.uniform(1.1, 1.5), off * rng.uniform(0.5, 1.0)
            found.append((at, at + on))
            at += on + off
        return tuple(found)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        settled = self.takes_W * rng.normal(1, 0.01) * (1 + self.more * np.exp(-age_s / self.more_s))
        return np.where(age_s < self.start_s, settled * self.start_times, settled)


@dataclass(frozen=True)
class Pump:
    """A pressure pump: taps in bouts by evening and morning, and refills by itself through the night."""

    takes_W: float
    a_night: float
    refill_s: float
    """What filling the accumulator alone takes."""
    start_times: float
    name: str = "pump"
    follows: float = 0.05

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        found: list[tuple[float, float]] = []
        wanted = round(float(np.clip(self.a_night * rng.lognormal(0, 0.15), 18, 55)))
        while len(found) < wanted:
            kind = rng.random()
            if kind < 0.15:
                begins = [(rng.uniform(hour(23), hour(29.5)), self.refill_s * rng.lognormal(0, 0.05))]
            else:
                at = rng.normal(hour(20.5), 1.2 * HOUR) if kind < 0.8 else rng.normal(hour(30), 0.8 * HOUR)
                begins = []
                for _ in range(rng.integers(1, 5)):
                    long = rng.uniform(12, 40) if rng.random() < 0.2 else rng.uniform(0.8, 3) * self.refill_s
                    begins.append((at, long))
                    at += long + rng.uniform(4, 60)
            found += [(at, at + float(np.clip(long, 2, 40))) for at, long in begins]
        return apart(found, 3.0)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        """A little more as the pressure rises."""
        rising = self.takes_W * rng.normal(1, 0.015) * np.interp(age_s, (0, 12), (0.97, 1.02))
        return np.where(age_s < 0.4, rising * self.start_times, rising)


@dataclass(frozen=True)
class Lamp:
    """A lamp or a group on one switch; a filament follows the voltage, a driven diode hardly does."""

    name: str
    takes_W: float
    follows: float
    evening_s: float
    """How long it usually burns in an evening."""

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        found = []
        for _ in range(rng.choice([0, 1, 2], p=[0.15, 0.55, 0.3])):
            at = rng.uniform(tonight.dusk_s - HOUR, hour(23))
            found.append((at, at + float(np.clip(self.evening_s * rng.lognormal(0, 0.5), 120, 5 * HOUR))))
        if rng.random() < 0.25:
            at = rng.uniform(hour(23.5), hour(29))
            found.append((at, at + rng.uniform(60, 400)))
        if rng.random() < 0.4:
            at = rng.uniform(hour(29), hour(31))
            found.append((at, at + rng.uniform(5, 50) * MINUTE))
        return apart(found, 20.0)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        return np.full(len(age_s), self.takes_W)


@dataclass(frozen=True)
class AnchorLight:
    """On at dusk, off at dawn; some nights it is left out, some mornings it is forgotten."""

    takes_W: float
    follows: float
    name: str = "anchor light"

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        if rng.random() < 0.15:
            return ()
        off = SPAN_S if rng.random() < 0.1 else tonight.dawn_s + rng.uniform(-0.3, 1.5) * HOUR
        return ((tonight.dusk_s + rng.uniform(-0.3, 0.7) * HOUR, off),)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        return np.full(len(age_s), self.takes_W)


@dataclass(frozen=True)
class Laptop:
    """Wanders with what is done on it, by its own converter."""

    likely: float
    name: str = "laptop"
    follows: float = 0.0

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        if rng.random() > self.likely:
            return ()
        at = rng.uniform(hour(17), hour(22))
        return ((at, at + rng.uniform(1, 3) * HOUR),)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        about = rng.uniform(20, 55)
        wandering = about + wander(rng, len(age_s) * TICK_S, rng.uniform(2, 5), MINUTE)
        return np.clip(wandering, 15, 60)


@dataclass(frozen=True)
class Heater:
    """Burns fuel; a glow plug at the start, then a blower that goes between low and high."""

    low_W: float
    high_W: float
    glows_W: float
    name: str = "heater"
    follows: float = 1.0

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        if rng.random() < 0.3 + 0.7 * tonight.warmth:
            return ()
        at = rng.uniform(hour(17), hour(21))
        return ((at, at + rng.uniform(1, 4) * HOUR),)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        blows = (self.low_W + self.high_W) / 2
        blowing = blows + wander(rng, len(age_s) * TICK_S, (self.high_W - self.low_W) / 2, 6 * MINUTE)
        glowing = self.glows_W * (age_s < 100)
        return np.clip(blowing, self.low_W, self.high_W) + glowing


@dataclass(frozen=True)
class Inverter:
    """Left on in some nights, with nothing behind it."""

    takes_W: float
    likely: float
    name: str = "inverter"
    follows: float = 0.5

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        if rng.random() > self.likely:
            return ()
        return ((rng.choice([-1.0, hour(rng.uniform(17, 22))]), SPAN_S),)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        return np.full(len(age_s), self.takes_W)


@dataclass(frozen=True)
class Standing:
    """Router, alarms, monitors: never off, with a slow ripple."""

    takes_W: float
    name: str = "standing"
    follows: float = 0.0

    def runs(self, rng: Generator, tonight: Tonight) -> Runs:
        return ((0.0, SPAN_S),)

    def watts(self, rng: Generator, age_s: Floats) -> Floats:
        return self.takes_W + wander(rng, len(age_s) * TICK_S, 0.3, 2 * MINUTE)


def apart(runs: Sequence[tuple[float, float]], gap_s: float) -> Runs:
    """In order; what would begin before the last has ended and rested is left out."""
    kept: list[tuple[float, float]] = []
    for run in sorted(runs):
        if not kept or run[0] >= kept[-1][1] + gap_s:
            kept.append(run)
    return tuple(kept)
