"""The pressure system: diaphragm pump, pressure switch, accumulator, taps, leaks and the heater.

Everything between two events flows at a constant rate, so the water in the accumulator is a
broken straight line and every pump edge is exact (rounded up to the millisecond), whatever the
rate at which the instruments are read.
"""

import heapq
import math
from dataclasses import dataclass, field

import numpy as np

from simulators.heater import Heater
from simulators.tanks import Manifold

ATMOSPHERE_BAR = 1.01325
MINUTE_S = 60.0


@dataclass(frozen=True, slots=True)
class Accumulator:
    """A bladder in a gas volume, isothermal (Boyle): pressures in bar gauge, volumes in litres."""

    volume_L: float = 1.0
    precharge_bar: float = 1.2

    @property
    def absolute_precharge_bar(self) -> float:
        return self.precharge_bar + ATMOSPHERE_BAR

    def water_L(self, bar: float) -> float:
        """Water held at that pressure."""
        gas = self.absolute_precharge_bar / (bar + ATMOSPHERE_BAR)
        return self.volume_L * (1 - min(1.0, gas))

    def bar(self, water_L: float) -> float:
        """Pressure with that much water in it; with none the pipe stands open: 0."""
        if water_L <= 0:
            return 0.0
        return self.absolute_precharge_bar * self.volume_L / (self.volume_L - water_L) - ATMOSPHERE_BAR

    def drawdown_L(self, cut_in_bar: float, cut_out_bar: float) -> float:
        """What it gives between pump stop and pump start."""
        return self.water_L(cut_out_bar) - self.water_L(cut_in_bar)


@dataclass(slots=True)
class Trace:
    """What happened in one stretch: corners of the broken lines, and the pump's runs."""

    times_s: list[float] = field(default_factory=list)
    accumulator_L: list[float] = field(default_factory=list)
    tanks_L: dict[str, list[float]] = field(default_factory=dict)
    edges: list[tuple[float, bool]] = field(default_factory=list)
    """Every start (True) and stop of the pump. [UTC s]"""
    runs: list[tuple[float, float]] = field(default_factory=list)
    """Start and stop of every run that ended in this stretch. [UTC s]"""
    pumping: list[tuple[float, float]] = field(default_factory=list)
    """The same, and of a run that goes on, up to the end of the stretch."""
    taken_L: list[float] = field(default_factory=list)
    """Taken from the tanks since the beginning, and lost by leaks."""
    leaked_L: list[float] = field(default_factory=list)
    heater: list[tuple[float, float, bool]] = field(default_factory=list)
    """Time, temperature, element on: at the beginning and at the minutes."""


