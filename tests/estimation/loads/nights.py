"""Simulated nights of a 12.8 V house current, of which the truth is known by the appliance and second.

    boat = lives(7)
    night = boat.night(0)
    night.heard.amps     what the instrument said
    night.truth["pump"]  what the pump took in each second

Nights of one boat share its appliances, not what happens. Nothing comes from the code under test: the bank
is a resting voltage that falls through the night behind a resistance, motors take nearly constant power,
resistances go with the square of the voltage. No source runs, unless the boat lies `alongside`: then a
charger holds the voltage, follows the load half a second late, and its power is metered.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator, default_rng

from monitor.clock import Interval
from tests.estimation.loads.appliances import (
    HOUR,
    SPAN_S,
    TICK_S,
    TICKS,
    AnchorLight,
    Appliance,
    Compressor,
    Floats,
    Heater,
    Inverter,
    Lamp,
    Laptop,
    Pump,
    Runs,
    Standing,
    Tonight,
    hour,
)

FIRST_S = 1_780_329_600.0
"""2026-06-01 16:00 UTC: where the first night is begun to be heard."""
NOMINAL_V = 12.8
NOISE_A, STEP_A = 0.06, 0.1
NOISE_V, STEP_V = 0.004, 0.01
LOST, JITTER_S = 0.01, 0.05
"""Of an instrument that does not speak every second."""
METERED_OFF = 0.02


@dataclass(frozen=True)
class Heard:
    """What the instruments said."""

    utc_s: Floats
    amps: Floats
    """Into the bank."""
    volts: Floats
    made_W: Floats | None
    """What the charger's meter said at the same times; None where nothing is made."""


@dataclass(frozen=True)
class Night:
    start_s: float
    """16:00 UTC: two hours before it begins."""
    heard: Heard
    truth: Mapping[str, Floats]
    """Mean watts of each second from `start_s` for sixteen hours; an appliance that never ran has zeros."""
    runs: Mapping[str, Runs]
    """When each was on, UTC, cut to the sixteen hours."""

    @property
    def during(self) -> Interval:
        """The night itself: 18:00 to 06:00."""
        return Interval(self.start_s + 2 * HOUR, self.start_s + 14 * HOUR)

    def truth_by(self, edges_utc_s: Floats) -> dict[str, Floats]:
        """Mean watts of each step between these edges."""
        seconds = self.start_s + np.arange(SPAN_S + 1)
        sums = {name: np.concatenate(([0.0], np.cumsum(watts))) for name, watts in self.truth.items()}
        return {
            name: np.diff(np.interp(edges_utc_s, seconds, summed)) / np.diff(edges_utc_s)
            for name, summed in sums.items()
        }


@dataclass(frozen=True)
class Boat:
    seed: int
    appliances: tuple[Appliance, ...]
    ohm: float
    resting_V: tuple[float, float]
    """At 16:00 and at 08:00."""
    offset_A: float
    dusk: float
    """The hour of it."""
    warmth: float
    every_s: float
    alongside: bool

    def night(self, number: int) -> Night:
        """A night of its life, always the same for the same number."""
        rng = default_rng([self.seed, 1 + number])
        tonight = Tonight(
            float(np.clip(self.warmth + rng.uniform(-0.25, 0.25), 0, 1)),
            hour(self.dusk),
            hour(49.2 - self.dusk),
        )
        runs: dict[str, Runs] = {}
        asked: dict[str, Floats] = {}
        for appliance in self.appliances:
            runs[appliance.name], asked[appliance.name] = _drawn(appliance, rng, tonight)
        resting_V = np.linspace(*self.resting_V, TICKS)
        start_s = FIRST_S + number * 24 * HOUR
        volts, taken = self._electric(resting_V, asked)
        return Night(
            start_s,
            self._hears(rng, start_s, volts, np.sum(list(taken.values()), axis=0)),
            {name: watts.reshape(-1, round(1 / TICK_S)).mean(axis=1) for name, watts in taken.items()},
            {name: tuple((start_s + a, start_s + b) for a, b in told) for name, told in runs.items()},
        )

    def _electric(self, resting_V: Floats, asked: Mapping[str, Floats]) -> tuple[Floats, dict[str, Floats]]:
        """Volts at the bank and what each takes at them: four rounds settle them to under a microvolt."""
        follows = {appliance.name: appliance.follows for appliance in self.appliances}
        volts = resting_V
        for _ in range(1 if self.alongside else 4):
            taken = {name: watts * (volts / NOMINAL_V) ** follows[name] for name, watts in asked.items()}
            if not self.alongside:
                volts = resting_V - self.ohm * np.sum(list(taken.values()), axis=0) / volts
        return volts, taken

    def _hears(self, rng: Generator, start_s: float, volts: Floats, used_W: Floats) -> Heard:
        ticks = np.arange(0, SPAN_S, self.every_s) / TICK_S
        late = np.zeros(len(ticks))
        if self.every_s != 1.0:
            ticks = ticks[rng.random(len(ticks)) >= LOST]
            late = rng.normal(0, JITTER_S, len(ticks))
        at = ticks.astype(int)
        made_W = None
        amps = -used_W / volts
        if self.alongside:
            follows_W = used_W[np.maximum(np.arange(TICKS) - round(0.5 / TICK_S), 0)]
            off = 1 + default_rng([self.seed, 0, 1]).uniform(-METERED_OFF, METERED_OFF)
            made_W = off * follows_W[np.maximum(at - round(1 / TICK_S), 0)]
            amps = amps + follows_W / volts
        heard_A = amps[at] + self.offset_A + rng.normal(0, NOISE_A, len(at))
        heard_V = volts[at] + rng.normal(0, NOISE_V, len(at))
        return Heard(
            start_s + at * TICK_S + late,
            np.round(heard_A / STEP_A) * STEP_A,
            np.round(heard_V / STEP_V) * STEP_V,
            made_W,
        )


