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
    compressors,
    mean_W,
    new_freezer,
    ripple,
)
from simulators.power import CHARGER_A, CHARGER_EFFICIENCY, Demand
from simulators.shapes import Piece, pieces
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


@dataclass(slots=True)
class Wants:
    """The demand of a stretch by what wants it; the sums are the demand's. [W]"""

    house_W: dict[str, Floats]
    """At the house's bus, the inverter's losses included."""
    navigation_W: dict[str, Floats]
    """Behind the converter."""


class Needs:
    """Remembers what is switched on, from stretch to stretch. `shapes` draws how powers run, and nothing
    that anybody does."""

    def __init__(
        self, clouds: Clouds, start_s: float, rng: np.random.Generator, shapes: np.random.Generator
    ) -> None:
        self.clouds, self._rng, self._shapes = clouds, rng, shapes
        self._compressors = compressors(start_s, rng)
        self._uses: list[tuple[Use, list[Piece]]] = []

    def switch_on(self, uses: Iterable[Use]) -> None:
        self._uses += [(use, pieces(use, self._shapes)) for use in uses]

    def replace_freezer(self, watts: float, now_s: float) -> None:
        """The old one is taken away, in the middle of a run perhaps; another of that power is put in."""
        self._compressors = [one for one in self._compressors if one.what != "freezer"]
        self._compressors.append(new_freezer(watts, now_s, self._shapes))
        self._uses = [(use, power) for use, power in self._uses if use.what != "freezer"]

    def demand(
        self, start_s: float, seconds: int, conditions: Conditions, water: Trace, inverting: bool
    ) -> tuple[Demand, Mains, Wants]:
        """The stretch's demand, its AC side, and who wants it. What the supply cannot carry comes from the
        bank; `inverting` says that the inverter stands by where nothing is asked of it."""
        at = np.arange(seconds, dtype=np.float64) + 0.5
        minutes = np.arange(0.0, seconds + 60.0, 60.0)
        house_W, by_ac_W = self._switched(start_s, seconds, conditions, water)
        ac_W = np.sum([np.zeros(seconds), *by_ac_W.values()], axis=0)
        if not conditions.mains:
            ac_W, by_ac_W = _no_more_than(INVERTER_MOST_W, ac_W, by_ac_W)
        supply_W, help_W, charger_W = np.zeros(seconds), np.zeros(seconds), np.zeros(seconds)
        if conditions.mains:
            pedestal = conditions.pedestal
            limit_W = pedestal.most_W(conditions.input_limit_A) if conditions.shore else GENERATOR_LIMIT_W
            by_W = by_ac_W | {"water heater": _element_W(water, start_s + at)}
            wanted_W = ac_W + by_W["water heater"]
            supply_W = np.minimum(wanted_W, limit_W)
            help_W, by_W = _no_more_than(INVERTER_MOST_W, wanted_W - supply_W, by_W, wanted_W)
            house_W |= {what: watts / INVERTER_EFFICIENCY for what, watts in by_W.items()}
            charger_W = np.minimum((limit_W - supply_W) * CHARGER_EFFICIENCY, CHARGER_A * BANK_V)
        else:
            house_W |= {what: watts / INVERTER_EFFICIENCY for what, watts in by_ac_W.items()}
            house_W["inverter"] = np.full(seconds, INVERTER_IDLE_W if inverting or ac_W.any() else 0.0)
        height_sin, _ = sun(conditions.latitude, conditions.longitude, start_s + minutes)
        dark = np.interp(at, minutes, (height_sin < SUNSET_SIN).astype(np.float64)) > 0.5
        panels_W = panels_clear_W(conditions.latitude, conditions.longitude, start_s + minutes)
        panels_W *= self.clouds.minutes(len(minutes)) * (SAIL_SHADE if conditions.place == "sailing" else 1)
        sun_W = np.interp(at, minutes, panels_W)
        navigation_W = self._navigation_W(conditions.place, dark)
        alternator_A = _alternator_A(conditions, at)
        demand = Demand(
            np.sum(list(house_W.values()), axis=0), np.sum(list(navigation_W.values()), axis=0), sun_W,
            alternator_A, charger_W, _coldest_C(conditions, at),
        )  # fmt: skip
        if conditions.charging_off:
            demand.sun_W, demand.alternator_A, demand.charger_W = (np.zeros(seconds) for _ in range(3))
        return demand, Mains(supply_W, ac_W, help_W), Wants(house_W, navigation_W)

    def _switched(
        self, start_s: float, seconds: int, conditions: Conditions, water: Trace
    ) -> tuple[dict[str, Floats], dict[str, Floats]]:
        """By what it is: on the house's bus, and on mains."""
        end_s = start_s + seconds
        for compressor in self._compressors if conditions.place != "laid up" else ():
            self.switch_on(compressor.uses(end_s, conditions.cabin))
        self._uses = [(use, power) for use, power in self._uses if use.end_s > start_s]
        by: dict[str, dict[str, list[Piece]]] = {"dc": {}, "ac": {}}
        for use, power in self._uses:
            if use.start_s < end_s:
                by[use.supply].setdefault(use.what, []).extend(power)
        by["dc"]["pressure pump"] = water.pump_pieces(start_s)
        dc_W, ac_W = (
            {what: mean_W(power, start_s, seconds) for what, power in by[side].items()} for side in by
        )
        return dc_W | {"standing": np.full(seconds, HOUSE_STANDING_W)}, ac_W

    def _navigation_W(
        self, place: str, dark: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"
    ) -> dict[str, Floats]:
        nominal_W = PILOT_W.get(place, 0.0)
        light_W = np.where(dark, LIGHT_W.get(place, 0.0), 0.0)
        wanders_W = ripple(self._rng, len(dark), 1.2 + 0.3 * nominal_W)
        all_W = np.maximum(2.0, NAVIGATION_W[place] + nominal_W + light_W + wanders_W)
        pilot_W = np.maximum(0.0, nominal_W + wanders_W) if nominal_W else np.zeros(len(dark))
        light = "anchor light" if place == "at anchor" else "running lights"
        return {"navigation": all_W - pilot_W - light_W, "pilot": pilot_W, light: light_W}


def _no_more_than(
    most_W: float, watts: Floats, by: dict[str, Floats], of_W: Floats | None = None
) -> tuple[Floats, dict[str, Floats]]:
    """That much at the most, each of its parts with the same share; they are parts of `of_W`."""
    held_W, of_W = np.minimum(watts, most_W), watts if of_W is None else of_W
    share = np.divide(held_W, of_W, out=np.zeros(len(of_W)), where=of_W > 0)
    return held_W, {what: part * share for what, part in by.items()}


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
