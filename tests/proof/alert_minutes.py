"""Minutes as *Marram*'s instruments tell them, and what was true in each."""

from array import array
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from math import ceil
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from monitor.channels import QUANTITIES
from monitor.records import Column
from monitor.settings_file import read_settings
from simulators.calendar import Calendar
from simulators.instruments import READINGS, Instruments
from simulators.life import Life
from simulators.scenario import ANCHORED, LEAVING, TO_ANCHOR, Appliance, Leg, Scenario, Winter
from simulators.shore import Pedestal
from simulators.stretch import Stretch
from tests.proof.alert_boat import DAY_S
from tests.proof.harness import ROOT

SETTINGS = read_settings(ROOT / "deploy" / "settings.sample.toml")
START_UTC_S = 1_790_812_800.0
"""2026-10-01 00:00 UTC."""
PUMP, RUNNING = "pressure pump", "pressure pump running"
LOOK_S = 15.0
COLD = Winter(cabin=13.0, sea=5.0, berth=11.0, locker=6.0, swing=4.0, sd=1.2)
PLACES = ("at anchor", "under way", "alongside")

# Channel, reading of the simulated instruments, step on the wire, seconds between readings, while it speaks.
TOLD = (
    ("house voltage", "house V", 0.01, 5, ""),
    ("house current", "house A", 0.1, 5, ""),
    ("house charge", "counted", 1.0, 30, ""),
    ("house voltage (opinion 2)", "BMS V", 0.01, 15, ""),
    ("house current (opinion 2)", "BMS A", 0.1, 5, ""),
    ("house charge (opinion 2)", "BMS charge", 0.5, 30, ""),
    ("house charge limit", "charge limit", 0.1, 20, ""),
    ("house discharge limit", "discharge limit", 0.1, 20, ""),
    ("house pre-alarm", "pre-alarm", 1.0, 20, ""),
    ("house contactor closed", "contactor", 1.0, 20, ""),
    *((f"house cell {n} voltage", f"cell {n} V", 0.001, 20, "") for n in range(1, 5)),
    *((f"house cell {n} temperature", f"cell {n} warmth", 0.1, 30, "") for n in (1, 2)),
    ("navigation voltage", "buffer V", 0.01, 10, ""),
    ("navigation current", "buffer A", 0.1, 10, ""),
    ("converter current", "converter A", 0.1, 15, ""),
    ("alternator current", "alternator A", 0.1, 15, ""),
    ("shore charger current", "charger A", 0.1, 15, ""),
    ("panels power", "panels W", 0.1, 20, ""),
    ("forward level", "forward", 0.1, 5, ""),
    ("midship level", "midship", 0.1, 5, ""),
    ("pressure pump pressure", "water bar", 0.001, 15, ""),
    ("attitude heel", "heel", 0.1, 5, ""),
    ("cabin temperature", "cabin", 0.1, 30, ""),
    ("sea temperature", "sea", 0.1, 60, ""),
    ("water heater temperature", "heater", 0.1, 60, ""),
    ("water heater on", "element", 1.0, 60, ""),
    ("position latitude", "latitude", 1e-6, 30, ""),
    ("position longitude", "longitude", 1e-6, 30, ""),
    ("shore ac voltage", "shore V", 0.1, 15, "shore"),
    ("shore ac current", "shore A", 0.1, 15, "shore"),
    ("shore ac power", "supply W", 1.0, 15, "shore"),
    ("engine speed", "rpm", 1.0, 15, "engine"),
    ("generator speed", "generator rpm", 1.0, 15, "generator"),
    ("generator supply ac voltage", "generator V", 0.1, 15, "generator"),
    ("generator supply ac current", "generator A", 0.1, 15, "generator"),
    ("generator supply ac frequency", "generator Hz", 0.01, 15, "generator"),
    ("generator supply ac power", "supply W", 1.0, 15, "generator"),
)
BATTERY_BUS = tuple(
    c
    for c, *_ in TOLD
    if any(word in c for word in ("opinion 2", "cell", "limit", "pre-alarm", "contactor closed"))
)
BROKER = ("panels power", "water heater temperature", "water heater on")
BACKBONE = (*(c for c, *_ in TOLD if c not in (*BATTERY_BUS, *BROKER)), RUNNING, f"{PUMP} current")
SPEAK = {"backbone": BACKBONE, "battery bus": BATTERY_BUS, "broker": BROKER}
SILENT_AFTER = {
    name: QUANTITIES[name.split(" (")[0].removeprefix(subject.name + " ")].silent_after_s
    for name in (*BACKBONE, *BATTERY_BUS, *BROKER)
    for _, subject in SETTINGS.subjects()
    if name.startswith(subject.name + " ")
    and name.split(" (")[0].removeprefix(subject.name + " ") in QUANTITIES
}


