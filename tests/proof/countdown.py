"""The countdown to a cut: a cell that runs away while the engine charges, and months without a cut.

*Marram*'s life and instruments, minute by minute, without the frames between: readings every five
seconds with the instruments' own errors, noise and steps. The seeds are others than those on which the
limits of the countdown were chosen (below 100, and below 10).
"""

import math
from array import array
from collections.abc import Iterator, Mapping, Sequence
from statistics import median
from zoneinfo import ZoneInfo

import numpy as np

from monitor.alerts.book import AlertBook
from monitor.clock import DAY_S
from monitor.estimation.cells import CellWatch
from monitor.estimation.watcher import Heard
from monitor.records import Column, Mode, Reading, Severity
from monitor.settings import Bank, Boat, Charger, Engine, Settings
from simulators.calendar import Calendar
from simulators.instruments import READINGS, Instruments
from simulators.life import Life
from simulators.scenarios import SCENARIOS
from simulators.stretch import Floats, Stretch
from tests.proof.harness import Case, Row

START_UTC_S = 1_790_812_800.0
"""2026-10-01 00:00 UTC."""
SETTINGS = Settings(
    boat=Boat(name="Marram"),
    banks=[Bank(name="house", capacity_Ah=460, charge_limit_A=230)],
    chargers=[Charger(name="alternator", kind="alternator", into="house")],
    engines=[Engine(name="engine")],
)
# Channel, reading of the simulated instruments, its step on the wire.
TOLD = (
    ("house voltage", "house V", 0.01),
    ("house current", "house A", 0.1),
    *((f"house cell {n} voltage", f"cell {n} V", 0.001) for n in range(1, 5)),
    *((f"house cell {n} temperature", f"cell {n} warmth", 0.1) for n in (1, 2)),
    ("house charge limit", "charge limit", 0.1),
    ("house discharge limit", "discharge limit", 0.1),
    ("house pre-alarm", "pre-alarm", 1.0),
    ("house contactor closed", "contactor", 1.0),
    ("alternator current", "alternator A", 0.1),
)
EVERY_S = 5.0


class Aboard:
    """Minutes as a watcher hears them, and when the contactor opened."""

    def __init__(self, scenario: str, seed: int, days: float) -> None:
        calendar = Calendar.of(START_UTC_S, ZoneInfo("Europe/Madrid"))
        end_s = START_UTC_S + days * DAY_S
        self._life = Life(SCENARIOS[scenario], seed, START_UTC_S, end_s, calendar)
        boat = self._life.boat
        self._instruments = Instruments(seed, boat.shunt_offset_A, boat.shunt_gain, boat.tanks)
        self._times = np.empty(0)
        self._values: dict[str, Floats] = {}
        self._readings: dict[str, Reading] = {}
        self.opened_s: list[float] = []

    def minutes(self) -> Iterator[Heard]:
        minute_s = START_UTC_S
        for stretch in self._life.stretches():
            closed = stretch.electrics.closed
            for second in stretch.electrics.outages_s:
                if closed[second] < 0.5:
                    self.opened_s.append(stretch.start_s + second)
            self._say(stretch)
            while minute_s + 60 <= stretch.end_s:
                yield self._heard(minute_s)
                minute_s += 60

    def _say(self, stretch: Stretch) -> None:
        first = math.ceil(stretch.start_s / EVERY_S) * EVERY_S
        times = np.arange(first, stretch.end_s, EVERY_S)
        if not len(times):
            return
        told = list(TOLD)
        if stretch.conditions.engine:
            told.append(("engine speed", "rpm", 1.0))
        self._times = np.concatenate((self._times, times))
        for channel, name, step in told:
            values = np.rint(READINGS[name](self._instruments, stretch, times) / step) * step
            waiting = len(self._times) - len(times)
            before = self._values.get(channel, np.full(waiting, math.nan))
            self._values[channel] = np.concatenate((before, values))
        for channel in self._values.keys() - {channel for channel, _, _ in told}:
            kept = self._values[channel]
            self._values[channel] = np.concatenate((kept, np.full(len(times), math.nan)))

    def _heard(self, start_s: float) -> Heard:
        count = int(np.searchsorted(self._times, start_s + 60.0))
        times, self._times = self._times[:count], self._times[count:]
        columns: dict[str, Column] = {}
        for channel, values in self._values.items():
            said, self._values[channel] = values[:count], values[count:]
            spoke = np.isfinite(said)
            if spoke.any():
                at_s, told = array("d", times[spoke].tolist()), array("d", said[spoke].tolist())
                columns[channel] = Column(at_s, told)
                self._readings[channel] = Reading(at_s[-1], told[-1], False)
            elif channel in self._readings:
                self._readings[channel] = self._readings[channel]._replace(silent=True)
        return Heard(start_s, start_s, 1, columns, self._readings, Mode("at anchor", "awake"), {})


