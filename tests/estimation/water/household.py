"""An independent household: draws, a pressure pump, a leak and a cooling heater, event by event.

Nothing of it comes from the code under test. Volumes are booked one by one: draws and slow losses
empty the accumulator, the pump fills it. Habits are common practice for people aboard a cruising
boat (10 to 20 L a head a day, 1.5 draws a night); water's density is interpolated in the published
IAPWS-95 values.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import exp
from random import Random
from typing import NamedTuple

HOUR = 3600.0
DAY = 24 * HOUR

# IAPWS-95 density of water at one atmosphere [°C, kg/m³].
DENSITY = (
    (0.01, 999.844), (4, 999.975), (10, 999.702), (15, 999.103), (20, 998.207), (25, 997.048),
    (40, 992.216), (60, 983.196), (80, 971.799),
)  # fmt: skip


def density(celsius: float) -> float:
    for (t0, d0), (t1, d1) in pairwise(DENSITY):
        if celsius <= t1:
            return d0 + (d1 - d0) * (celsius - t0) / (t1 - t0)
    raise ValueError(celsius)


class Draw(NamedTuple):
    at_s: float
    litres: float
    L_per_min: float


@dataclass(frozen=True)
class Plumbing:
    drawdown_L: float = 0.337
    flow_L_per_min: float = 11.0
    scatter: float = 0.03
    """Of the pressure switch, as a share of the drawdown (standard deviation)."""
    edges_s: float = 0.1
    """The grid on which the pump's state is seen."""
    heater_L: float = 0.0
    heater_cools_h: float = 14.0
    heats: float = 0.5
    """Share of evenings on which it is heated."""
    air_K: float = 0.0
    """By how much the air in the accumulator warms over the night, or cools where negative."""
    ice_L: float = 0.0
    """What an ice maker takes by itself,"""
    ice_every_h: float = 2.0
    """and how often."""


@dataclass(frozen=True)
class Habits:
    people: int = 3
    visits: float = 1.5
    """Draws in a night of eight hours, all people together."""
    guests: float = 0.05
    """Share of nights with two more aboard."""
    lone: float = 0.0
    """Draws in a night of eight hours that stop just after they have started the pump."""
    bed: float = 23.0
    up: float = 7.0


class Run(NamedTuple):
    start_s: float
    end_s: float


class Warmth(NamedTuple):
    at_s: float
    celsius: float
    on: bool = False


JUST_ENOUGH = -1.0
"""Litres of a draw that takes what is left in the accumulator and no more."""


def day_of_draws(rng: Random, start_s: float, habits: Habits) -> list[Draw]:
    """One day from its midnight: hands, glasses, dishes, showers, and visits in the night."""
    people = habits.people + (2 if rng.random() < habits.guests else 0)
    draws: list[Draw] = []

    def at(hour: float) -> float:
        return start_s + hour * HOUR

    def waking() -> float:
        return rng.uniform(habits.up, habits.bed)

    for _ in range(people):
        for _ in range(rng.randint(4, 8)):
            draws.append(Draw(at(waking()), rng.uniform(0.3, 1.6), rng.uniform(2.5, 5.0)))
        for _ in range(rng.randint(2, 6)):
            draws.append(Draw(at(waking()), rng.uniform(0.12, 0.45), rng.uniform(2.5, 5.0)))
        if rng.random() < 0.5:
            begin = at(rng.choice((rng.uniform(7.2, 9.5), rng.uniform(17, 22))))
            for n in range(rng.randint(2, 3)):
                draws.append(Draw(begin + n * 100 + rng.uniform(0, 40), rng.uniform(1.5, 4), 6.0))
    for meal in (8.2, 13.3, 19.8):
        begin = at(meal + rng.uniform(-0.6, 0.8))
        for _ in range(rng.randint(4, 12)):
            begin += rng.uniform(15, 150)
            draws.append(Draw(begin, rng.uniform(0.2, 1.8), rng.uniform(2.0, 6.0)))
    asleep_h = 24 - habits.bed + habits.up
    nightly = habits.visits * asleep_h / 8 * people / habits.people
    t = rng.expovariate(nightly / asleep_h)
    while t < asleep_h:
        visit = at((habits.bed + t) % 24)
        draws.append(Draw(visit, rng.uniform(0.15, 1.2), rng.uniform(1.5, 4.5)))
        if rng.random() < 0.3:
            draws.append(Draw(visit + rng.uniform(20, 120), rng.uniform(0.1, 0.35), 3.0))
        t += rng.expovariate(nightly / asleep_h)
    if habits.lone:
        t = rng.expovariate(habits.lone / 8)
        while t < asleep_h:
            draws.append(Draw(at((habits.bed + t) % 24), JUST_ENOUGH, 3.0))
            t += rng.expovariate(habits.lone / 8)
    return sorted(draws)


def warmth_of_day(rng: Random, start_s: float, celsius: float, plumbing: Plumbing) -> list[Warmth]:
    """The heater's water every ten minutes: heated 18:00 to 20:00 or not, else cooling to 20 °C."""
    told, top, heats = [], rng.uniform(58, 66), rng.random() < plumbing.heats
    keeps = exp(-1 / 6 / plumbing.heater_cools_h)
    for n in range(144):
        hour = n / 6
        on = heats and 18 <= hour < 20 and celsius < top
        told.append(Warmth(start_s + n * 600.0, celsius, on))
        celsius = min(top, celsius + 4.5) if on else 20 + (celsius - 20) * keeps
    return told


