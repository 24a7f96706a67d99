"""What *Marram*'s crew does about what it sees: charging, water, and a boat gone dark.

The three go by their instruments, not by the truth: a monitor that has drifted misleads them.
"""

from collections.abc import Callable
from functools import partial

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from simulators.boat import CAPACITY_AH, Boat
from simulators.calendar import Calendar
from simulators.household import Use
from simulators.loads import INVERTER_EFFICIENCY
from simulators.scenario import Scenario
from simulators.tanks import Tank

AWAKE_H = (7.0, 23.0)
UP_H = 7.25
OVEN_W, LOADED_V = 1800.0, 12.5
"""What the crew bakes with, and where the bank stands meanwhile."""
LONGEST_RUN_S = 4 * HOUR_S
LONGEST_FULL_RUN_S = 6 * HOUR_S
LOOKS_S = 600.0
NOTICES_S = (20 * 60.0, 60 * 60.0)
"""A dark house is found out about and understood within something between these, when somebody is up."""
AGAIN_V, AGAIN_C = 3.42, 2.5
"""Where the crew lets the chargers on again: no cell above, nor colder."""
HOSE_L_PER_MIN = 14.0
RECKONED_A = {"engine": 50.0, "generator": 70.0}
"""What the crew reckons with for a run."""


def cans(room_L: float) -> list[float]:
    """Six jerry cans of 20 L at the most, whole ones."""
    return [20.0] * min(6, int(room_L // 20.0))


def hose(room_L: float) -> list[float]:
    """14 L a minute until the tank is full."""
    whole = int(room_L // HOSE_L_PER_MIN)
    return [HOSE_L_PER_MIN] * whole + [room_L - whole * HOSE_L_PER_MIN]


class Crew:
    """Hands on the boat. `at` puts something on the agenda; `watches` says that somebody is always up."""

    def __init__(
        self,
        boat: Boat,
        scenario: Scenario,
        calendar: Calendar,
        at: Callable[[float, Callable[[], None]], None],
        seed: int,
    ) -> None:
        self.boat, self.scenario, self.calendar, self.at = boat, scenario, calendar, at
        self.watches = self.ashore = False
        self.full_s = boat.now_s
        """When the chargers last held the bank full."""
        self._rng = np.random.default_rng([seed, 13])
        self._seeing_to: set[str] = set()

    def awake(self, utc_s: float) -> bool:
        hour = (utc_s - self.calendar.midnight_s(self.calendar.day(utc_s))) / HOUR_S
        return not self.ashore and (self.watches or AWAKE_H[0] <= hour < AWAKE_H[1])

    def tell(self, event: str, **facts: object) -> None:
        self.boat.chronicle.event(self.boat.now_s, event, **facts)

    def run(self, name: str, on: bool) -> None:
        machine = self.boat.machines[name]
        if on != (machine.since_s is not None):
            machine.since_s = self.boat.now_s if on else None
            self.tell(f"{name} starts" if on else f"{name} stops")

    def _run_for(self, name: str, seconds: float) -> None:
        """A charging run; the engine goes on where it drives the boat."""
        self.run(name, True)
        boat = self.boat
        self.at(boat.now_s + seconds, lambda: self.run(name, name == "engine" and boat.place == "motoring"))

    def mind_the_charge(self, watch: bool = False) -> None:
        """In the forenoon, and at the change of every watch under way: is the engine or the generator wanted?

        At anchor they look again later in the day, and then want it only if little is left.
        """
        boat, wanted = self.boat, self.scenario.charge_until_pct
        later = watch and not self.watches
        below_pct = self.scenario.urgent_below_pct if later else self.scenario.charge_below_pct
        running = any(machine.since_s is not None for machine in boat.machines.values())
        if boat.place == "alongside" or self.ashore or running or boat.charging_off:
            return
        if not watch and boat.now_s - self.full_s > self.scenario.full_every_days * DAY_S:
            self.run("engine", True)
            self._until_full(boat.now_s)
            return
        if boat.counted_pct >= below_pct:
            return
        name = self.scenario.charges_with
        needed_Ah = (wanted - boat.counted_pct) / 100 * CAPACITY_AH
        self._run_for(name, min(LONGEST_RUN_S, needed_Ah / RECKONED_A[name] * HOUR_S))

    def _until_full(self, began_s: float) -> None:
        """The engine goes on until the chargers have held the bank full."""
        now_s = self.boat.now_s
        if self.full_s > began_s or now_s >= began_s + LONGEST_FULL_RUN_S:
            self.run("engine", self.boat.place == "motoring")
        else:
            self.at(now_s + LOOKS_S, partial(self._until_full, began_s))

    def live_by_the_gauge(self, wanted_pct: float) -> None:
        """They bake bread while there seems to be plenty, or charge until there is enough."""
        boat = self.boat
        spare_Ah = (boat.counted_pct - wanted_pct) / 100 * CAPACITY_AH
        if spare_Ah > 0:
            seconds = spare_Ah * LOADED_V * INVERTER_EFFICIENCY / OVEN_W * HOUR_S
            boat.needs.switch_on([Use(boat.now_s, boat.now_s + seconds, OVEN_W, "ac", "oven")])
        else:
            self._run_for("engine", -spare_Ah / RECKONED_A["engine"] * HOUR_S)

    def notice(self) -> None:
        """What goes dark is found out about after a while, and seen to."""
        boat = self.boat
        dark = {"cut": not boat.house.closed, "breaker": boat.breaker.tripped}
        for what, see_to in (("cut", self._see_to_the_cut), ("breaker", self._see_to_the_breaker)):
            if not dark[what] or what in self._seeing_to:
                continue
            if what == "breaker":
                self.tell("breaker trips", subject="shore")
            self._seeing_to.add(what)
            at_s = boat.now_s + float(self._rng.uniform(*NOTICES_S))
            if not self.awake(at_s):
                day = self.calendar.day(at_s)
                up_s = self.calendar.midnight_s(day) + UP_H * HOUR_S
                at_s = up_s if up_s > at_s else self.calendar.midnight_s(day + 1) + UP_H * HOUR_S
            self.at(at_s, see_to)

    def _see_to_the_breaker(self) -> None:
        self._seeing_to.discard("breaker")
        self.boat.input_limit_A = self.scenario.pedestal.breaker_A
        self.boat.breaker.tripped = False
        self.tell("breaker reset", subject="shore")

    def _see_to_the_cut(self) -> None:
        """An empty bank gets the engine; one that was charged too far, or too cold, is left alone."""
        self._seeing_to.discard("cut")
        boat = self.boat
        if boat.house.closed:
            return
        if boat.house.bms.cause == "cell low":
            if boat.place != "alongside":
                self._run_for(self.scenario.charges_with, LONGEST_RUN_S)
            return
        boat.charging_off = True
        self.tell("charging off", subject="house")
        self.run("engine", boat.place == "motoring")
        self.run("generator", False)
        self.at(boat.now_s + HOUR_S, self._charge_again)

    def _charge_again(self) -> None:
        """Every hour they look: the cells have come down, the bank is warm, the engine stands."""
        boat = self.boat
        high = max(boat.house.bank.cells_V) > AGAIN_V
        if high or boat.cells_C < AGAIN_C or boat.place == "motoring":
            self.at(boat.now_s + HOUR_S, self._charge_again)
            return
        boat.charging_off = False
        self.tell("charging on", subject="house")

    def mind_the_water(self) -> None:
        if self.boat.place == "at anchor" and self.boat.manifold.litres < self.scenario.fill_below_L:
            self.fill(cans, 480)

    def fill(self, parts: Callable[[float], list[float]], every_s: int) -> None:
        """Tank by tank, a part each so many seconds; the whole is told when it is in."""
        at_s = self.boat.now_s
        for tank in self.boat.tanks:
            portions = parts(tank.capacity_L - tank.litres - 1.0)
            for n, litres in enumerate(portions):
                told_L = sum(portions) if n == len(portions) - 1 else 0.0
                self.at(at_s, partial(self._pour, tank, litres, told_L))
                at_s += every_s

    def forget_the_hose(self, name: str, minutes: float) -> None:
        """The dock hose runs into that tank for so long, over its brim too."""
        boat = self.boat
        tank = boat.manifold.tank(name)
        ends_s = boat.now_s + 60 * minutes
        full_s = boat.now_s + 60 * tank.room_L / HOSE_L_PER_MIN
        boat.water.pour("fill", name, boat.now_s, ends_s, 60 * HOSE_L_PER_MIN)
        kept_L, ran_over_L = tank.filled_L, tank.spilt_L
        self.tell("hose on", subject=name, L_per_min=HOSE_L_PER_MIN)

        def off() -> None:
            self.tell("fill", subject=name, litres=round(tank.filled_L - kept_L, 1))
            self.tell("hose off", subject=name, ran_over_L=round(tank.spilt_L - ran_over_L, 1))

        if full_s < ends_s:
            self.at(full_s, partial(self.tell, "tank overflows", subject=name))
        self.at(ends_s, off)

    def _pour(self, tank: Tank, litres: float, told_L: float) -> None:
        tank.fill(litres)
        if told_L:
            self.tell("fill", subject=tank.name, litres=round(told_L, 1))