def _drawn(appliance: Appliance, rng: Generator, tonight: Tonight) -> tuple[Runs, Floats]:
    """When it runs within the span, on whole ticks, and its watts by the tick."""
    watts = np.zeros(TICKS)
    kept: list[tuple[float, float]] = []
    for on_s, off_s in appliance.runs(rng, tonight):
        first, end = round(on_s / TICK_S), round(off_s / TICK_S)
        if end <= 0 or first >= TICKS:
            continue
        taken = appliance.watts(rng, TICK_S * np.arange(end - first, dtype=np.float64))
        inside = slice(max(first, 0), min(end, TICKS))
        watts[inside] = taken[inside.start - first : inside.stop - first]
        kept.append((inside.start * TICK_S, inside.stop * TICK_S))
    return tuple(kept), watts


def lives(seed: int, every_s: float = 1.0, *, alongside: bool = False) -> Boat:
    """A boat by its seed; the instrument speaks every `every_s` (1, 1.5 or 10 s)."""
    rng = default_rng([seed, 0])
    high_V = rng.uniform(13.15, 13.4)
    fall_V = rng.uniform(0.05, high_V - 12.95)
    held_V = rng.uniform(13.4, 13.6)
    return Boat(
        seed,
        _aboard(rng),
        ohm=rng.uniform(0.005, 0.015),
        resting_V=(held_V, held_V) if alongside else (high_V, high_V - fall_V),
        offset_A=rng.choice([-1.0, 1.0]) * rng.uniform(0, 0.05),
        dusk=rng.uniform(18, 21),
        warmth=rng.uniform(0, 1),
        every_s=every_s,
        alongside=alongside,
    )


def _compressor(rng: Generator, name: str, takes_W: float) -> Compressor:
    return Compressor(
        name,
        takes_W,
        on_s=rng.uniform(9, 22) * 60,
        duty=(rng.uniform(0.25, 0.35), rng.uniform(0.4, 0.55)),
        start_times=rng.uniform(1.5, 3),
        start_s=rng.uniform(1, 2),
        more=rng.uniform(0.04, 0.12),
        more_s=rng.uniform(60, 180),
    )


def _aboard(rng: Generator) -> tuple[Appliance, ...]:
    fridge_W, freezer_W = 0.0, 0.0
    while not max(fridge_W, freezer_W) > 1.15 * min(fridge_W, freezer_W):
        fridge_W, freezer_W = rng.uniform(45, 65), rng.uniform(60, 85)
    aboard: list[Appliance] = [
        Standing(rng.uniform(5, 20)),
        _compressor(rng, "fridge", fridge_W),
        _compressor(rng, "freezer", freezer_W),
        Pump(rng.uniform(65, 95), rng.uniform(18, 45), rng.uniform(2.5, 7), rng.uniform(1.3, 2.2)),
        AnchorLight(rng.uniform(2.5, 10), rng.choice([0.0, 1.6])),
    ]
    for number in range(1, rng.integers(2, 6) + 1):
        takes_W = float(np.exp(rng.uniform(np.log(4), np.log(30))))
        aboard.append(Lamp(f"lamp {number}", takes_W, rng.choice([0.0, 0.5, 1.6]), rng.uniform(10, 100) * 60))
    if rng.random() < 0.8:
        aboard.append(Laptop(rng.uniform(0.4, 1)))
    if rng.random() < 0.3:
        aboard.append(Heater(rng.uniform(8, 15), rng.uniform(20, 40), rng.uniform(70, 110)))
    if rng.random() < 0.4:
        aboard.append(Inverter(rng.uniform(8, 15), rng.uniform(0.3, 0.8)))
    return tuple(aboard)
