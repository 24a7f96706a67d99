"""A house bank, a converter and a lead battery behind it, minute by minute, as instruments tell of them."""

from array import array
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from monitor.estimation.buffer import BufferWatch
from monitor.estimation.watcher import Heard
from monitor.records import Column, Estimate, Finding, Mode, Reading
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from simulators.battery import LeadBuffer

SETTINGS: Settings = parse_settings(
    """
    [boat]
    name = "Test"
    latitude = 42.55
    longitude = -8.90
    [[banks]]
    name = "house"
    capacity_Ah = 460
    [[banks]]
    name = "navigation"
    role = "buffer"
    chemistry = "lead"
    nominal_V = 12
    capacity_Ah = 110
    [[chargers]]
    name = "converter"
    kind = "converter"
    into = "navigation"
    rated_A = 25
    [[loads]]
    name = "plotter"
    bank = "navigation"
    usual_W = 22
    keep = 6
    [[loads]]
    name = "navigation lights"
    bank = "navigation"
    usual_W = 9
    keep = 1
    [[loads]]
    name = "VHF radio"
    bank = "navigation"
    usual_W = 7
    keep = 3
    [[loads]]
    name = "freezer"
    usual_W = 58
    """,
    Path("."),
)
BANK = SETTINGS.banks[1]
MIDNIGHT_S = 1_790_812_800.0
"""2026-10-01 00:00 UTC."""
WELL = {"house voltage": 13.2, "house contactor closed": 1.0}


def heard(
    start_s: float,
    said: Mapping[str, float | list[float]],
    utc_s: float | None = None,
    silent: tuple[str, ...] = (),
) -> Heard:
    """A minute in which each channel said that, once or once a second; `silent` ones said it long ago."""
    columns, readings = {}, {}
    for name, what in said.items():
        values = what if isinstance(what, list) else [what]
        step_s = 60 / len(values)
        column = Column(array("d", [start_s + n * step_s for n in range(len(values))]), array("d", values))
        columns[name] = column
        readings[name] = Reading(column.times_s[-1], values[-1] if values[-1] == values[-1] else None, False)
    for name in silent:
        readings[name] = Reading(start_s - 3600.0, None, True)
    return Heard(start_s, utc_s, 1, columns, readings, Mode("at anchor", "awake"), {})


class Afloat:
    """The simulated lead battery under a watch. Its instruments: steps of 10 mV and 0.1 A, as on the bus,
    4 mV and 0.07 A of noise, a shunt up to 0.1 A off."""

    def __init__(self, seed: int, health: float = 1.0, ohms: float = 0.018, charge_pct: float = 98.0) -> None:
        self.rng = np.random.default_rng(seed)
        self.battery = LeadBuffer(BANK.capacity_Ah * health, charge_pct)
        self.battery.resistance_ohm = ohms
        self.watch = BufferWatch(SETTINGS)
        self.offset_A = float(self.rng.uniform(-0.1, 0.1))
        self.at_s = 0.0

    def live(self, minutes: int, load_W: float | list[float], limit_A: float = 25.0) -> Iterator[float]:
        """So many minutes of that load (or one for each second of them); yields the time after each. [s]"""
        for _ in range(minutes):
            volts, amperes, given = [], [], []
            for second in range(60):
                watts = load_W[second] if isinstance(load_W, list) else load_W
                given.append(self.battery.step(watts, limit_A, 1.0))
                volts.append(self.battery.voltage_V)
                amperes.append(self.battery.current_A)
            said: dict[str, float | list[float]] = {
                "navigation voltage": self._read(volts, 0.004, 0.01),
                "navigation current": self._read(amperes, 0.07, 0.1, self.offset_A),
                "converter current": self._read(given, 0.03, 0.1),
                **WELL,
            }
            self.watch.take(heard(self.at_s, said, MIDNIGHT_S + self.at_s))
            self.at_s += 60.0
            yield self.at_s

    def _read(self, true: list[float], noise: float, step: float, offset: float = 0.0) -> list[float]:
        read = np.array(true) + offset + self.rng.normal(0, noise, len(true))
        return [float(x) for x in np.rint(read / step) * step]


def estimate(watch: BufferWatch, name: str) -> Estimate:
    (found,) = [e for e in watch.estimates() if e.name == name]
    return found


def band(watch: BufferWatch, name: str) -> tuple[float, float, float]:
    """Value, low and high of an estimate that is known."""
    e = estimate(watch, name)
    assert e.value is not None
    assert e.low is not None
    assert e.high is not None
    assert e.low <= e.value <= e.high
    return e.value, e.low, e.high


def found(watch: BufferWatch, rule: str) -> Finding:
    (finding,) = [f for f in watch.findings() if f.rule == rule]
    return finding
