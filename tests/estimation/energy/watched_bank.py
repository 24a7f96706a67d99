"""A bank with its sensors, minute by minute, for the tests of what watches sensors."""

from array import array
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from monitor.estimation.opinions import OpinionWatch
from monitor.estimation.watcher import Heard
from monitor.records import Column, Estimate, Finding, Mode, Reading, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings

TEXT = """
    [boat]
    name = "Test"
    [[sources]]
    kind = "can"
    name = "bus"
    interface = "virtual"
    channel = "a"
    [[sources]]
    kind = "mqtt"
    name = "broker"
    [[banks]]
    name = "house"
    capacity_Ah = 400
    feeds = [
      { source = "bus", instance = 0 },
      { source = "broker", topic = "bms/amps", quantity = "current", positive = "charging" },
      { source = "broker", topic = "bms/charge", quantity = "charge" },
    ]
    [[pumps]]
    name = "pump"
    feeds = [{ source = "bus", instance = 0, indicator = 1, quantity = "running" }]
    [[chargers]]
    name = "panels"
    kind = "sun"
    into = "house"
    feeds = [{ source = "broker", topic = "panels", quantity = "current" }]
"""
SETTINGS = parse_settings(TEXT, Path())
CURRENT, SECOND, VOLTAGE = "house current", "house current (opinion 2)", "house voltage"
OHM = 0.006
"""Of a healthy bank of 12 V: a few thousandths (common practice)."""

Said = Mapping[str, float | Sequence[float]]


class Bank:
    """Hands the watcher minutes; a mapping of channels to one or several readings is a minute."""

    def __init__(self, settings: Settings = SETTINGS) -> None:
        self.watch = OpinionWatch(settings)
        self.at_s = 0.0
        self.readings: dict[str, Reading] = {}
        self.offset: tuple[float, float] | None = None
        self.doubted = False

    def minute(self, said: Said) -> "Bank":
        columns = {}
        for name, told in said.items():
            values = list(told) if isinstance(told, Sequence) else [told] * 6
            times = np.linspace(self.at_s, self.at_s + 59.0, len(values))
            columns[name] = Column(array("d", times), array("d", values))
            self.readings[name] = Reading(float(times[-1]), values[-1], False)
        self.watch.take(
            Heard(
                self.at_s, None, 1, columns, dict(self.readings), Mode("at anchor", "awake"), self._charge()
            )
        )
        self.at_s += 60.0
        return self

    def _charge(self) -> dict[tuple[str, str], Estimate]:
        if self.offset is None:
            return {}
        facts = {"since_s": 0.0, "offset_A": self.offset[0], "offset_sd_A": self.offset[1]}
        facts |= {"changed": self.doubted}
        reason = Reason("charge count doubted" if self.doubted else "charge counted", facts)
        return {("charge_pct", "house"): Estimate("charge_pct", "house", self.at_s, 70.0, 65.0, 75.0, reason)}

    def found(self, rule: str, subject: str = CURRENT) -> Finding:
        return next(f for f in self.watch.findings() if (f.rule, f.subject) == (rule, subject))

    def told(self, name: str) -> Estimate:
        return next(e for e in self.watch.estimates() if e.name == name)


def household(rng: np.random.Generator, minutes: int) -> np.ndarray:
    """The true current of some days: loads that come and go, the sun by day. [A]"""
    amps = np.full(minutes, -2.5)
    for watts_A, on, off in ((4.3, 14, 32), (1.5, 90, 200), (30.0, 4, 500)):
        at = int(rng.integers(0, off))
        while at < minutes:
            amps[at : at + on] -= watts_A
            at += on + int(rng.integers(off // 2, off * 2))
    sun = np.maximum(0.0, np.sin(2 * np.pi * (np.arange(minutes) / 1440 - 0.3)))
    return amps + 22.0 * sun * np.repeat(rng.uniform(0.3, 1.0, minutes // 15 + 1), 15)[:minutes]


def steps(values: np.ndarray, step: float) -> list[float]:
    """As an instrument tells them: in whole steps."""
    return [float(v) for v in np.round(values / step) * step]
