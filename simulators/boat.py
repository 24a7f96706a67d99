"""*Marram* herself: everything aboard lives from one agenda point to the next, in whole seconds."""

import heapq
import math
from collections.abc import Callable, Iterator

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from simulators import crew
from simulators.battery import LeadBuffer, LithiumBank
from simulators.calendar import Calendar
from simulators.heater import Heater
from simulators.household import Household, Use
from simulators.loads import (
    HOUSE_STANDING_W,
    INVERTER_EFFICIENCY,
    INVERTER_IDLE_W,
    LIGHT_W,
    NAVIGATION_W,
    PILOT_W,
    PUMP_W,
    compressors,
    mean_W,
    ripple,
)
from simulators.power import CHARGER_EFFICIENCY, SHORE_CHARGER_A, Demand, Electrics, House
from simulators.pump import PressureSystem, Trace
from simulators.scenarios import Fault, Leg, Scenario
from simulators.sky import Clouds, Floats, panels_clear_W, sun
from simulators.stretch import Conditions, Stretch
from simulators.tanks import Manifold, Tank, reading_pct
from simulators.truth import Chronicle

CAPACITY_AH = 460.0
BUFFER_AH = 110.0
SHORE_LIMIT_W = 10 * 230.0
KNOT_DEG_PER_S = 1 / 60 / 3600
BOW = ((0.0, 0.0), (25.0, 24.0), (50.0, 66.0), (75.0, 115.0), (100.0, 165.0))
BOX = ((0.0, 0.0), (100.0, 260.0))
TWILIGHT_SIN = math.sin(math.radians(-0.833))
SAIL_SHADE = 0.75


