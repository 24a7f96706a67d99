"""What is asked of the banks and what the chargers could give, second by second."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from simulators.generator import LIMIT_A
from simulators.heater import ELEMENT_W
from simulators.household import Use
from simulators.loads import (
    HOUSE_STANDING_W,
    INVERTER_EFFICIENCY,
    INVERTER_IDLE_W,
    LIGHT_W,
    NAVIGATION_W,
    PILOT_W,
    PUMP_DRY_W,
    PUMP_STALLED_W,
    PUMP_W,
    compressors,
    mean_W,
    ripple,
)
from simulators.power import CHARGER_A, CHARGER_EFFICIENCY, Demand
from simulators.shore import POWER_FACTOR
from simulators.sky import Clouds, Floats, panels_clear_W, sun
from simulators.stretch import Conditions
from simulators.trace import Trace

GENERATOR_LIMIT_W = LIMIT_A * 230.0 * POWER_FACTOR
BANK_V = 14.0
"""At this voltage the charger's limit in A is its limit in W."""
INVERTER_MOST_W = 2500.0
"""Its rating is 2 kW; more than this it does not hold, and the voltage breaks down."""
SUNSET_SIN = math.sin(math.radians(-0.833))
SAIL_SHADE = 0.75
"""What the sails leave of the sun."""
CELLS_S = 15_000.0
"""45 kg of cells at 1 kJ/kg K behind 3 W/K: common practice for a boxed bank of this size."""
SENSORS_APART_C = 0.25
"""The colder sensor stands so far below the mean, the warmer one above."""


@dataclass(slots=True)
class Mains:
    """The AC side of a stretch, the charger left out. [W]"""

    supply_W: Floats
    """What the supply gives to the household and the heater's element."""
    output_W: Floats
    """What the household takes behind the inverter."""
    help_W: Floats
    """What the inverter adds where the supply cannot carry all."""


class Needs:
    """Remembers what is switched on, from stretch to stretch."""

    def __init__(self, clouds: Clouds, start_s: float, rng: np.random.Generator) -> None:
        self.clouds, self._rng = clouds, rng
        self._compressors = compressors(start_s, rng)
        self._uses: list[Use] = []

    def switch_on(self, uses: Iterable[Use]) -> None:
        self._uses += uses

    def demand(
        self, start_s: float, seconds: int, conditions: Conditions, water: Trace, awake: bool
    ) -> tuple[Demand, Mains]:
        """The stretch's demand, and its AC side. What the supply cannot carry comes from the bank."""
        at = np.arange(seconds, dtype=np.float64) + 0.5
        minutes = np.arange(0.0, seconds + 60.0, 60.0)
        house_W, ac_W = self._switched(start_s, seconds, conditions, water)
        if not conditions.mains:
            ac_W = np.minimum(ac_W, INVERTER_MOST_W)
        supply_W, help_W, charger_W = np.zeros(seconds), np.zeros(seconds), np.zeros(seconds)
        if conditions.mains:
            pedestal = conditions.pedestal
            limit_W = pedestal.most_W(conditions.input_limit_A) if conditions.shore else GENERATOR_LIMIT_W
            wanted_W = ac_W + _element_W(water, start_s + at)
            supply_W = np.minimum(wanted_W, limit_W)
            help_W = np.minimum(wanted_W - supply_W, INVERTER_MOST_W)
            house_W += help_W / INVERTER_EFFICIENCY
            charger_W = np.minimum((limit_W - supply_W) * CHARGER_EFFICIENCY, CHARGER_A * BANK_V)
        else:
            idle_W = INVERTER_IDLE_W if awake or ac_W.any() else 0.0
            house_W += ac_W / INVERTER_EFFICIENCY + idle_W
        height_sin, _ = sun(conditions.latitude, conditions.longitude, start_s + minutes)
        dark = np.interp(at, minutes, (height_sin < SUNSET_SIN).astype(np.float64)) > 0.5
        panels_W = panels_clear_W(conditions.latitude, conditions.longitude, start_s + minutes)
        panels_W *= self.clouds.minutes(len(minutes)) * (SAIL_SHADE if conditions.place == "sailing" else 1)
        sun_W = np.interp(at, minutes, panels_W)
        navigation_W = self._navigation_W(conditions.place, dark)
        alternator_A = _alternator_A(conditions, at)
        demand = Demand(house_W, navigation_W, sun_W, alternator_A, charger_W, _coldest_C(conditions, at))
        if conditions.charging_off:
            demand.sun_W, demand.alternator_A, demand.charger_W = (np.zeros(seconds) for _ in range(3))
        return demand, Mains(supply_W, ac_W, help_W)

    def _switched(
        self, start_s: float, seconds: int, conditions: Conditions, water: Trace
    ) -> tuple[Floats, Floats]:
        end_s = start_s + seconds
        for compressor in self._compressors if conditions.place != "laid up" else ():
            self._uses += compressor.uses(end_s, conditions.cabin)
        self._uses = [use for use in self._uses if use.end_s > start_s]
        by: dict[str, list[tuple[float, float, float]]] = {"dc": [], "ac": []}
        for use in self._uses:
            if use.start_s < end_s:
                by[use.supply].append((use.start_s, use.end_s, use.watts))
        by["dc"] += [(a, b, PUMP_W) for a, b in water.pumping]
        by["dc"] += [(a, b, PUMP_DRY_W - PUMP_W) for a, b in water.dry]
        by["dc"] += [(a, b, PUMP_STALLED_W - PUMP_W) for a, b in water.stalled]
        return mean_W(by["dc"], start_s, seconds) + HOUSE_STANDING_W, mean_W(by["ac"], start_s, seconds)

    def _navigation_W(self, place: str, dark: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]") -> Floats:
        pilot_W = PILOT_W.get(place, 0.0)
        watts = NAVIGATION_W[place] + pilot_W + dark * LIGHT_W.get(place, 0.0)
        return np.asarray(np.maximum(2.0, watts + ripple(self._rng, len(dark), 1.2 + 0.3 * pilot_W)))


def _element_W(water: Trace, times: Floats) -> Floats:
    minutes = np.array([t for t, _, _ in water.heater])
    on = np.array([float(on) for _, _, on in water.heater])
    return np.asarray(ELEMENT_W * on[np.searchsorted(minutes, times, side="right") - 1])


def _alternator_A(conditions: Conditions, at: Floats) -> Floats:
    """90 A on its label; two thirds of it when warm (common practice)."""
    if not conditions.engine:
        return np.zeros(len(at))
    warm_s = conditions.engine_s + at
    return np.where(warm_s > 20, conditions.alternator_A + 24.0 * np.exp(-warm_s / 500), 0.0)


def _coldest_C(conditions: Conditions, at: Floats) -> Floats:
    """The cells follow their locker like any body with one time constant. [°C]"""
    away = conditions.cells_C - conditions.locker
    return conditions.locker + away * np.exp(-at / CELLS_S) - SENSORS_APART_C
