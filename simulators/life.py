"""Life aboard: the scenario's events, the crew's days, and what they do about what they see.

The three go by their instruments, not by the truth: a monitor that has drifted misleads them.
Everything happens at points of one agenda; between them the boat lives under fixed conditions.
"""

import heapq
import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from simulators.boat import CAPACITY_AH, Boat
from simulators.calendar import Calendar
from simulators.household import Household, Use
from simulators.power import CONVERTER_A
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
LONGEST_FULL_RUN_S = 6 * HOUR_S
LOOKS_S = 600.0
NOTICES_S = (20 * 60.0, 60 * 60.0)
"""A dark house is found out about and understood within something between these, when somebody is up."""
UP_H = 7.25
AGAIN_V, AGAIN_C = 3.42, 2.5
"""Where the crew lets the chargers on again: no cell above, nor colder."""
BROKEN_SUBJECT = {"pump": "pressure pump", "shunt": "house", "gauge": "house", "input": "shore",
                  "regulator": "alternator"}  # fmt: skip
"""By the first word of the fault."""
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
        self._seed = seed
        self._rng, self._crew = np.random.default_rng([seed, 10]), np.random.default_rng([seed, 13])
        self._watches = False
        self._full_s = start_s
        self._seeing_to: set[str] = set()
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = 0
        self._write_agenda()

    def stretches(self) -> Iterator[Stretch]:
        """The whole life, stretch by stretch, each of an hour at most."""
        boat = self.boat
        while boat.now_s < self.end_s:
            while self._agenda and self._agenda[0][0] <= boat.now_s:
                heapq.heappop(self._agenda)[2]()
            # A breaker that may let go is looked at every minute.
            risky = boat.input_limit_A > self.scenario.pedestal.breaker_A
            until_s = min(boat.now_s + (60.0 if risky else HOUR_S), self.end_s)
            if self._agenda:
                until_s = min(until_s, self._agenda[0][0])
            awake = self._awake(boat.now_s)
            if awake and boat.water.powered and (name := boat.manifold.turn()):
                self._tell("tank changed", subject=name)
            stretch = boat.live(int(until_s - boat.now_s), awake)
            yield stretch
            if stretch.electrics.fulls_s:
                self._full_s = stretch.start_s + stretch.electrics.fulls_s[-1]
            self._notice()

    def _awake(self, utc_s: float) -> bool:
        hour = (utc_s - self.calendar.midnight_s(self.calendar.day(utc_s))) / HOUR_S
        return self._watches or AWAKE_H[0] <= hour < AWAKE_H[1]

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
        boat = self.boat
        dull = any(begins <= day < ends for begins, ends in self.scenario.dull_days)
        boat.needs.clouds.begin_day(day, self.scenario.dull if dull else None)
        boat.begin_day()
        boat.tack = 1.0 if self._rng.random() < 0.5 else -1.0
        place = next((leg.place for leg in reversed(self.scenario.legs) if leg.day <= day + 0.6), boat.place)
        plan = self._household.day(day, midnight_s, place, self._watches)
        for draw in plan.draws:
            if draw.start_s >= boat.now_s:
                boat.water.draw(*draw)
        uses = plan.uses + (self._appliances(day, midnight_s) if place == "alongside" else [])
        boat.needs.switch_on(use for use in uses if use.end_s > boat.now_s)
        self._at(midnight_s + FORENOON_H * HOUR_S, self._mind_the_charge)
        for hour in WATCHES_H if self._watches else LATER_H:
            self._at(midnight_s + hour * HOUR_S, partial(self._mind_the_charge, watch=True))
        self._at(midnight_s + WATER_CHECK_H * HOUR_S, self._mind_the_water)
        boat.chronicle.expect_night(midnight_s, boat.latitude, boat.longitude)

    def _appliances(self, day: int, midnight_s: float) -> list[Use]:
        """What is plugged in alongside, each a little early or late."""
        rng = np.random.default_rng([self._seed, 17, day + 1000])
        uses = []
        for what, hour, minutes, watts in self.scenario.appliances:
            start_s = midnight_s + (hour + float(rng.normal(0, 0.15))) * HOUR_S
            uses.append(
                Use(start_s, start_s + 60 * minutes * float(rng.lognormal(0, 0.1)), watts, "ac", what)
            )
        return uses

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
        boat = self.boat
        match fault.kind:
            case "sender sticks":
                boat.stick(fault.subject)
            case "sender dies":
                boat.silence(fault.subject)
            case "pump switched on" | "pump switched off":
                boat.water.switch(boat.now_s, fault.kind == "pump switched on")
            case "converter dies" | "converter mended":
                boat.house.converter_limit_A = CONVERTER_A * (fault.kind == "converter mended")
            case "shunt sticks" | "shunt freed":
                boat.stick_shunt(fault.kind == "shunt sticks")
            case "gauge set":
                boat.counted_pct = fault.value
            case "input limit set":
                boat.input_limit_A = fault.value
            case "regulator set":
                boat.house.regulator_V = fault.value
        what = fault.kind.split()[0]
        self._tell(fault.kind, subject=fault.subject or BROKEN_SUBJECT.get(what, what))

    def _mind_the_charge(self, watch: bool = False) -> None:
        """In the forenoon, and at the change of every watch under way: is the engine or the generator wanted?

        At anchor they look again later in the day, and then want it only if little is left.
        """
        boat, wanted = self.boat, self.scenario.charge_until_pct
        later = watch and not self._watches
        below_pct = self.scenario.urgent_below_pct if later else self.scenario.charge_below_pct
        running = any(machine.since_s is not None for machine in boat.machines.values())
        if boat.place == "alongside" or running or boat.charging_off:
            return
        if not watch and boat.now_s - self._full_s > self.scenario.full_every_days * DAY_S:
            self._run("engine", True)
            self._until_full(boat.now_s)
            return
        if boat.counted_pct >= below_pct:
            return
        name = self.scenario.charges_with
        needed_Ah = (wanted - boat.counted_pct) / 100 * CAPACITY_AH
        seconds = min(LONGEST_RUN_S, needed_Ah / RECKONED_A[name] * HOUR_S)
        self._run(name, True)
        self._at(boat.now_s + seconds, lambda: self._run(name, name == "engine" and boat.place == "motoring"))

    def _until_full(self, began_s: float) -> None:
        """The engine goes on until the chargers have held the bank full."""
        now_s = self.boat.now_s
        if self._full_s > began_s or now_s >= began_s + LONGEST_FULL_RUN_S:
            self._run("engine", self.boat.place == "motoring")
        else:
            self._at(now_s + LOOKS_S, partial(self._until_full, began_s))

    def _notice(self) -> None:
        """What goes dark is found out about after a while, and seen to."""
        boat = self.boat
        dark = {"cut": not boat.house.closed, "breaker": boat.breaker.tripped}
        for what, see_to in (("cut", self._see_to_the_cut), ("breaker", self._see_to_the_breaker)):
            if not dark[what] or what in self._seeing_to:
                continue
            if what == "breaker":
                self._tell("breaker trips", subject="shore")
            self._seeing_to.add(what)
            at_s = boat.now_s + float(self._crew.uniform(*NOTICES_S))
            if not self._awake(at_s):
                day = self.calendar.day(at_s)
                up_s = self.calendar.midnight_s(day) + UP_H * HOUR_S
                at_s = up_s if up_s > at_s else self.calendar.midnight_s(day + 1) + UP_H * HOUR_S
            self._at(at_s, see_to)

    def _see_to_the_breaker(self) -> None:
        self._seeing_to.discard("breaker")
        self.boat.input_limit_A = self.scenario.pedestal.breaker_A
        self.boat.breaker.tripped = False
        self._tell("breaker reset", subject="shore")

    def _see_to_the_cut(self) -> None:
        """An empty bank gets the engine; one that was charged too far, or too cold, is left alone."""
        self._seeing_to.discard("cut")
        boat = self.boat
        if boat.house.closed:
            return
        if boat.house.bms.cause == "cell low":
            name = self.scenario.charges_with
            self._run(name, boat.place != "alongside")
            self._at(boat.now_s + LONGEST_RUN_S, lambda: self._run(name, boat.place == "motoring"))
            return
        boat.charging_off = True
        self._tell("charging off", subject="house")
        self._run("engine", boat.place == "motoring")
        self._run("generator", False)
        self._at(boat.now_s + HOUR_S, self._charge_again)

    def _charge_again(self) -> None:
        """Every hour they look: the cells have come down, the bank is warm, the engine stands."""
        boat = self.boat
        high = max(boat.house.bank.cells_V) > AGAIN_V
        if high or boat.cells_C < AGAIN_C or boat.place == "motoring":
            self._at(boat.now_s + HOUR_S, self._charge_again)
            return
        boat.charging_off = False
        self._tell("charging on", subject="house")

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
