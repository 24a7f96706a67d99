"""*Marram* herself: everything aboard that obeys physics, lived through in whole seconds."""

import math
from dataclasses import dataclass

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from monitor.wire.codes import STATES
from simulators.battery import EVEN, Cell, LeadBuffer, LithiumBank
from simulators.heater import Heater
from simulators.needs import CELLS_S, Mains, Needs
from simulators.power import CHARGER_EFFICIENCY, Electrics, House
from simulators.pump import PressureSystem
from simulators.scenario import Scenario
from simulators.shore import Breaker
from simulators.sky import Clouds, Floats
from simulators.stretch import Conditions, Stretch
from simulators.tanks import Manifold, Tank, reading_pct
from simulators.took import shared
from simulators.truth import Chronicle

CAPACITY_AH = 460.0
BUFFER_AH = 110.0
INVERTING, PASSING, OFF = (
    float(STATES["inverter state"].index(s)) for s in ("inverting", "passing through", "disabled")
)
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
        self.scenario, self.now_s, self._start_s = scenario, start_s, start_s
        self._rng = np.random.default_rng([seed, 3])
        bank = LithiumBank(CAPACITY_AH * scenario.health, scenario.start_charge_pct, _cells(scenario, seed))
        buffer = LeadBuffer(BUFFER_AH * scenario.buffer_health)
        self.house = House(bank, buffer, scenario.absorption_V)
        part = scenario.start_water_pct / 100
        self.tanks = (
            Tank("forward", 165.0, 8.0, BOW, 165.0 * part),
            Tank("midship", 260.0, 10.0, BOX, 260.0 * part),
        )
        self.manifold = Manifold(self.tanks)
        self.heater = Heater()
        self.water = PressureSystem(self.manifold, self.heater, start_s, np.random.default_rng([seed, 4]))
        clouds = Clouds(scenario.clearness, scenario.clearness_sd, np.random.default_rng([seed, 5]))
        self.needs = Needs(clouds, start_s, self._rng, np.random.default_rng([seed, 20]))
        self.chronicle = Chronicle(start_s)
        shunt = np.random.default_rng([seed, 6])
        drawn_A = float(shunt.normal(0, 0.15))
        self.shunt_offset_A = drawn_A if scenario.shunt_offset_A is None else scenario.shunt_offset_A
        self.shunt_gain = 1 + float(shunt.normal(0, 0.004))
        self.counted_pct = min(100.0, scenario.start_charge_pct + float(shunt.normal(0, 3)))
        """The counting battery monitor, whose start nobody knew well."""
        self.place = "alongside"
        self.wire_off = False
        self.inverter_left_on = False
        self.fitted, self.making_L_per_h, self.making_hours = scenario.maker is not None, 0.0, 96.0
        """The watermaker: there at all, what it gives now, and its hours."""
        self.latitude, self.longitude = scenario.latitude, scenario.longitude
        self.machines = {"engine": Machine(1234.0), "generator": Machine(412.0)}
        self.charging_off = False
        self.breaker = Breaker(scenario.pedestal.breaker_A)
        self.input_limit_A = scenario.pedestal.breaker_A
        self._alternator_A = float(np.random.default_rng([seed, 12]).uniform(*scenario.alternator_A))
        self._days = np.random.default_rng([seed, 14])
        self._chill = 0.0
        self.cells_C = scenario.winter.berth if scenario.winter else self._locker(self._cabin())
        self.stuck_A: float | None = None
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

    def begin_day(self) -> None:
        """Some winter days are colder than others."""
        winter = self.scenario.winter
        self._chill = float(self._days.normal(0, winter.sd)) if winter else 0.0

    def stick_shunt(self, stuck: bool) -> None:
        """The house shunt keeps on saying what it says now, or follows the current again."""
        says_A = self.house.bank.current_A * self.shunt_gain + self.shunt_offset_A
        self.stuck_A = says_A if stuck else None

    def live(self, seconds: int, awake: bool) -> Stretch:
        """Go on so long under the conditions of its beginning."""
        start_s, conditions = self.now_s, self._conditions()
        self.water.mains, self.water.engine = conditions.mains, conditions.engine
        self.water.cabin, self.water.cold = conditions.cabin, conditions.sea
        running = self.water.running_since_s is not None
        water = self.water.advance(start_s + seconds)
        inverting = awake or self.inverter_left_on
        demand, mains, wants = self.needs.demand(start_s, seconds, conditions, water, inverting)
        electrics = self.house.run(demand)
        took = shared(electrics, wants.house_W, wants.navigation_W)
        mains.supply_W += electrics.charger_W / CHARGER_EFFICIENCY
        mains.output_W = mains.output_W * (electrics.closed if not conditions.mains else 1.0)
        counted = self._count(electrics)
        heel = self._lean(seconds)
        if conditions.shore:
            self.breaker.carry(conditions.pedestal.current_A(mains.supply_W))
        self.cells_C = conditions.locker + (self.cells_C - conditions.locker) * math.exp(-seconds / CELLS_S)
        truth = self.chronicle.stretch(
            start_s, electrics, water, mains.help_W, took, self.house.bank.usable_Ah,
            self.house.buffer.capacity_Ah,
        )  # fmt: skip
        self._sail_on(seconds)
        self.now_s = start_s + seconds
        inverter = _inverter_states(conditions, electrics, mains, inverting)
        return Stretch(
            start_s, seconds, conditions, electrics, water, heel, counted, mains.supply_W, mains.output_W,
            inverter, running, took, truth,
        )  # fmt: skip

    @property
    def _warmest_at_15(self) -> float:
        return math.sin(2 * math.pi * (self.now_s % DAY_S / DAY_S - 0.375))

    def _cabin(self) -> float:
        """The air's season is a common climate of that coast; in winter a stove keeps the cabin warm."""
        if winter := self.scenario.winter:
            cooled = winter.cools_a_day * (self.now_s - self._start_s) / DAY_S
            return max(winter.least, winter.cabin - cooled) + 2.5 * self._warmest_at_15
        day = self.now_s / DAY_S % 365.25
        air = 15.0 + 5.5 * math.cos(2 * math.pi * (day - 205) / 365.25)
        return air + 3.0 + 2.5 * self._warmest_at_15

    def _locker(self, cabin: float) -> float:
        """The bank's."""
        winter = self.scenario.winter
        if winter is None:
            return cabin - 0.85
        return winter.locker + winter.swing * self._warmest_at_15 + self._chill

    def _conditions(self) -> Conditions:
        """The sea's season is a common climate of that coast."""
        day = self.now_s / DAY_S % 365.25
        sea = 15.5 + 2.5 * math.cos(2 * math.pi * (day - 240) / 365.25)
        if self.scenario.winter:
            sea = self.scenario.winter.sea
        cabin = self._cabin()
        engine, generator = self.machines["engine"], self.machines["generator"]
        return Conditions(
            place=self.place,
            engine=engine.since_s is not None,
            shore=self.place == "alongside",
            generator=generator.since_s is not None,
            latitude=self.latitude,
            longitude=self.longitude,
            way=self._way(),
            cabin=cabin,
            sea=sea,
            engine_s=engine.for_s(self.now_s),
            engine_hours=engine.hours,
            generator_s=generator.for_s(self.now_s),
            generator_hours=generator.hours,
            stuck_pct=dict(self._stuck),
            dead=frozenset(self._dead),
            pedestal=self.scenario.pedestal,
            tripped=self.breaker.tripped,
            input_limit_A=self.input_limit_A,
            alternator_A=self._alternator_A,
            charging_off=self.charging_off,
            locker=self._locker(cabin),
            cells_C=self.cells_C,
            stuck_A=self.stuck_A,
            wire_off=self.wire_off,
            fitted=self.fitted,
            making_L_per_h=self.making_L_per_h,
            making_hours=self.making_hours,
        )

    def _count(self, electrics: Electrics) -> Floats:
        """The counting monitor: it believes its shunt, stops at 100 % and never looks at the voltage."""
        believed_A = electrics.bank_A * self.shunt_gain + self.shunt_offset_A
        if self.stuck_A is not None:
            believed_A = np.full(len(believed_A), self.stuck_A)
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
        self.making_hours += seconds / HOUR_S * (self.making_L_per_h > 0)
        north, east = self._way()
        self.latitude += north * seconds
        self.longitude += east * seconds

    def _way(self) -> tuple[float, float]:
        """Degrees a second to the north and to the east; none at rest."""
        if self.place not in ("sailing", "motoring"):
            return 0.0, 0.0
        way, course = self.scenario.speed_kn * KNOT_DEG_PER_S, math.radians(self.scenario.course_deg)
        return way * math.cos(course), way * math.sin(course) / math.cos(math.radians(self.latitude))


def _cells(scenario: Scenario, seed: int) -> tuple[Cell, ...]:
    """Four that differ as the scenario has it: a little all of them, and one that is ahead."""
    if not scenario.cell_spread_pct and not any(scenario.imbalance_pct):
        return EVEN
    rng = np.random.default_rng([seed, 11])
    ahead = rng.normal(0, scenario.cell_spread_pct, 4)
    ahead -= ahead.mean()
    ahead[rng.integers(4)] += rng.uniform(*scenario.imbalance_pct)
    parts = 1 + rng.normal(0, scenario.cell_spread_pct / 100, 4)
    return tuple(Cell(float(part), float(pct)) for part, pct in zip(parts, ahead, strict=True))


def _inverter_states(conditions: Conditions, electrics: Electrics, mains: Mains, inverting: bool) -> Floats:
    """It passes the supply on, makes mains of its own while somebody wants some, or is off."""
    if conditions.mains:
        return np.full(len(electrics.closed), PASSING)
    wanted = (mains.output_W > 0) | inverting
    return np.where(wanted & (electrics.closed > 0), INVERTING, OFF)