class Truth(NamedTuple):
    """What was true in a minute: means, but for the lowest voltage and the highest and lowest cell."""

    low_V: float
    pct: float
    house_A: float
    highest_V: float
    lowest_V: float
    coldest_C: float
    closed: bool
    shore_A: float
    shore_V: float
    generator_W: float
    buffer_V: float
    cabin_C: float
    shares: tuple[float, ...]
    """Of each tank's capacity."""
    charge_limit_A: float = 230.0


class Minute(NamedTuple):
    start_s: float
    columns: Mapping[str, Column]
    edges: tuple[tuple[float, float], ...]
    """The pump's indicator."""
    truth: Truth
    people: str = ""
    """As the crew set it by hand."""


def ordinary(place: str, seed: int, days: int) -> Scenario:
    """One of the lives that are lived at a place."""
    rng = np.random.default_rng([seed, PLACES.index(place), 77])
    legs: tuple[Leg, ...] = TO_ANCHOR
    if place == "alongside":
        legs = (Leg(-9, "alongside"),)
    if place == "under way":
        legs = (Leg(-9, "alongside"),)
        for day in range(days + 1):
            passage = rng.random() < 0.4
            legs += (Leg(day + LEAVING, "motoring"), Leg(day + ANCHORED, "sailing", "on watch"))
            legs += () if passage else (Leg(day + 17.5 / 24, "motoring"), Leg(day + 18.5 / 24, "at anchor"))
    appliances = tuple(
        Appliance(*row)
        for row in (
            ("kettle", 7.6, 4, 2000), ("kettle", 12.5, 4, 2000), ("kettle", 16.4, 4, 2000),
            ("fan heater", float(rng.uniform(18, 20)), float(rng.uniform(60, 240)), 1000),
            ("oven", 19.3, 40, 1700),
        )
    )  # fmt: skip
    generator = seed % 3 == 1
    dull = float(rng.uniform(1, 6))
    return Scenario(
        "Ordinary life",
        legs,
        clearness=float(rng.uniform(0.55, 0.85)),
        dull_days=((dull, dull + 3.0),),
        start_charge_pct=float(rng.uniform(55, 90)),
        start_water_pct=float(rng.uniform(50, 90)),
        charges_with="generator" if generator else "engine",
        charge_below_pct=float(rng.uniform(45, 60)),
        charge_until_pct=float(rng.uniform(80, 95)),
        full_every_days=float(rng.uniform(3, 7)),
        latitude=float(rng.choice([42.55, 42.55, 55.0])),
        speed_kn=5.2,
        heel_deg=float(rng.uniform(6, 14)) if place == "under way" else 0.0,
        cell_spread_pct=float(rng.uniform(0.08, 0.2)),
        pedestal=Pedestal(idle_V=float(rng.uniform(226, 236)), ohm=float(rng.uniform(0.25, 0.6))),
        appliances=appliances if place == "alongside" else (),
        winter=Winter(cabin=13.0, sea=5.0, berth=11.0, locker=6.0, swing=4.0, sd=1.2)
        if seed % 4 == 3
        else None,
    )


