"""Life aboard: the scenario's events, the crew's days, and what they do about what they see.

The three go by their instruments, not by the truth: a monitor that has drifted misleads them.
Everything happens at points of one agenda; between them the boat lives under fixed conditions.
"""

import heapq
import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from monitor.clock import HOUR_S
from simulators.boat import CAPACITY_AH, Boat
from simulators.calendar import Calendar
from simulators.household import Household
from simulators.scenarios import Fault, Leak, Leg, Scenario
from simulators.stretch import Stretch
from simulators.tanks import Tank

AWAKE_H = (7.0, 23.0)
FORENOON_H = 9.5
WATCHES_H = (1.5, 5.5, 13.5, 17.5, 21.5)
LATER_H = (14.0, 17.5)
WATER_CHECK_H = 10.25
HOSE_H = 8.5
"""Before leaving the berth, on day 0, the tanks are filled from the quay."""
LONGEST_RUN_S = 4 * HOUR_S
RECKONED_A = {"engine": 50.0, "generator": 70.0}
"""What the crew reckons with for a run."""


def cans(room_L: float) -> list[float]:
    """Six jerry cans of 20 L at the most, whole ones."""
    return [20.0] * min(6, int(room_L // 20.0))


def hose(room_L: float) -> list[float]:
    """14 L a minute until the tank is full."""
    whole = int(room_L // 14.0)
    return [14.0] * whole + [room_L - whole * 14.0]


class Life:
    """The same arguments live the same life, whatever is read from it."""

    def __init__(
        self, scenario: Scenario, seed: int, start_s: float, end_s: float, calendar: Calendar
    ) -> None:
        self.scenario, self.calendar = scenario, calendar
        self.start_s, self.end_s = start_s, end_s
        self.boat = Boat(scenario, seed, start_s)
        self._household = Household(seed)
        self._rng = np.random.default_rng([seed, 10])
        self._watches = False
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = 0
        self._write_agenda()

    def stretches(self) -> Iterator[Stretch]:
        """The whole life, stretch by stretch, each of an hour at most."""
        boat = self.boat
        while boat.now_s < self.end_s:
            while self._agenda and self._agenda[0][0] <= boat.now_s:
                heapq.heappop(self._agenda)[2]()
            until_s = min(boat.now_s + HOUR_S, self.end_s)
            if self._agenda:
                until_s = min(until_s, self._agenda[0][0])
            hour = (boat.now_s - self.calendar.midnight_s(self.calendar.day(boat.now_s))) / HOUR_S
            awake = self._watches or AWAKE_H[0] <= hour < AWAKE_H[1]
            if awake and boat.water.powered and (name := boat.manifold.turn()):
                self._tell("tank changed", subject=name)
            yield boat.live(int(until_s - boat.now_s), awake)

    # What is to happen

    def _at(self, utc_s: float, do: Callable[[], None]) -> None:
        self._serial += 1
        heapq.heappush(self._agenda, (float(round(utc_s)), self._serial, do))

    def _write_agenda(self) -> None:
        utc_s = self.calendar.utc_s
        for leg in self.scenario.legs:
            self._at(utc_s(leg.day), partial(self._go, leg))
        for leak in self.scenario.leaks:
            self._leak(leak)
        for fault in self.scenario.faults:
            self._at(utc_s(fault.day), partial(self._break, fault))
        for day in range(self.calendar.day(self.start_s), self.calendar.day(self.end_s) + 1):
            self._at(max(self.start_s, self.calendar.midnight_s(day)), partial(self._begin, day))
        alongside_s = self.calendar.midnight_s(0) + HOSE_H * HOUR_S
        self._at(alongside_s, partial(self._fill, hose, 60))

    def _leak(self, leak: Leak) -> None:
        begins_s = self.calendar.utc_s(leak.day)
        ends_s = self.calendar.utc_s(leak.until) if leak.until < math.inf else math.inf
        self.boat.water.leak(begins_s, leak.L_per_h, ends_s)
        self._at(begins_s, partial(self._tell, leak.event, L_per_h=leak.L_per_h))
        if ends_s < math.inf:
            self._at(ends_s, partial(self._tell, "leak ends"))

    def _begin(self, day: int) -> None:
        """A new ship's day: its weather, its people, its night, and when the crew looks at things."""
        midnight_s = self.calendar.midnight_s(day)
        boat, (dull_from, dull_until) = self.boat, self.scenario.dull_days
        boat.needs.clouds.begin_day(day, self.scenario.dull if dull_from <= day < dull_until else None)
        boat.tack = 1.0 if self._rng.random() < 0.5 else -1.0
        place = next((leg.place for leg in reversed(self.scenario.legs) if leg.day <= day + 0.6), boat.place)
        plan = self._household.day(day, midnight_s, place, self._watches)
        for draw in plan.draws:
            if draw.start_s >= boat.now_s:
                boat.water.draw(*draw)
        boat.needs.switch_on(use for use in plan.uses if use.end_s > boat.now_s)
        self._at(midnight_s + FORENOON_H * HOUR_S, self._mind_the_charge)
        for hour in WATCHES_H if self._watches else LATER_H:
            self._at(midnight_s + hour * HOUR_S, partial(self._mind_the_charge, watch=True))
        self._at(midnight_s + WATER_CHECK_H * HOUR_S, self._mind_the_water)
        boat.chronicle.expect_night(midnight_s, boat.latitude, boat.longitude)

    # What happens

    def _tell(self, event: str, **facts: object) -> None:
        self.boat.chronicle.event(self.boat.now_s, event, **facts)

    def _go(self, leg: Leg) -> None:
        self.boat.place, self._watches = leg.place, leg.people == "on watch"
        self._run("engine", leg.place == "motoring")
        self._run("generator", False)
        self._tell("place", place=leg.place)

    def _break(self, fault: Fault) -> None:
        if fault.kind == "hand fill":
            self._fill(cans, 480)
            return
        if fault.kind == "sender sticks":
            self.boat.stick(fault.subject)
        elif fault.kind == "sender dies":
            self.boat.silence(fault.subject)
        else:
            self.boat.water.switch(self.boat.now_s, fault.kind == "pump switched on")
        self._tell(fault.kind, subject=fault.subject or "pressure pump")

    def _mind_the_charge(self, watch: bool = False) -> None:
        """In the forenoon, and at the change of every watch under way: is the engine or the generator wanted?

        At anchor they look again later in the day, and then want it only if little is left.
        """
        boat, wanted = self.boat, self.scenario.charge_until_pct
        later = watch and not self._watches
        below_pct = self.scenario.urgent_below_pct if later else self.scenario.charge_below_pct
        running = any(machine.since_s is not None for machine in boat.machines.values())
        if boat.place == "alongside" or running or boat.counted_pct >= below_pct:
            return
        name = self.scenario.charges_with
        needed_Ah = (wanted - boat.counted_pct) / 100 * CAPACITY_AH
        seconds = min(LONGEST_RUN_S, needed_Ah / RECKONED_A[name] * HOUR_S)
        self._run(name, True)
        self._at(boat.now_s + seconds, lambda: self._run(name, name == "engine" and boat.place == "motoring"))

    def _run(self, name: str, on: bool) -> None:
        machine = self.boat.machines[name]
        if on != (machine.since_s is not None):
            machine.since_s = self.boat.now_s if on else None
            self._tell(f"{name} starts" if on else f"{name} stops")

    def _mind_the_water(self) -> None:
        if self.boat.place == "at anchor" and self.boat.manifold.litres < self.scenario.fill_below_L:
            self._fill(cans, 480)

    def _fill(self, parts: Callable[[float], list[float]], every_s: int) -> None:
        """Tank by tank, a part each so many seconds; the whole is told when it is in."""
        at_s = self.boat.now_s
        for tank in self.boat.tanks:
            portions = parts(tank.capacity_L - tank.litres - 1.0)
            for n, litres in enumerate(portions):
                told_L = sum(portions) if n == len(portions) - 1 else 0.0
                self._at(at_s, partial(self._pour, tank, litres, told_L))
                at_s += every_s

    def _pour(self, tank: Tank, litres: float, told_L: float) -> None:
        tank.fill(litres)
        if told_L:
            self._tell("fill", subject=tank.name, litres=round(told_L, 1))