def running_away(seed: int) -> Row:
    """Minutes for which the warning, and the alarm, had stood without a break when the BMS cut."""
    aboard, watch, book = Aboard("bms-cut-motoring", seed, 3.0), CellWatch(SETTINGS), AlertBook()
    since_s: dict[Severity, float] = {}
    taken_back = 0
    for minute in aboard.minutes():
        if aboard.opened_s and minute.end_s > aboard.opened_s[0]:
            break
        watch.take(minute)
        coming = [f for f in watch.findings() if f.rule == "cut coming"]
        for change in book.step(1, minute.end_s, coming):
            if change.state == "active":
                since_s.setdefault(Severity.WARNING, change.at_s)
                since_s.setdefault(change.severity, change.at_s)
            else:
                since_s.clear()
                taken_back += 1
    cut_s = aboard.opened_s[0] if aboard.opened_s else None
    row: Row = {"cut": cut_s is not None, "taken back": taken_back}
    for severity, name in ((Severity.WARNING, "warned min"), (Severity.ALARM, "alarmed min")):
        at_s = since_s.get(severity)
        row[name] = None if cut_s is None or at_s is None else round((cut_s - at_s) / 60, 2)
    return row


def running_away_figures(rows: Sequence[Row]) -> dict[str, float]:
    cuts = [row for row in rows if row["cut"]]
    warned = [row["warned min"] if row["warned min"] is not None else -1.0 for row in cuts]
    alarmed = [row["alarmed min"] if row["alarmed min"] is not None else -1.0 for row in cuts]
    return {
        "voyages": len(rows),
        "cuts": len(cuts),
        "warned at least five minutes before": sum(minutes >= 5 for minutes in warned),
        "least minutes from the warning": min(warned),
        "median minutes from the warning": median(warned),
        "least minutes from the alarm": min(alarmed),
        "median minutes from the alarm": median(alarmed),
        "warnings taken back before": sum(row["taken back"] for row in rows),
    }


def running_away_misses(found: Mapping[str, float]) -> list[str]:
    late = found["cuts"] - found["warned at least five minutes before"]
    misses = [f"cuts warned of less than five minutes before: {late:g}, wanted none"] if late else []
    if found["cuts"] < found["voyages"]:
        misses.append(f"voyages without a cut: {found['voyages'] - found['cuts']:g}, wanted none")
    return misses


ANCHORED_DAYS = 100


def anchored(seed: int) -> Row:
    """A season at anchor: how often any rule of the cells began to hold, and how high the cells came."""
    aboard, watch = Aboard("month-at-anchor", seed, ANCHORED_DAYS), CellWatch(SETTINGS)
    held: dict[str, int] = {}
    before: set[str] = set()
    highest_V, tops = 0.0, 0
    topped = False
    for minute in aboard.minutes():
        watch.take(minute)
        now = {f.rule for f in watch.findings() if f.holds}
        for rule in now - before:
            held[rule] = held.get(rule, 0) + 1
        before = now
        peak_V = max((minute.mean(f"house cell {n} voltage") or 0.0) for n in range(1, 5))
        highest_V = max(highest_V, peak_V)
        if peak_V > 3.5 and not topped:
            tops += 1
        topped = peak_V > 3.5 or (topped and peak_V > 3.4)
    return {
        "days": ANCHORED_DAYS,
        "cuts": len(aboard.opened_s),
        "charges to the top": tops,
        "highest cell V": round(highest_V, 3),
        "false": held.get("cut coming", 0),
        "other rules": sum(count for rule, count in held.items() if rule != "cut coming"),
    }


def anchored_figures(rows: Sequence[Row]) -> dict[str, float]:
    return {
        "days": sum(row["days"] for row in rows),
        "cuts": sum(row["cuts"] for row in rows),
        "charges to the top": sum(row["charges to the top"] for row in rows),
        "highest cell": max(row["highest cell V"] for row in rows),
        "false warnings of a cut": sum(row["false"] for row in rows),
        "other rules that held": sum(row["other rules"] for row in rows),
    }


def anchored_misses(found: Mapping[str, float]) -> list[str]:
    return [
        f"{name}: {found[name]:g}, wanted none"
        for name in ("false warnings of a cut", "other rules that held", "cuts")
        if found[name]
    ]


CODE = (
    "monitor/estimation/bank_minute.py",
    "monitor/estimation/cells.py",
    "monitor/estimation/cold.py",
    "monitor/estimation/countdown.py",
    "monitor/estimation/cut.py",
    "monitor/estimation/empty_cell.py",
    "monitor/estimation/full_cell.py",
    "monitor/estimation/holding.py",
    "monitor/estimation/recent.py",
    "monitor/estimation/spread.py",
    "monitor/estimation/trend.py",
    "simulators/battery.py",
    "simulators/bms.py",
    "simulators/power.py",
    "simulators/scenario.py",
    "simulators/scenarios.py",
    "tests/proof/countdown.py",
)
CASES = [
    Case(
        name="runaway",
        claim="a cell that runs away under the alternator is told five minutes before the BMS cuts, always",
        code=CODE,
        seeds=range(100, 160),
        run=running_away,
        figures=running_away_figures,
        misses=running_away_misses,
        slice=(100,),
    ),
    Case(
        name="anchored",
        claim="in three hundred days at anchor, full every few days, nobody is warned of a cut",
        code=CODE,
        seeds=range(10, 13),
        run=anchored,
        figures=anchored_figures,
        misses=anchored_misses,
        slice=(),
    ),
]
