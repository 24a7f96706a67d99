"""The pressure system: diaphragm pump, pressure switch, accumulator, taps, leaks and the heater.

Everything between two events flows at a constant rate, so the water in the accumulator is a
broken straight line and every pump edge is exact (rounded up to the millisecond), whatever the
rate at which the instruments are read.
"""

import math
from dataclasses import replace
from typing import Literal

import numpy as np

from simulators.accumulator import Accumulator
from simulators.flows import Flows, Where
from simulators.heater import Heater
from simulators.tanks import Manifold
from simulators.trace import SUMS, Trace, lengthen

MINUTE_S = 60.0
PUMP_L_PER_S = 11.0 / 60
RELIEF_BAR = 6.0
NEAR_L = 1e-9
HOT_HOSE_C = (45.0, 65.0)
"""A hose on the hot side begins to drip at the first and drips in full from the second on."""


TAPS_BAR = 2.1
"""Taps give what they are said to give at this pressure, the middle of the switch's; with less, less: the
pressure goes by the square of the flow (an orifice). A pipe that has come off holds nothing back."""


class PressureSystem:
    flow_L_per_s = PUMP_L_PER_S
    cut_in_bar = 1.4
    cut_out_bar = 2.8
    relief_bar = RELIEF_BAR
    stall_bar = 4.8
    """What the pump can pump up against, where no switch stops it."""
    switch_scatter = 0.01
    """Relative scatter of the pressure at which the switch lets go."""

    def __init__(self, manifold: Manifold, heater: Heater, start_s: float, rng: np.random.Generator) -> None:
        self.manifold, self.heater, self._rng = manifold, heater, rng
        self.accumulator = Accumulator()
        self.now_s = start_s
        self.primed = True
        self.switch_stuck = False
        self.running_since_s: float | None = None
        self.held_L = self.accumulator.water_L(2.1)
        self.mains = self.engine = False
        self.cabin, self.cold = 18.0, 15.0
        self.taken_L = self.drawn_L = self.leaked_L = self.above_L = self.returned_L = 0.0
        self.relieved_L = self.swelled_L = self.made_L = 0.0
        self._flows = Flows(start_s)
        self._swell = self._hot_L = 0.0
        self._minute_s = start_s
        self._stop_bar = self._next_stop()
        self._mark()

    # What is done to it

    def draw(self, start_s: float, litres: float, L_per_min: float, hot: float) -> None:
        """Somebody opens a tap; `hot` is the share that comes through the heater."""
        rate = L_per_min / 60
        end_s = start_s + litres / rate
        for what, amount in (("draw", rate), ("hot", rate * hot)):
            if amount:
                self._flows.add(start_s, end_s, what, "", amount)

    def leak(
        self,
        start_s: float,
        L_per_h: float,
        end_s: float = math.inf,
        where: Where = "after the pump",
        tank: str = "",
    ) -> None:
        """Water goes astray from then on: after the pump whenever there is pressure; on the heater's hot side
        while it is hot; through the resting pump back into the tank; or before the pump, out of `tank`."""
        self._flows.add(start_s, end_s, where, tank, L_per_h / 3600)

    def pour(
        self, what: Literal["fill", "make"], tank: str, start_s: float, end_s: float, L_per_h: float
    ) -> None:
        """A hose, or a watermaker, runs into that tank; what it cannot hold runs over."""
        self._flows.add(start_s, end_s, what, tank, L_per_h / 3600)

    def switch(self, at_s: float, on: bool) -> None:
        """Somebody switches the pump's supply."""
        self._flows.add(at_s, math.inf, "power", "", 1.0 if on else -1.0)

    def leave_air(self, part: float) -> None:
        """So much of the accumulator's air is left. To pump it up again it is drained first."""
        if part > self.accumulator.air:
            self.drawn_L += self.held_L
            self.held_L = 0.0
        self.accumulator = replace(self.accumulator, air=part)
        self._mark()

    def set_relief(self, bar: float) -> None:
        """The relief valve lets go there."""
        self.relief_bar = bar
        self._mark()

    # What it does

    def advance(self, until_s: float) -> Trace:
        """Go on to that time."""
        trace = Trace(self.accumulator, tanks_L={tank.name: [] for tank in self.manifold.tanks})
        trace.heater.append((self.now_s, self.heater.celsius, self.heater.element_on))
        self._note(trace)
        while self.now_s < until_s:
            if self.now_s >= self._minute_s:
                self._warm(trace)
            self._flows.apply(self.now_s)
            self._mind_the_switch(trace)
            end_s = min(until_s, self._minute_s)
            self._flow(min(end_s, max(self._flows.next_s, self.now_s)), trace)
            self._note(trace)
        trace.pumping = list(trace.runs)
        if self.running_since_s is not None:
            trace.pumping.append((self.running_since_s, until_s))
        return trace

    @property
    def filled_L(self) -> float:
        return sum(tank.filled_L for tank in self.manifold.tanks)

    @property
    def spilt_L(self) -> float:
        return sum(tank.spilt_L for tank in self.manifold.tanks)

    def _note(self, trace: Trace) -> None:
        trace.times_s.append(self.now_s)
        trace.accumulator_L.append(self.held_L)
        for name in SUMS:
            trace.sums[name].append(getattr(self, name))
        for tank in self.manifold.tanks:
            trace.tanks_L[tank.name].append(tank.litres)

    def _warm(self, trace: Trace) -> None:
        """Each minute the heater's temperature follows; its swelling flows during the next one."""
        pushed = self.heater.warm(MINUTE_S, self.mains, self.engine, self.cabin, self.cold, self._hot_L)
        self._hot_L = 0.0
        self._swell = pushed / MINUTE_S
        self._minute_s += MINUTE_S
        trace.heater.append((self.now_s, self.heater.celsius, self.heater.element_on))

    @property
    def powered(self) -> bool:
        return self._flows.rates["power"] > 0

    @property
    def _dripping(self) -> float:
        """What the hose on the hot side loses. [L/s]"""
        rate = self._flows.rates["hot side"]
        if not rate:
            return 0.0
        begins_C, full_C = HOT_HOSE_C
        return rate * min(1.0, max(0.0, (self.heater.celsius - begins_C) / (full_C - begins_C)))

    def _mind_the_switch(self, trace: Trace) -> None:
        if self.running_since_s is None:
            if self.powered and self.held_L <= self._start_L + NEAR_L:
                self.running_since_s = self.now_s
                trace.edges.append((self.now_s, True))
        elif not self.powered or (self.held_L >= self._stop_L - NEAR_L and not self.switch_stuck):
            trace.runs.append((self.running_since_s, self.now_s))
            trace.edges.append((self.now_s, False))
            self.running_since_s = None
            self._stop_bar = self._next_stop()
            self._mark()

    def _next_stop(self) -> float:
        return self.cut_out_bar * (1 + self.switch_scatter * float(self._rng.normal()))

    def _mark(self) -> None:
        """What the accumulator holds at the pressures that matter."""
        water_L = self.accumulator.water_L
        self._start_L, self._stop_L = water_L(self.cut_in_bar), water_L(self._stop_bar)
        self._stall_L, self._relief_L = water_L(self.stall_bar), water_L(self.relief_bar)

    def _flow(self, end_s: float, trace: Trace) -> None:
        """Constant flows until `end_s` or the next corner, whichever comes first."""
        rates, chosen, running = self._flows.rates, self.manifold.chosen, self.running_since_s is not None
        out = rates["draw"] + rates["after the pump"] + self._dripping
        wet = self.primed and chosen.litres > chosen.unusable_L + NEAR_L
        stalls = running and wet and self.switch_stuck and self.held_L >= self._stall_L - NEAR_L
        pumped = self.flow_L_per_s if running and wet else 0.0
        if stalls:
            pumped = min(pumped, max(0.0, out - self._swell))
        back = 0.0 if running else rates["back through the pump"]
        net = pumped + self._swell - out - back
        seconds = left = end_s - self.now_s
        target = self._corner_L(net, running, stalls)
        if target is not None:
            to_corner = (target - self.held_L) / net
            if 1e-9 < to_corner < seconds:
                seconds = to_corner
        seconds = self.manifold.steady_s(seconds, pumped, self._flows.of_tanks)
        if seconds < left:
            seconds = min(left, max(0.001, math.ceil(seconds * 1000 - 1e-6) / 1000))
        began_s = self.now_s
        seeped, made = self.manifold.fill_and_seep(seconds, self._flows.of_tanks)
        self.above_L += seeped
        self.made_L += made
        self._move(seconds, pumped, out, back)
        self.now_s = end_s if seconds >= left else round(self.now_s + seconds, 3)
        if running and not wet:
            lengthen(trace.dry, began_s, self.now_s)
        if stalls:
            lengthen(trace.stalled, began_s, self.now_s)
        if net < 0 < pumped and self.held_L <= NEAR_L and out == rates["draw"]:
            trace.strained.append((began_s, self.now_s, TAPS_BAR * (pumped / out) ** 2))

    def _corner_L(self, net: float, running: bool, stalls: bool) -> float | None:
        """Where the water in the accumulator must be looked at again."""
        if net < 0:
            return self._start_L if not running and self.powered else 0.0
        if net == 0:
            return None
        if not running or stalls:
            return self._relief_L
        return min(self._stall_L if self.switch_stuck else self._stop_L, self._relief_L)

    def _move(self, seconds: float, pumped: float, asked: float, back: float) -> None:
        given = self.manifold.chosen.draw(pumped * seconds)
        self.taken_L += given
        self.swelled_L += self._swell * seconds
        held = self.held_L + given + self._swell * seconds
        out = min((asked + back) * seconds, max(0.0, held))
        if asked + back > 0:
            part = out / (asked + back)
            returned = part * back
            self.drawn_L += part * self._flows.rates["draw"]
            self.leaked_L += part * (self._flows.rates["after the pump"] + self._dripping)
            self._hot_L += part * (self._flows.rates["hot"] + self._dripping)
            self.returned_L += returned
            self.taken_L -= returned
            self.manifold.chosen.take_back(returned)
        held -= out
        relieved = max(0.0, held - self._relief_L)
        self.relieved_L += relieved
        self.held_L = held - relieved