class PressureSystem:
    flow_L_per_s = 11.0 / 60
    cut_in_bar = 1.4
    cut_out_bar = 2.8
    relief_bar = 6.0
    switch_scatter = 0.01
    """Relative scatter of the pressure at which the switch lets go."""

    def __init__(self, manifold: Manifold, heater: Heater, start_s: float, rng: np.random.Generator) -> None:
        self.manifold, self.heater, self._rng = manifold, heater, rng
        self.accumulator = Accumulator()
        self.now_s = start_s
        self.powered = True
        self.running_since_s: float | None = None
        self.held_L = self.accumulator.water_L(2.1)
        self.mains = self.engine = False
        self.cabin, self.cold = 18.0, 15.0
        self.taken_L = self.swelled_L = self.drawn_L = self.leaked_L = self.relieved_L = 0.0
        self._draw = self._hot = self._leak = self._swell = 0.0
        self._hot_L = 0.0
        self._changes: list[tuple[float, int, str, float]] = []
        self._serial = 0
        self._minute_s = start_s
        self._stop_L = self._next_stop()
        self._start_L = self.accumulator.water_L(self.cut_in_bar)

    def draw(self, start_s: float, litres: float, L_per_min: float, hot: float) -> None:
        """Somebody opens a tap; `hot` is the share that comes through the heater."""
        rate = L_per_min / 60
        end_s = start_s + litres / rate
        for what, amount in (("draw", rate), ("hot", rate * hot)):
            if amount:
                self._change(start_s, what, amount)
                self._change(end_s, what, -amount)

    def leak(self, start_s: float, L_per_h: float, end_s: float = math.inf) -> None:
        """Water goes astray after the pump from then on, whenever there is pressure."""
        self._change(start_s, "leak", L_per_h / 3600)
        if end_s < math.inf:
            self._change(end_s, "leak", -L_per_h / 3600)

    def switch(self, at_s: float, on: bool) -> None:
        """Somebody switches the pump's supply."""
        self._change(at_s, "power", float(on))

    def _change(self, at_s: float, what: str, amount: float) -> None:
        self._serial += 1
        heapq.heappush(self._changes, (max(round(at_s, 3), self.now_s), self._serial, what, amount))

    def advance(self, until_s: float) -> Trace:
        """Go on to that time."""
        trace = Trace(tanks_L={tank.name: [] for tank in self.manifold.tanks})
        trace.heater.append((self.now_s, self.heater.celsius, self.heater.element_on))
        self._note(trace)
        while self.now_s < until_s:
            if self.now_s >= self._minute_s:
                self._warm(trace)
            self._apply_changes()
            self._mind_the_switch(trace)
            end_s = min(until_s, self._minute_s)
            if self._changes:
                end_s = min(end_s, max(self._changes[0][0], self.now_s))
            self._flow(end_s)
            self._note(trace)
        trace.pumping = list(trace.runs)
        if self.running_since_s is not None:
            trace.pumping.append((self.running_since_s, until_s))
        return trace

    def _note(self, trace: Trace) -> None:
        trace.times_s.append(self.now_s)
        trace.accumulator_L.append(self.held_L)
        trace.taken_L.append(self.taken_L)
        trace.leaked_L.append(self.leaked_L)
        for tank in self.manifold.tanks:
            trace.tanks_L[tank.name].append(tank.litres)

    def _warm(self, trace: Trace) -> None:
        """Each minute the heater's temperature follows; its swelling flows during the next one."""
        pushed = self.heater.warm(MINUTE_S, self.mains, self.engine, self.cabin, self.cold, self._hot_L)
        self._hot_L = 0.0
        self._swell = pushed / MINUTE_S
        self._minute_s += MINUTE_S
        trace.heater.append((self.now_s, self.heater.celsius, self.heater.element_on))

    def _apply_changes(self) -> None:
        while self._changes and self._changes[0][0] <= self.now_s:
            _, _, what, amount = heapq.heappop(self._changes)
            if what == "draw":
                self._draw = max(0.0, self._draw + amount)
            elif what == "hot":
                self._hot = max(0.0, self._hot + amount)
            elif what == "leak":
                self._leak = max(0.0, self._leak + amount)
            else:
                self.powered = bool(amount)

    def _mind_the_switch(self, trace: Trace) -> None:
        if self.running_since_s is None:
            if self.powered and self.held_L <= self._start_L + 1e-9:
                self.running_since_s = self.now_s
                trace.edges.append((self.now_s, True))
        elif not self.powered or self.held_L >= self._stop_L - 1e-9:
            trace.runs.append((self.running_since_s, self.now_s))
            trace.edges.append((self.now_s, False))
            self.running_since_s = None
            self._stop_L = self._next_stop()

    def _next_stop(self) -> float:
        return self.accumulator.water_L(self.cut_out_bar * (1 + self.switch_scatter * self._rng.normal()))

    def _flow(self, end_s: float) -> None:
        """Constant flows until `end_s` or the next corner, whichever comes first."""
        pumped = self.flow_L_per_s if self.running_since_s is not None else 0.0
        if pumped and self.manifold.chosen.litres <= self.manifold.chosen.unusable_L + 1e-9:
            pumped = 0.0
        asked = self._draw + self._leak
        net = pumped + self._swell - asked
        target = None
        if net > 0:
            target = self._stop_L if self.running_since_s is not None else self._relief_L
        elif net < 0:
            target = self._start_L if self.running_since_s is None and self.powered else 0.0
        seconds = end_s - self.now_s
        if target is not None and net != 0:
            to_corner = (target - self.held_L) / net
            if 1e-9 < to_corner < seconds:
                seconds = to_corner
        if pumped:
            reach = (self.manifold.chosen.litres - self.manifold.chosen.unusable_L) / pumped
            seconds = min(seconds, reach) if reach > 1e-4 else seconds
        left = end_s - self.now_s
        if seconds < left:
            seconds = min(left, max(0.001, math.ceil(seconds * 1000 - 1e-6) / 1000))
        self._move(seconds, pumped, asked)
        self.now_s = end_s if seconds >= left else round(self.now_s + seconds, 3)

    @property
    def _relief_L(self) -> float:
        return self.accumulator.water_L(self.relief_bar)

    def _move(self, seconds: float, pumped: float, asked: float) -> None:
        given = self.manifold.chosen.draw(pumped * seconds)
        self.taken_L += given
        self.swelled_L += self._swell * seconds
        held = self.held_L + given + self._swell * seconds
        out = min(asked * seconds, max(0.0, held))
        if asked > 0:
            self.drawn_L += out * self._draw / asked
            self.leaked_L += out * self._leak / asked
            self._hot_L += out * self._hot / asked
        held -= out
        relieved = max(0.0, held - self._relief_L)
        self.relieved_L += relieved
        self.held_L = held - relieved
