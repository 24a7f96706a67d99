"""*Marram* herself: everything aboard that obeys physics, lived through in whole seconds."""

import math
from dataclasses import dataclass

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from simulators.battery import LeadBuffer, LithiumBank
from simulators.heater import Heater
from simulators.needs import Needs
from simulators.power import CHARGER_EFFICIENCY, Electrics, House
from simulators.pump import PressureSystem
from simulators.scenarios import Scenario
from simulators.sky import Clouds, Floats
from simulators.stretch import Conditions, Stretch
from simulators.tanks import Manifold, Tank, reading_pct
from simulators.truth import Chronicle

CAPACITY_AH = 460.0
BUFFER_AH = 110.0
KNOT_DEG_PER_S = 1 / 60 / 3600
BOW = ((0.0, 0.0), (25.0, 24.0), (50.0, 66.0), (75.0, 115.0), (100.0, 165.0))
"""The forward tank follows the bow: narrow below."""
BOX = ((0.0, 0.0), (100.0, 260.0))


@dataclass(slots=True)
class Machine:
    """The engine, or the generator: its hours, and since when it runs."""

    hours: float
    since_s: float | None = None

    def for_s(self, now_s: float) -> float:
        return 0.0 if self.since_s is None else now_s - self.since_s


class Boat:
    """Her state at `now_s`. Whoever lives aboard sets place, machines and cocks between stretches."""

    def __init__(self, scenario: Scenario, seed: int, start_s: float) -> None:
        self.scenario, self.now_s = scenario, start_s
        self._rng = np.random.default_rng([seed, 3])
        self.house = House(LithiumBank(CAPACITY_AH, scenario.start_charge_pct), LeadBuffer(BUFFER_AH))
        part = scenario.start_water_pct / 100
        self.tanks = (
            Tank("forward", 165.0, 8.0, BOW, 165.0 * part),
            Tank("midship", 260.0, 10.0, BOX, 260.0 * part),
        )
        self.manifold = Manifold(self.tanks)
        self.heater = Heater()
        self.water = PressureSystem(self.manifold, self.heater, start_s, np.random.default_rng([seed, 4]))
        clouds = Clouds(scenario.clearness, scenario.clearness_sd, np.random.default_rng([seed, 5]))
        self.needs = Needs(clouds, start_s, self._rng)
        self.chronicle = Chronicle(start_s)
        shunt = np.random.default_rng([seed, 6])
        self.shunt_offset_A = float(shunt.normal(0, 0.15))
        self.shunt_gain = 1 + float(shunt.normal(0, 0.004))
        self.counted_pct = min(100.0, scenario.start_charge_pct + float(shunt.normal(0, 3)))
        """The counting battery monitor, whose start nobody knew well."""
        self.place = "alongside"
        self.latitude, self.longitude = scenario.latitude, scenario.longitude
        self.machines = {"engine": Machine(1234.0), "generator": Machine(412.0)}
        self._heel = 0.0
        self.tack = 1.0
        self._stuck: dict[str, float] = {}
        self._dead: set[str] = set()

    def stick(self, name: str) -> None:
        """That tank's sender keeps on saying what it says now."""
        tank = next(tank for tank in self.tanks if tank.name == name)
        self._stuck[name] = reading_pct(tank.sounding, tank.litres)

    def silence(self, name: str) -> None:
        """That tank's sender says "not available" from now on."""
        self._dead.add(name)

    def live(self, seconds: int, awake: bool) -> Stretch:
        """Go on so long under the conditions of its beginning."""
        start_s, conditions = self.now_s, self._conditions()
        self.water.mains, self.water.engine = conditions.mains, conditions.engine
        self.water.cabin, self.water.cold = conditions.cabin, conditions.sea
        running = self.water.running_since_s is not None
        water = self.water.advance(start_s + seconds)
        demand, supply_W = self.needs.demand(start_s, seconds, conditions, water, awake)
        electrics = self.house.run(demand)
        supply_W += electrics.charger_W / CHARGER_EFFICIENCY
        counted = self._count(electrics)
        heel = self._lean(seconds)
        truth = self.chronicle.stretch(start_s, electrics, water, CAPACITY_AH)
        self._sail_on(seconds)
        self.now_s = start_s + seconds
        return Stretch(
            start_s, seconds, conditions, electrics, water, heel, counted, supply_W, running, truth
        )

    def _conditions(self) -> Conditions:
        """The air's and the sea's seasons are a common climate of that coast."""
        day = self.now_s / DAY_S % 365.25
        air = 15.0 + 5.5 * math.cos(2 * math.pi * (day - 205) / 365.25)
        sea = 15.5 + 2.5 * math.cos(2 * math.pi * (day - 240) / 365.25)
        cabin = air + 3.0 + 2.5 * math.sin(2 * math.pi * (self.now_s % DAY_S / DAY_S - 0.375))
        engine, generator = self.machines["engine"], self.machines["generator"]
        return Conditions(
            place=self.place,
            engine=engine.since_s is not None,
            shore=self.place == "alongside",
            generator=generator.since_s is not None,
            latitude=self.latitude,
            longitude=self.longitude,
            cabin=cabin,
            sea=sea,
            engine_s=engine.for_s(self.now_s),
            engine_hours=engine.hours,
            generator_s=generator.for_s(self.now_s),
            generator_hours=generator.hours,
            stuck_pct=dict(self._stuck),
            dead=frozenset(self._dead),
        )

    def _count(self, electrics: Electrics) -> Floats:
        """The counting monitor: it believes its shunt, stops at 100 % and never looks at the voltage."""
        believed_A = electrics.bank_A * self.shunt_gain + self.shunt_offset_A
        counted = self.counted_pct + np.cumsum(believed_A) / 3600 / CAPACITY_AH * 100
        counted -= np.maximum(0.0, np.maximum.accumulate(counted) - 100.0)
        counted = np.maximum(counted, 0.0)
        self.counted_pct = float(counted[-1])
        return counted

    def _lean(self, seconds: int) -> Floats:
        wanted = self.tack * self.scenario.heel_deg if self.place == "sailing" else 0.0
        wanted += float(self._rng.normal(0, 0.15 + 0.15 * abs(wanted)))
        heel = np.linspace(self._heel, wanted, seconds)
        self._heel = wanted
        return heel

    def _sail_on(self, seconds: int) -> None:
        for machine in self.machines.values():
            if machine.since_s is not None:
                machine.hours += seconds / HOUR_S
        if self.place == "sailing":
            way = self.scenario.speed_kn * KNOT_DEG_PER_S * seconds
            course = math.radians(self.scenario.course_deg)
            self.latitude += way * math.cos(course)
            self.longitude += way * math.sin(course) / math.cos(math.radians(self.latitude))
