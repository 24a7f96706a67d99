"""An independent boat's pipework: pump, accumulator, heater, valves and tank, and the faults they can have.

Nothing of it comes from the code under test. Water is booked draw by draw: draws and slow losses empty the
accumulator, the pump fills it. Pressures follow Boyle's law between cut-in and cut-out; an open end follows
the orifice Q = Cd A sqrt(2 p / rho), Cd 0.62; the pump's current rises with its pressure from a share of 0.6
to 0.75 at none (common practice for diaphragm pumps), and is 40 to 70 % of normal in air. Habits are common
practice for two to four people aboard a cruising boat: 10 to 20 L a head a day, showers of 5 to 12 L, 1.5
visits a night, guests on one day in twenty,
a wash down once a week with a gun that passes 8 to 12 L/min at 2 bar.
"""

from dataclasses import dataclass, field
from math import exp
from random import Random
from typing import NamedTuple

HOUR, DAY = 3600.0, 86400.0
AIR_BAR = 1.013
CUT_IN, CUT_OUT = 1.4, 2.8
PRECHARGE = 1.2
LITRE_GIVES_L = 0.3367
"""Drawdown of one litre of accumulator at 1.2 / 1.4 / 2.8 bar: Boyle, worked by hand."""
# IAPWS-95 density at one atmosphere [kg/m³] at 20, 40, 60 °C: 998.207, 992.216, 983.196: for a quadratic
# through them, the share by which water grows from 20 °C on.
GROWS = ((992.216, 40.0), (983.196, 60.0))


def grown(celsius: float) -> float:
    """Share by which water at this temperature stands above its volume at 20 °C."""
    (d40, t40), (d60, t60) = GROWS
    y40, y60 = 998.207 / d40 - 1, 998.207 / d60 - 1
    x = celsius - 20
    b = (y60 / (t60 - 20) - y40 / (t40 - 20)) / (t60 - t40)
    return x * (y40 / (t40 - 20) + b * (celsius - t40))


class Draw(NamedTuple):
    at_s: float
    litres: float
    L_per_min: float


class Run(NamedTuple):
    start_s: float
    end_s: float
    open_s: float
    """Until then an open draw held the pressure at `open_bar`; then it rose from cut-in to cut-out."""
    open_bar: float


@dataclass
class Pipework:
    """What is aboard, and what is wrong with it."""

    capacity_L: float
    flow_L_per_min: float
    accumulator_L: float
    heater_L: float
    people: int
    free_share: float
    """Current at no pressure, of that at cut-out."""
    top_A: float
    drawdown_share: float = 1.0
    leak_L_per_h: float = 0.0
    back_L_per_h: float = 0.0
    above_L_per_h: float = 0.0
    weep_L_per_h: float = 0.0
    flow_share: float = 1.0
    hot_days: float = 0.6

    @property
    def drawdown_L(self) -> float:
        return max(0.03, LITRE_GIVES_L * self.accumulator_L * self.drawdown_share)


def aboard(rng: Random) -> Pipework:
    """One boat among many."""
    return Pipework(
        capacity_L=rng.choice((260.0, 425.0, 600.0)),
        flow_L_per_min=rng.uniform(8.0, 14.0),
        accumulator_L=rng.choice((0.75, 1.0, 1.0, 2.0)),
        heater_L=rng.choice((0.0, 20.0, 40.0, 40.0)),
        people=rng.randint(2, 4),
        free_share=rng.uniform(0.6, 0.75),
        top_A=rng.uniform(5.0, 10.0),
    )