class Aboard:
    """Minutes as her instruments tell them, with what was true."""

    def __init__(self, scenario: Scenario, seed: int, days: float) -> None:
        calendar = Calendar.of(START_UTC_S, ZoneInfo("Europe/Madrid"))
        self._life = Life(scenario, seed, START_UTC_S, START_UTC_S + days * DAY_S, calendar)
        boat = self._life.boat
        self._instruments = Instruments(seed, boat.shunt_offset_A, boat.shunt_gain, boat.tanks)
        self._tanks = [(t.name, t.capacity_L) for t in SETTINGS.tanks]
        self._waiting: dict[str, tuple[list[float], list[float]]] = {}
        self._edges: list[tuple[float, float]] = []
        self._state_s, self._running = START_UTC_S, 0.0
        self._truth: list[dict[str, Any]] = []
        self._parts: dict[str, list[np.ndarray[Any, Any]]] = {}

    def minutes(self) -> Iterator[Minute]:
        minute_s = START_UTC_S
        for stretch in self._life.stretches():
            self._say(stretch)
            while minute_s + 60 <= stretch.end_s:
                yield self._minute(minute_s)
                minute_s += 60

    def _say(self, stretch: Stretch) -> None:
        start_s, end_s = stretch.start_s, stretch.end_s
        for channel, name, step, every_s, when in TOLD:
            if when and not getattr(stretch.conditions, when):
                continue
            times = np.arange(ceil(start_s / every_s) * every_s, end_s, every_s)
            if len(times):
                read = READINGS[name](self._instruments, stretch, times)
                if name in ("latitude", "longitude"):
                    read = read + self._way(stretch, name) * (times - start_s)
                values = np.rint(read / step) * step
                waiting = self._waiting.setdefault(channel, ([], []))
                waiting[0].extend(times.tolist())
                waiting[1].extend(values.tolist())
        self._pump(stretch)
        e, water, n = stretch.electrics, stretch.water, stretch.seconds
        pedestal = stretch.conditions.pedestal
        watts = np.broadcast_to(stretch.supply_W, (n,))
        mid = start_s + np.arange(n) + 0.5
        rows = {
            "V": e.bus_V, "pct": e.charge_pct, "A": e.bank_A, "hi": e.cells_V.max(axis=0),
            "lo": e.cells_V.min(axis=0), "cold": e.coldest_C, "closed": e.closed, "buffer": e.buffer_V,
            "shore A": pedestal.current_A(watts) if stretch.conditions.shore else np.zeros(n),
            "shore V": pedestal.voltage_V(watts) if stretch.conditions.shore else np.full(n, 230.0),
            "set W": watts if stretch.conditions.generator else np.zeros(n),
            "cabin": np.full(n, stretch.conditions.cabin),
        }  # fmt: skip
        for tank, capacity_L in self._tanks:
            rows[tank] = np.interp(mid, water.times_s, water.tanks_L[tank]) / capacity_L
        for what, values in rows.items():
            self._parts.setdefault(what, []).append(np.broadcast_to(np.asarray(values, float), (n,)))

    def _way(self, stretch: Stretch, name: str) -> float:
        """How the boat goes on within a stretch, for whose length the simulator has one position. [°/s]"""
        moved: float = getattr(self._life.boat, name) - getattr(stretch.conditions, name)
        return moved / stretch.seconds

    def _pump(self, stretch: Stretch) -> None:
        water = stretch.water
        for at_s, on in water.edges:
            self._states(at_s)
            if on and not self._running:
                times = np.arange(
                    at_s + 0.4, next((b for a, b in water.pumping if a >= at_s - 0.01), at_s), 1.0
                )
                self._amps(stretch, times)
            self._running = float(on)
            self._edges.append((at_s, self._running))
            self._state_s = at_s + LOOK_S
        self._states(stretch.end_s)

    def _amps(self, stretch: Stretch, times: np.ndarray[Any, Any]) -> None:
        said = self._waiting.setdefault(f"{PUMP} current", ([], []))
        said[0].extend(times.tolist())
        said[1].extend(READINGS["pump A"](self._instruments, stretch, times).round(1).tolist())

    def _states(self, until_s: float) -> None:
        while self._state_s < until_s:
            self._edges.append((self._state_s, self._running))
            if not self._running:
                said = self._waiting.setdefault(f"{PUMP} current", ([], []))
                said[0].append(self._state_s)
                said[1].append(0.0)
            self._state_s += LOOK_S

    def _minute(self, start_s: float) -> Minute:
        end_s, columns = start_s + 60.0, {}
        for channel, (times, values) in self._waiting.items():
            n = bisect_right(times, end_s - 1e-6)
            if n:
                columns[channel] = Column(array("d", times[:n]), array("d", values[:n]))
                del times[:n], values[:n]
        n = bisect_right(self._edges, (end_s, 0.0))
        edges = tuple(self._edges[:n])
        del self._edges[:n]
        return Minute(start_s, columns, edges, self._true())

    def _true(self) -> Truth:
        got = {}
        for what, parts in self._parts.items():
            taken: list[np.ndarray[Any, Any]] = []
            need = 60
            while need and parts:
                here = parts[0][:need]
                taken.append(here)
                need -= len(here)
                parts[0] = parts[0][len(here) :]
                if not len(parts[0]):
                    parts.pop(0)
            got[what] = np.concatenate(taken) if len(taken) > 1 else taken[0]
        mean = {what: float(values.mean()) for what, values in got.items()}
        return Truth(
            float(got["V"].min()), mean["pct"], mean["A"], float(got["hi"].max()), float(got["lo"].min()),
            mean["cold"], bool(got["closed"].min() > 0.5), mean["shore A"], mean["shore V"], mean["set W"],
            mean["buffer"], mean["cabin"], tuple(mean[name] for name, _ in self._tanks),
        )  # fmt: skip