class Boat:
    """Lives through a scenario; the same seed lives the same life whatever is read from it."""

    def __init__(
        self, scenario: Scenario, seed: int, start_s: float, end_s: float, calendar: Calendar
    ) -> None:
        self.scenario, self.calendar = scenario, calendar
        self.start_s = self.now_s = float(round(start_s))
        self.end_s = self.start_s + round(end_s - start_s)
        self._rng = np.random.default_rng([seed, 3])
        self.house = House(LithiumBank(CAPACITY_AH, scenario.start_charge_pct), LeadBuffer(BUFFER_AH))
        part = scenario.start_water_pct / 100
        self.tanks = (
            Tank("forward", 165.0, 8.0, BOW, 165.0 * part),
            Tank("midship", 260.0, 10.0, BOX, 260.0 * part),
        )
        self.manifold = Manifold(self.tanks)
        self.heater = Heater()
        self.water = PressureSystem(
            self.manifold, self.heater, self.start_s, np.random.default_rng([seed, 4])
        )
        self.household = Household(seed)
        self.clouds = Clouds(scenario.clearness, scenario.clearness_sd, np.random.default_rng([seed, 5]))
        self._compressors = compressors(self.start_s, self._rng)
        self.shunt_offset_A = float(np.random.default_rng([seed, 6]).normal(0, 0.15))
        self.shunt_gain = 1 + float(np.random.default_rng([seed, 7]).normal(0, 0.004))
        self.counted_pct = min(100.0, scenario.start_charge_pct + float(self._rng.normal(0, 3)))
        self.place, self.watches = "alongside", False
        self.latitude, self.longitude = scenario.latitude, scenario.longitude
        self.engine_since_s: float | None = None
        self.engine_hours = 1234.0
        self.heel = 0.0
        self._tack = 1.0
        self._uses: list[Use] = []
        self._stuck: dict[str, float] = {}
        self._dead: set[str] = set()
        self.chronicle = Chronicle(self.start_s)
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = 0
        self._write_agenda()

    # What is to happen ---------------------------------------------------------------------------

    def _at(self, utc_s: float, do: Callable[[], None]) -> None:
        self._serial += 1
        heapq.heappush(self._agenda, (float(round(utc_s)), self._serial, do))

    def _write_agenda(self) -> None:
        for leg in self.scenario.legs:
            self._at(self.calendar.utc_s(leg.day), lambda leg=leg: self._go(leg))  # type: ignore[misc]
        for leak in self.scenario.leaks:
            begins, ends = (min(9e9, self.calendar.utc_s(min(day, 9e4))) for day in (leak.day, leak.until))
            self.water.leak(begins, leak.L_per_h, ends)
            told = {"L_per_h": leak.L_per_h}
            name = "burst" if leak.name == "burst" else "leak begins"
            self._at(begins, lambda name=name, told=told: self._tell(name, **told))  # type: ignore[misc]
            self._at(ends, lambda: self._tell("leak ends"))
        for fault in self.scenario.faults:
            self._at(self.calendar.utc_s(fault.day), lambda fault=fault: self._break(fault))  # type: ignore[misc]
        first = self.calendar.day(self.start_s)
        for day in range(first, self.calendar.day(self.end_s) + 1):
            self._at(max(self.start_s, self.calendar.midnight_s(day)), lambda day=day: self._begin(day))  # type: ignore[misc]
        self._at(self.calendar.midnight_s(0) + crew.HOSE_H * HOUR_S, lambda: self._fill(crew.hose, 60))

    def _tell(self, event: str, **facts: object) -> None:
        if self.now_s >= self.start_s:
            self.chronicle.event(self.now_s, event, **facts)

    def _go(self, leg: Leg) -> None:
        self.place, self.watches = leg.place, leg.people == "on watch"
        self._set_engine(leg.place == "motoring")
        self._tell("place", place=leg.place)

    def _break(self, fault: Fault) -> None:
        tanks = {tank.name: tank for tank in self.tanks}
        if fault.kind == "sender sticks":
            tank = tanks[fault.subject]
            self._stuck[tank.name] = reading_pct(tank.sounding, tank.litres)
        elif fault.kind == "sender dies":
            self._dead.add(fault.subject)
        elif fault.kind == "hand fill":
            self._fill(crew.cans, crew.CAN_EVERY_S)
        else:
            self.water.switch(self.now_s, fault.kind == "pump switched on")
        if fault.kind != "hand fill":
            self._tell(fault.kind, subject=fault.subject or "pressure pump")

    def _begin(self, day: int) -> None:
        """A new ship's day: its weather, its people, its sun; and when the crew looks at things."""
        midnight_s = self.calendar.midnight_s(day)
        dull = self.scenario.dull if self.scenario.dull_days[0] <= day < self.scenario.dull_days[1] else None
        self.clouds.begin_day(day, dull)
        plan = self.household.day(day, midnight_s, self._place_on(day), self.watches)
        for draw in plan.draws:
            if draw.start_s >= self.now_s:
                self.water.draw(*draw)
        self._uses += [use for use in plan.uses if use.end_s > self.now_s]
        self._at(midnight_s + crew.ENGINE_CHECK_H * HOUR_S, self._mind_the_charge)
        self._at(midnight_s + crew.WATER_CHECK_H * HOUR_S, self._mind_the_water)
        self.chronicle.expect_night(midnight_s, self.latitude, self.longitude)
        self._tack = 1.0 if self._rng.random() < 0.5 else -1.0

    def _place_on(self, day: int) -> str:
        return next((leg.place for leg in reversed(self.scenario.legs) if leg.day <= day + 0.6), "alongside")

    # What the crew does --------------------------------------------------------------------------

    def _mind_the_charge(self) -> None:
        if self.place == "alongside" or self.counted_pct >= self.scenario.engine_below_pct:
            return
        need_Ah = (self.scenario.engine_until_pct - self.counted_pct) / 100 * CAPACITY_AH
        seconds = min(crew.LONGEST_ENGINE_S, need_Ah / 50 * HOUR_S)
        self._set_engine(True)
        self._at(self.now_s + seconds, lambda: self._set_engine(self.place == "motoring"))

    def _set_engine(self, on: bool) -> None:
        if on == (self.engine_since_s is not None):
            return
        self.engine_since_s = self.now_s if on else None
        self._tell("engine starts" if on else "engine stops")

    def _mind_the_water(self) -> None:
        if self.place == "at anchor" and self.manifold.litres < self.scenario.fill_below_L:
            self._fill(crew.cans, crew.CAN_EVERY_S)

    def _fill(self, parts: Callable[[float], list[float]], every_s: int) -> None:
        """Fill tank by tank, a part each so many seconds; the whole is told when it is done."""
        at_s = self.now_s
        for tank in self.tanks:
            portions = parts(tank.capacity_L - tank.litres - 1.0)
            for n, litres in enumerate(portions):
                last = sum(portions) if n == len(portions) - 1 else 0.0
                self._at(at_s, lambda tank=tank, litres=litres, last=last: self._pour(tank, litres, last))  # type: ignore[misc]
                at_s += every_s

    def _pour(self, tank: Tank, litres: float, told_L: float) -> None:
        tank.fill(litres)
        if told_L:
            self._tell("fill", subject=tank.name, litres=round(told_L, 1))

    # How time passes -----------------------------------------------------------------------------

    def live(self) -> Iterator[Stretch]:
        """The whole life, stretch by stretch, each of an hour at most."""
        while self.now_s < self.end_s:
            while self._agenda and self._agenda[0][0] <= self.now_s:
                heapq.heappop(self._agenda)[2]()
            until_s = min(self.now_s + HOUR_S, self.end_s)
            if self._agenda:
                until_s = min(until_s, self._agenda[0][0])
            yield self._stretch(int(until_s - self.now_s))

    def _stretch(self, seconds: int) -> Stretch:
        start_s, end_s = self.now_s, self.now_s + seconds
        conditions = self._conditions()
        hour = (start_s - self.calendar.midnight_s(self.calendar.day(start_s))) / HOUR_S
        awake = self.watches or crew.AWAKE_H[0] <= hour < crew.AWAKE_H[1]
        if awake and self.water.powered and (name := self.manifold.turn()):
            self._tell("tank changed", subject=name)
        running = self.water.running_since_s is not None
        self.water.shore, self.water.engine = conditions.shore, conditions.engine
        self.water.cabin, self.water.cold = conditions.cabin, conditions.sea
        trace = self.water.advance(end_s)
        demand, shore_VA = self._demand(seconds, conditions, trace, awake)
        electrics = self.house.run(demand)
        shore_VA += electrics.shore_W / CHARGER_EFFICIENCY
        counted = self._count(electrics)
        heel = self._lean(seconds)
        truth = self.chronicle.stretch(start_s, electrics, trace, CAPACITY_AH)
        stretch = Stretch(
            start_s, seconds, conditions, electrics, trace, heel, counted, shore_VA, running, truth
        )
        self._sail_on(seconds)
        self.now_s = end_s
        return stretch

    def _conditions(self) -> Conditions:
        """The air's and the sea's seasons are a common climate of that coast."""
        day = self.now_s / DAY_S % 365.25
        air = 15.0 + 5.5 * math.cos(2 * math.pi * (day - 205) / 365.25)
        sea = 15.5 + 2.5 * math.cos(2 * math.pi * (day - 240) / 365.25)
        cabin = air + 3.0 + 2.5 * math.sin(2 * math.pi * (self.now_s % DAY_S / DAY_S - 0.375))
        return Conditions(
            self.place, self.engine_since_s is not None, self.place == "alongside", self.latitude,
            self.longitude, cabin, sea, self.now_s - (self.engine_since_s or self.now_s),
            self.engine_hours, dict(self._stuck), frozenset(self._dead),
        )  # fmt: skip

    def _demand(
        self, seconds: int, conditions: Conditions, trace: Trace, awake: bool
    ) -> tuple[Demand, Floats]:
        start_s, end_s = self.now_s, self.now_s + seconds
        for compressor in self._compressors:
            self._uses += compressor.uses(end_s, conditions.cabin)
        self._uses = [use for use in self._uses if use.end_s > start_s]
        by = {"dc": [], "ac": []}  # type: dict[str, list[tuple[float, float, float]]]
        for use in self._uses:
            if use.start_s < end_s:
                by[use.supply].append((use.start_s, use.end_s, use.watts))
        runs = [(a, b, PUMP_W) for a, b in trace.runs]
        if self.water.running_since_s is not None:
            runs.append((self.water.running_since_s, end_s, PUMP_W))
        house = mean_W(by["dc"] + runs, start_s, seconds) + HOUSE_STANDING_W
        ac = mean_W(by["ac"], start_s, seconds)
        minutes = start_s + np.arange(0.0, seconds + 60.0, 60.0)
        grid, at = minutes - start_s, np.arange(seconds, dtype=np.float64) + 0.5
        clear = panels_clear_W(self.latitude, self.longitude, minutes)
        panels = np.interp(at, grid, clear * self.clouds.minutes(len(minutes)))
        shore_VA = np.zeros(seconds)
        shore_W = np.zeros(seconds)
        if conditions.shore:
            shore_VA = ac + self._element(trace, at + start_s)
            limit_W = SHORE_CHARGER_A * self.house.bank.voltage_V
            shore_W = np.clip((SHORE_LIMIT_W - shore_VA) * CHARGER_EFFICIENCY, 0.0, limit_W)
        else:
            house += ac / INVERTER_EFFICIENCY + (INVERTER_IDLE_W if awake or ac.any() else 0.0)
        if self.place == "sailing":
            panels *= SAIL_SHADE
        return Demand(
            house, self._navigation(at, grid, minutes), panels, self._alternator(at), shore_W
        ), shore_VA

    def _element(self, trace: Trace, times: Floats) -> Floats:
        minutes = np.array([t for t, _, _ in trace.heater])
        on = np.array([float(on) for _, _, on in trace.heater])
        return np.asarray(self.heater.element_W * on[np.searchsorted(minutes, times, side="right") - 1])

    def _alternator(self, at: Floats) -> Floats:
        """90 A on its label; some 60 % of it when warm (common practice)."""
        if self.engine_since_s is None:
            return np.zeros(len(at))
        warm_s = self.now_s - self.engine_since_s + at
        return np.where(warm_s > 20, 56.0 + 24.0 * np.exp(-warm_s / 500), 0.0)

    def _navigation(self, at: Floats, grid: Floats, minutes: Floats) -> Floats:
        height_sin, _ = sun(self.latitude, self.longitude, minutes)
        dark = np.interp(at, grid, (height_sin < TWILIGHT_SIN).astype(float)) > 0.5
        pilot = PILOT_W.get(self.place, 0.0)
        watts = NAVIGATION_W[self.place] + pilot + dark * LIGHT_W.get(self.place, 0.0)
        return np.asarray(np.maximum(2.0, watts + ripple(self._rng, len(at), 1.2 + 0.3 * pilot)))

    def _count(self, electrics: Electrics) -> Floats:
        """The counting monitor: it believes its shunt, stops at 100 % and never looks at the voltage."""
        believed_A = electrics.bank_A * self.shunt_gain + self.shunt_offset_A
        counted = self.counted_pct + np.cumsum(believed_A) / 3600 / CAPACITY_AH * 100
        counted -= np.maximum(0.0, np.maximum.accumulate(counted) - 100.0)
        counted = np.maximum(counted, 0.0)
        self.counted_pct = float(counted[-1])
        return counted

    def _lean(self, seconds: int) -> Floats:
        wanted = self._tack * self.scenario.heel_deg if self.place == "sailing" else 0.0
        wanted += float(self._rng.normal(0, 0.15 + 0.15 * abs(wanted)))
        heel = np.linspace(self.heel, wanted, seconds)
        self.heel = wanted
        return heel

    def _sail_on(self, seconds: int) -> None:
        if self.engine_since_s is not None:
            self.engine_hours += seconds / HOUR_S
        if self.place == "sailing":
            way = self.scenario.speed_kn * KNOT_DEG_PER_S * seconds
            course = math.radians(self.scenario.course_deg)
            self.latitude += way * math.cos(course)
            self.longitude += way * math.sin(course) / math.cos(math.radians(self.latitude))