def day_of_draws(
    rng: Random, start_s: float, pipes: Pipework, away: tuple[float, float] | None
) -> list[Draw]:
    """One day from its midnight."""
    people = pipes.people + (rng.randint(1, 3) if rng.random() < 0.05 else 0)
    found: list[tuple[float, float, float]] = []

    def waking() -> float:
        return rng.uniform(7.0, 23.0)

    for _ in range(people):
        for _ in range(rng.randint(6, 12)):
            found.append((waking(), rng.uniform(0.1, 1.5), rng.uniform(2.0, 5.0)))
        if rng.random() < 0.6:
            hour, flow = rng.choice((rng.uniform(7.2, 9.5), rng.uniform(17.0, 22.0))), rng.uniform(5.0, 8.0)
            for n in range(rng.randint(2, 3)):
                found.append((hour + n * 0.03 + rng.uniform(0, 0.01), rng.uniform(1.5, 4.5), flow))
    for meal in (8.2, 13.3, 19.8):
        hour = meal + rng.uniform(-0.6, 0.8)
        for _ in range(rng.randint(4, 10)):
            hour += rng.uniform(0.004, 0.04)
            found.append((hour, rng.uniform(0.2, 2.0), rng.uniform(2.0, 6.0)))
    if rng.random() < 0.3:  # Jugs, kettles, the bucket.
        found.append((waking(), rng.uniform(4.0, 10.0), rng.uniform(6.0, 11.0)))
    if rng.random() < 1 / 7:  # Washing down, the hose's gun open and shut.
        hour = rng.uniform(9.0, 18.0)
        for _ in range(rng.randint(6, 14)):
            seconds, flow = rng.uniform(5.0, 70.0), rng.uniform(8.0, 12.0)
            found.append((hour, flow * seconds / 60, flow))
            hour += (seconds + rng.uniform(5.0, 60.0)) / 3600
    night = rng.expovariate(1.5 / 8)
    while night < 8.0:
        found.append(((23.0 + night) % 24, rng.uniform(0.15, 1.2), rng.uniform(1.5, 4.5)))
        night += rng.expovariate(1.5 / 8)
    if away is not None:
        found = [d for d in found if not away[0] <= d[0] < away[1]]
    return sorted(Draw(start_s + hour * HOUR, litres, flow) for hour, litres, flow in found)


