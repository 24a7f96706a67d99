"""Life aboard: the scenario's events and the crew's days.

Everything happens at points of one agenda; between them the boat lives under fixed conditions.
"""

import heapq
import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from monitor.clock import HOUR_S
from simulators.boat import Boat
from simulators.calendar import Calendar
from simulators.crew import Crew, cans, hose
from simulators.household import DayPlan, Draw, Household, Use
from simulators.power import CONVERTER_A
from simulators.pump import PUMP_L_PER_S, RELIEF_BAR
from simulators.scenario import Appliance, Fault, Leak, Leg, Maker, Scenario
from simulators.stretch import Stretch

FORENOON_H = 9.5
WATCHES_H = (1.5, 5.5, 13.5, 17.5, 21.5)
LATER_H = (14.0, 17.5)
WATER_CHECK_H = 10.25
HOSE_H = 8.5
"""Before leaving the berth, on day 0, the tanks are filled from the quay."""
BROKEN_SUBJECT = {
    "pump": "pressure pump", "shunt": "house", "gauge": "house", "input": "shore", "regulator": "alternator",
    "accumulator": "pressure pump", "relief": "water heater", "air": "pressure pump",
    "pressure": "pressure pump", "strainer": "pressure pump",
    "freezer": "house",
}  # fmt: skip
"""By the first word of the fault."""


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
        self._rng = np.random.default_rng([seed, 10])
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = 0
        self.crew = Crew(self.boat, scenario, calendar, self._at, seed)
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
            awake = self.crew.awake(boat.now_s)
            if awake and boat.water.powered and (name := boat.manifold.turn()):
                self.crew.tell("tank changed", subject=name)
            stretch = boat.live(int(until_s - boat.now_s), awake)
            yield stretch
            if stretch.electrics.fulls_s:
                self.crew.full_s = stretch.start_s + stretch.electrics.fulls_s[-1]
            self.crew.notice()

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
        for guests in self.scenario.guests:
            self._at(utc_s(guests.day), partial(self.crew.tell, "guests come", heads=guests.heads))
            self._at(utc_s(guests.until), partial(self.crew.tell, "guests leave", heads=guests.heads))
        alongside_s = self.calendar.midnight_s(0) + HOSE_H * HOUR_S
        self._at(alongside_s, self._fill_at_the_berth)

    def _fill_at_the_berth(self) -> None:
        if self.boat.place == "alongside":
            self.crew.fill(hose, 60)

    def _leak(self, leak: Leak) -> None:
        begins_s = self.calendar.utc_s(leak.day)
        ends_s = self.calendar.utc_s(leak.until) if leak.until < math.inf else math.inf
        self.boat.water.leak(begins_s, leak.L_per_h, ends_s, leak.where, leak.tank)
        self._at(begins_s, partial(self.crew.tell, leak.event, L_per_h=leak.L_per_h, where=leak.where))
        if ends_s < math.inf:
            self._at(ends_s, partial(self.crew.tell, "leak ends"))

    def _begin(self, day: int) -> None:
        """A new ship's day: its weather, its people, its night, and when the crew looks at things."""
        midnight_s = self.calendar.midnight_s(day)
        boat = self.boat
        dull = any(begins <= day < ends for begins, ends in self.scenario.dull_days)
        boat.needs.clouds.begin_day(day, self.scenario.dull if dull else None)
        boat.begin_day()
        boat.tack = 1.0 if self._rng.random() < 0.5 else -1.0
        place = next((leg.place for leg in reversed(self.scenario.legs) if leg.day <= day + 0.6), boat.place)
        plan = self._household.day(day, midnight_s, place, self.crew.watches)
        if place == "laid up":
            plan = DayPlan()
        for draw in plan.draws + self._guests(day, midnight_s):
            if draw.start_s >= boat.now_s:
                boat.water.draw(*draw)
        uses = plan.uses
        if place == "alongside":
            uses = uses + self._appliances(self.scenario.appliances, 17, day, midnight_s)
        if any(guests.day < day + 1 and guests.until > day for guests in self.scenario.guests):
            uses = uses + self._appliances(self.scenario.with_guests, 21, day, midnight_s)
        if maker := self.scenario.maker:
            self._at(midnight_s + maker.hour * HOUR_S, partial(self._make, maker))
        boat.needs.switch_on(use for use in uses if use.end_s > boat.now_s)
        self._at(midnight_s + FORENOON_H * HOUR_S, self.crew.mind_the_charge)
        for hour in WATCHES_H if self.crew.watches else LATER_H:
            self._at(midnight_s + hour * HOUR_S, partial(self.crew.mind_the_charge, watch=True))
        self._at(midnight_s + WATER_CHECK_H * HOUR_S, self.crew.mind_the_water)
        boat.chronicle.expect_night(midnight_s, boat.latitude, boat.longitude)

    def _guests(self, day: int, midnight_s: float) -> list[Draw]:
        utc_s = self.calendar.utc_s
        return [
            draw
            for guests in self.scenario.guests
            if guests.day < day + 1 and guests.until > day
            for draw in self._household.guests(day, midnight_s, guests.heads)
            if utc_s(guests.day) <= draw.start_s < utc_s(guests.until)
        ]

    def _make(self, maker: Maker) -> None:
        """The watermaker runs while its tank has room, and is flushed with fresh water when it has."""
        boat = self.boat
        room_L = boat.manifold.tank(maker.tank).room_L
        hours = min(maker.hours, room_L / maker.L_per_h)
        if hours < 0.25:
            return
        ends_s = boat.now_s + int(hours * HOUR_S)
        boat.making_L_per_h = maker.L_per_h
        boat.water.pour("make", maker.tank, boat.now_s, ends_s, maker.L_per_h)
        boat.water.draw(ends_s, maker.flush_L, 4.0, 0.0)
        boat.needs.switch_on([Use(boat.now_s, ends_s, maker.watts, "dc", "watermaker")])
        self.crew.tell("watermaker starts", subject="watermaker", L_per_h=maker.L_per_h)
        self._at(ends_s, partial(self._made, round(maker.L_per_h * hours, 1)))

    def _made(self, litres: float) -> None:
        self.boat.making_L_per_h = 0.0
        self.crew.tell("watermaker stops", subject="watermaker", litres=litres)

    def _appliances(
        self, appliances: tuple[Appliance, ...], stream: int, day: int, midnight_s: float
    ) -> list[Use]:
        """What is plugged in or switched on that day, each a little early or late."""
        rng = np.random.default_rng([self._seed, stream, day + 1000])
        uses = []
        for what, hour, minutes, watts, supply in appliances:
            start_s = midnight_s + (hour + float(rng.normal(0, 0.15))) * HOUR_S
            end_s = start_s + 60 * minutes * float(rng.lognormal(0, 0.1))
            uses.append(Use(start_s, end_s, watts, supply, what))
        return uses

    # What happens

    def _go(self, leg: Leg) -> None:
        self.boat.place, self.crew.watches = leg.place, leg.people == "on watch"
        self.crew.ashore = leg.people == "nobody"
        if self.crew.ashore:
            self.boat.charging_off = True
        self.crew.run("engine", leg.place == "motoring")
        self.crew.run("generator", False)
        self.crew.tell("place", place=leg.place)

    def _break(self, fault: Fault) -> None:
        if fault.kind == "hand fill":
            self.crew.fill(cans, 480)
            return
        if fault.kind == "hose left running":
            self.crew.forget_the_hose(fault.subject, fault.value)
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
                boat.counted_pct = min(100.0, boat.house.bank.charge_pct + fault.value)
            case "live by the gauge":
                self.crew.live_by_the_gauge(fault.value)
                return
            case "input limit set":
                boat.input_limit_A = fault.value
            case "regulator set":
                boat.house.regulator_V = fault.value
            case "accumulator loses air" | "accumulator pumped up":
                boat.water.leave_air(fault.value if fault.kind == "accumulator loses air" else 1.0)
            case "relief valve weeps" | "relief valve replaced":
                boat.water.set_relief(fault.value if fault.kind == "relief valve weeps" else RELIEF_BAR)
            case "pump wire off" | "pump wire mended":
                boat.wire_off = fault.kind == "pump wire off"
            case "air lock" | "air lock cleared":
                boat.water.primed = fault.kind == "air lock cleared"
            case "pressure switch sticks" | "pressure switch freed":
                boat.water.switch_stuck = fault.kind == "pressure switch sticks"
            case "strainer clogs" | "strainer cleaned":
                part = fault.value if fault.kind == "strainer clogs" else 1.0
                boat.water.flow_L_per_s = PUMP_L_PER_S * part
            case "freezer replaced":
                boat.needs.replace_freezer(fault.value, boat.now_s)
            case "inverter left on":
                boat.inverter_left_on = True
                boat.needs.switch_on([Use(boat.now_s, math.inf, fault.value, "ac", "wall adaptor")])
        what = fault.kind.split()[0]
        facts = {} if math.isnan(fault.value) else {"value": fault.value}
        self.crew.tell(fault.kind, subject=fault.subject or BROKEN_SUBJECT.get(what, what), **facts)
