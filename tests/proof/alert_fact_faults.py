"""Faults of what rests on facts, each in a year of `alert_year` after some ordinary days."""

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from monitor.records import AlertChange, Severity
from tests.proof.alert_boat import DAY_S
from tests.proof.alert_year import Year


class Story(NamedTuple):
    """What became of one fault."""

    begun_s: float
    """From when its time runs."""
    told: list[tuple[float, AlertChange]]
    """What called since it began."""
    roots: tuple[tuple[str, str], ...] = ()
    """Causes that tell it as well."""


def _facts(seed: int, rng: np.random.Generator, days: int = 2) -> Year:
    year = Year(50_000 + seed)
    for _ in range(days):
        year.day()
    year.place, year.stays = "at anchor", 9
    year.charge_at = 0.0
    year.fault_s = (year.days + rng.uniform(0.05, 0.8)) * DAY_S
    return year


Of = Callable[[Year], bool]


def _go_on(
    year: Year, days: float, true: Of | None = None, over: Of | None = None
) -> tuple[float, list[Any]]:
    """Live on; when `true` first was so, and what called until it was `over` again: by day the sun may end
    what begins anew at night."""
    begun = [] if true is not None else [year.fault_s]
    ended: list[float] = []
    look = year._look

    def looked(at_s: float, current_A: float, sags: Any) -> bool:
        pending = look(at_s, current_A, sags)
        year.asked = False
        if not begun and at_s >= year.fault_s and true is not None and true(year):
            begun.append(at_s)
        if begun and not ended and over is not None and over(year):
            ended.append(at_s)
        return pending

    year._look = looked  # type: ignore[method-assign]
    until = year.days + days
    while year.days < until:
        year.day()
    until_s = ended[0] if ended else float("inf")
    told = [t for t in year.bridge.told if year.fault_s <= t[0] <= until_s]
    return begun[0] if begun else year.fault_s, told


def _low_voltage(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.sag_V = size = float(rng.uniform(1.6, 3.0))
    return size, Story(*_go_on(year, 1))


def _low_charge(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.share, year.sky = float(rng.uniform(0.52, 0.6)), 0.1
    year.fault_s = year.days * DAY_S + 60.0
    year.more_W = size = float(rng.uniform(120, 1200))
    begun, told = _go_on(year, 3, lambda y: y.share < 0.30, lambda y: y.share > 0.38)
    return size, Story(begun, told, (("low voltage", "house"),))


def _few_energy_days(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.share, year.sky = float(rng.uniform(0.85, 0.95)), 0.7
    year.more_W = size = float(rng.uniform(80, 400))
    begun, told = _go_on(year, 3, lambda y: y.days_true[0] < 1.0, lambda y: y.days_true[0] > 1.25)
    return size, Story(begun, told, (("low charge", "house"), ("low voltage", "house")))


def _low_water(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.more_L_per_h = size = float(rng.uniform(10, 200))
    return size, Story(*_dry(year, lambda y: y.litres < 61.5))


def _few_water_days(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.more_L_per_h = size = float(rng.uniform(3, 30))
    begun, told = _dry(year, lambda y: y.days_true[1] < 3.0)
    return size, Story(begun, told, (("low water", "water"),))


def _dry(year: Year, true: Callable[[Year], bool]) -> tuple[float, list[Any]]:
    year.litres, year.sealed = 330.0, True
    return _go_on(year, 5, true)


def _running_on(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.hose_s = year.fault_s
    _, told = _go_on(year, 1)
    return 0.0, Story(year.hose_s + 480.0, told)


def _leak(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng, 3)
    size = float(np.exp(rng.uniform(np.log(0.25), np.log(4.0))))
    year.fault_s = (year.days + rng.uniform(19.0, 23.5) / 24) * DAY_S
    year.water.house.leak, year.water.house.leak_from_s = size, year.fault_s
    return size, Story(*_go_on(year, 2))


def _source(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    name = ("backbone", "battery bus")[seed // 28 % 2]
    year.dead[name] = year.fault_s
    begun, told = _go_on(year, 1)
    return float(name == "backbone"), Story(
        begun, [t for t in told if t[1].subject == name or t[1].rule != "source silent"]
    )


def _instrument(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    what = ("house voltage", "house current")[seed // 28 % 2]
    year.dead[what] = year.fault_s
    begun, told = _go_on(year, 1)
    return float(what == "house voltage"), Story(begun, told)


def _store(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.broken_s = year.fault_s
    return 0.0, Story(*_go_on(year, 1))


def _clock(seed: int, rng: np.random.Generator) -> tuple[float, Story]:
    year = _facts(seed, rng)
    year.untimed_s = year.fault_s
    return 0.0, Story(*_go_on(year, 1))


Lived = Callable[[int, np.random.Generator], tuple[float, Story]]
FACTS: dict[str, tuple[str, Lived, Severity]] = {
    "low voltage": ("house", _low_voltage, Severity.ALARM),
    "low charge": ("house", _low_charge, Severity.WARNING),
    "few energy days": ("house", _few_energy_days, Severity.WARNING),
    "low water": ("water", _low_water, Severity.WARNING),
    "few water days": ("water", _few_water_days, Severity.WARNING),
    "pump running on": ("pump", _running_on, Severity.WARNING),
    "leak suspected": ("pump", _leak, Severity.WARNING),
    "source silent": ("", _source, Severity.WARNING),
    "instrument silent": ("house", _instrument, Severity.WARNING),
    "store trouble": ("store", _store, Severity.WARNING),
}
LESSER: dict[str, tuple[str, Lived, Severity]] = {"clock not confirmed": ("clock", _clock, Severity.CAUTION)}