@dataclass
class House:
    """Lives day after day. What is seen of a day stands in `runs`, `warmth` and `tank` afterwards."""

    rng: Random
    pipes: Pipework
    tank_L: float = 0.0
    celsius: float = 20.0
    days: int = 0
    runs: list[Run] = field(default_factory=list)
    warmth: list[tuple[float, float, bool]] = field(default_factory=list)
    """Every ten minutes: time, temperature, whether it is being heated."""
    tank: list[tuple[float, float]] = field(default_factory=list)
    """Times and litres, straight between them."""
    fills: list[tuple[float, float]] = field(default_factory=list)
    away: tuple[float, float] | None = None
    sails: tuple[float, float] | None = None
    _now_s: float = 0.0
    _left_L: float = 0.1

    def day(self) -> None:
        rng, pipes, start_s = self.rng, self.pipes, self.days * DAY
        self.days += 1
        self.runs, self.fills = [], []
        self.away = (12.0, 16.0) if rng.random() < 0.15 else None
        self.sails = (10.0, 15.0) if self.away is None and rng.random() < 0.25 else None
        self._heat(start_s)
        if self.tank_L < 0.45 * pipes.capacity_L:
            self._take_water(start_s + 5.0)
        self.tank = [(start_s, self.tank_L)]
        for draw in [*day_of_draws(rng, start_s, pipes, self.away), Draw(start_s + DAY, 0.0, 1.0)]:
            self._slow(max(self._now_s, draw.at_s))
            self._draw(draw)
        self._book(self._now_s)

    def _heat(self, start_s: float) -> None:
        hot, top = self.rng.random() < self.pipes.hot_days, self.rng.uniform(58.0, 65.0)
        self.warmth = []
        for n in range(145):
            on = hot and 18 <= n / 6 < 20 and self.celsius < top
            rises = 4.5 if on else (20.0 - self.celsius) * (1 - exp(-1 / 6 / 14))
            self.celsius += rises
            self.warmth.append((start_s + n * 600.0, self.celsius, on))

    def _rates(self) -> tuple[float, float]:
        """Litres a second that leave the pressure side, and how long that holds."""
        n = min(int((self._now_s - self.warmth[0][0]) // 600.0), 143)
        c0, (next_s, c1, _) = self.warmth[n][1], self.warmth[n + 1]
        shrinks = -self.pipes.heater_L * (grown(c1) - grown(c0)) / 600.0
        weeps = 0.0
        if self.pipes.weep_L_per_h and any(w[2] for w in self.warmth[max(0, n - 8) : n + 1]):
            weeps = self.pipes.weep_L_per_h / HOUR
            shrinks = max(0.0, shrinks)  # What expands goes out, too.
        leak = (self.pipes.leak_L_per_h + self.pipes.back_L_per_h) / HOUR + weeps
        return leak + shrinks, max(next_s - self._now_s, 1.0)

    def _slow(self, until_s: float) -> None:
        while self._now_s < until_s:
            rate, holds_s = self._rates()
            step = min(until_s - self._now_s, holds_s)
            if rate > 0.0 and rate * step >= self._left_L:
                self._pass(max(0.0, self._left_L) / rate)
                self._fill(0.0, 0.0)
                continue
            self._left_L = min(self._left_L - rate * step, 1.5 * self.pipes.drawdown_L)
            self._pass(step)

    def _pass(self, seconds: float) -> None:
        self._now_s += seconds
        self.tank_L += (self.pipes.back_L_per_h - self.pipes.above_L_per_h) / HOUR * seconds

    def _draw(self, draw: Draw) -> None:
        litres, per_s = draw.litres, draw.L_per_min / 60
        while litres > 0:
            here = min(litres, max(0.0, self._left_L))
            self._left_L -= here
            self._pass(here / per_s)
            litres -= here
            if litres > 0:
                litres = self._fill(litres, per_s)

    def _fill(self, litres: float, per_s: float) -> float:
        """The pump runs until the accumulator is full; what of the draw is left then."""
        pipes, rng = self.pipes, self.rng
        pump = pipes.flow_L_per_min * pipes.flow_share / 60 * rng.gauss(1.0, 0.01)
        room = pipes.drawdown_L * max(0.5, rng.gauss(1.0, 0.03))
        leaks, _ = self._rates()
        start_s = open_s = self._now_s
        open_bar = CUT_IN
        if litres and per_s >= 0.97 * (pump - leaks):  # An open draw: the pump only just keeps up.
            open_s = start_s + litres / pump
            open_bar = 2.0 * (pump / per_s) ** 2
            litres = 0.0
        elif litres:
            drawing_s, filling_s = litres / per_s, room / (pump - per_s - leaks)
            if filling_s <= drawing_s:
                return self._ran(start_s, start_s + filling_s, open_s, open_bar, pump, room, litres, per_s)
            room += litres
            litres = 0.0
        end_s = open_s + room / max(pump - leaks, 0.02)
        return self._ran(start_s, end_s, open_s, open_bar, pump, room, litres, per_s)

    def _ran(
        self, start_s: float, end_s: float, open_s: float, open_bar: float, pump: float, room: float,
        litres: float, per_s: float,
    ) -> float:  # fmt: skip
        self._book(start_s)
        self._left_L = min(room, self.pipes.drawdown_L * 1.1)
        self._pass(end_s - start_s)
        self.tank_L -= pump * (end_s - start_s)
        self._book(end_s)
        if self.tank_L < 0.1 * self.pipes.capacity_L:  # Guests and a wash down: nobody lets it run dry.
            self._take_water(end_s)
            self._book(end_s)
        self.runs.append(Run(start_s, end_s, open_s, open_bar))
        return max(0.0, litres - per_s * (end_s - start_s)) if litres else 0.0

    def _take_water(self, at_s: float) -> None:
        litres = 0.95 * self.pipes.capacity_L - self.tank_L
        self.fills.append((at_s, litres))
        self.tank_L += litres

    def _book(self, at_s: float) -> None:
        self.tank.append((at_s, self.tank_L))


def pressure(run: Run, at_s: float) -> float:
    """Of a healthy run, by Boyle: the accumulator fills evenly from cut-in to cut-out. [bar]"""
    if at_s < run.open_s:
        return run.open_bar
    share = min(1.0, (at_s - run.open_s) / max(run.end_s - run.open_s, 1e-3))
    low, high = 1 / (CUT_IN + AIR_BAR), 1 / (CUT_OUT + AIR_BAR)
    return 1 / (low + share * (high - low)) - AIR_BAR


def hose_off_bar(pipes: Pipework, bore_mm: float, metres: float, rises_m: float) -> float:
    """Pressure at a pump that runs against an open end: the orifice, Darcy-Weisbach's loss in a hose of 13 mm
    (friction factor 0.03, a smooth hose at such flows by Moody's chart), and the rise. [bar]"""
    flow = pipes.flow_L_per_min * 1.1 / 60000
    through = flow / (0.62 * 3.1416 / 4 * (bore_mm / 1000) ** 2)
    along = flow / (3.1416 / 4 * 0.013**2)
    dynamic = 998.0 / 2
    return (dynamic * (through**2 + 0.03 * metres / 0.013 * along**2) + 998.0 * 9.81 * rises_m) / 1e5


def amps(pipes: Pipework, bar: float) -> float:
    """The pump's current at a pressure. [A]"""
    return pipes.top_A * (pipes.free_share + (1 - pipes.free_share) * bar / CUT_OUT)