class House:
    """Days of runs, in order. `leak` is L/h; it flows day and night from `leak_from_s` on."""

    def __init__(self, seed: int, plumbing: Plumbing, habits: Habits | None = None) -> None:
        self.rng = Random(seed)
        self.plumbing = plumbing
        self.habits = habits or Habits()
        self.leak, self.leak_from_s = 0.0, 0.0
        self._celsius = 20.0
        self._day = 0
        self.slow_s: list[float] = []
        """When the pump was started by what is lost slowly, with nobody drawing."""
        self._ice_s = 0.0
        self._shrinks: list[float] = []
        self._left_L = plumbing.drawdown_L
        """Until the pump starts."""
        self.pumped_L = self.drawn_L = self.leaked_L = 0.0

    def day(self) -> tuple[list[Run], list[Warmth]]:
        rng, start_s = self.rng, self._day * DAY
        self._day += 1
        warmth: list[Warmth] = []
        if self.plumbing.heater_L:
            warmth = warmth_of_day(rng, start_s, self._celsius, self.plumbing)
            self._celsius = warmth[-1].celsius
        densities = [density(warm.celsius) for warm in warmth]
        self._shrinks = [self.plumbing.heater_L * (1 - a / b) / 600 for a, b in pairwise(densities)]
        runs: list[Run] = []
        now = start_s
        draws = [*day_of_draws(rng, start_s, self.habits), Draw(start_s + DAY, 0.0, 1.0)]
        if self.plumbing.ice_L:
            draws = sorted([*draws, *self._ice(start_s)])
        for draw in draws:
            begin = max(now, draw.at_s)
            now = self._slow(now, begin, warmth, runs)
            now = self._draw(now, draw, runs)
        return [self._seen(run) for run in runs], warmth

    def _ice(self, start_s: float) -> list[Draw]:
        every_s, self._ice_s = self.plumbing.ice_every_h * HOUR, max(self._ice_s, start_s)
        draws = []
        while self._ice_s < start_s + DAY:
            draws.append(Draw(self._ice_s, self.plumbing.ice_L, 1.5))
            self._ice_s += every_s * self.rng.uniform(0.9, 1.1)
        return draws

    def _slow(self, now: float, until: float, warmth: list[Warmth], runs: list[Run]) -> float:
        """Leak and heater empty the accumulator until then; refills happen as they come."""
        while now < until:
            shrink_per_s, change_s = self._shrinking(now, warmth)
            leak_per_s = self.leak / HOUR if now >= self.leak_from_s else 0.0
            rate = leak_per_s + shrink_per_s
            begins_s = self.leak_from_s if now < self.leak_from_s else until
            step = min(until, change_s, begins_s) - now
            if rate * step >= self._left_L:
                seconds = max(0.0, self._left_L) / rate
                self.leaked_L += leak_per_s * seconds
                now += seconds
                self.slow_s.append(now)
                now = self._fill(now, 0.0, 0.0, runs)[0]
                continue
            self._left_L -= rate * step
            self.leaked_L += leak_per_s * step
            now += step
        return now

    def _draw(self, now: float, draw: Draw, runs: list[Run]) -> float:
        litres, per_s = draw.litres, draw.L_per_min / 60
        if litres == JUST_ENOUGH:
            litres = max(0.0, self._left_L) + 0.005
        self.drawn_L += litres
        while litres > 0:
            if litres <= self._left_L:
                self._left_L -= litres
                return now + litres / per_s
            now += max(0.0, self._left_L) / per_s
            litres -= max(0.0, self._left_L)
            now, litres = self._fill(now, litres, per_s, runs)
        return now

    def _fill(self, now: float, litres: float, per_s: float, runs: list[Run]) -> tuple[float, float]:
        """The pump runs until the accumulator is full, while `litres` are drawn at `per_s`."""
        pump = self.plumbing.flow_L_per_min / 60 * self.rng.gauss(1.0, 0.01)
        room = self.plumbing.drawdown_L * max(0.5, self.rng.gauss(1.0, self.plumbing.scatter))
        drawing_s = litres / per_s if litres else 0.0
        seconds = room / (pump - per_s) if litres else room / pump
        if litres and seconds > drawing_s:
            seconds = (room + litres) / pump
            litres = 0.0
        elif litres:
            litres -= seconds * per_s
        self._left_L = room
        self.pumped_L += pump * seconds
        runs.append(Run(now, now + seconds))
        return now + seconds, litres

    def _shrinking(self, now: float, warmth: list[Warmth]) -> tuple[float, float]:
        """What heater and accumulator air take a second, and until when they do. A gas of 2.7
        drawdowns (0.9 of the accumulator) that warms by 1 K in 288 gives as much water back."""
        hour = now % DAY / HOUR
        air = 0.0
        if self.plumbing.air_K and (hour >= 22 or hour < 6):
            air = -2.7 * self.plumbing.drawdown_L * self.plumbing.air_K / 288 / (8 * HOUR)
        changes = now + HOUR if self.plumbing.air_K else float("inf")
        if not warmth:
            return air, changes
        n = int((now - warmth[0].at_s) // 600)
        if n >= len(self._shrinks):
            return air + self._shrinks[-1], changes
        return air + self._shrinks[n], min(changes, warmth[0].at_s + (n + 1) * 600.0)

    def _seen(self, run: Run) -> Run:
        """As a source sees it that looks every `edges_s`."""
        grid = self.plumbing.edges_s
        phase = self.rng.random() * grid
        return Run(*(((t - phase) // grid + 1) * grid + phase for t in run))
