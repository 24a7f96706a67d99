"""Three people with habits: when they draw water and what they switch on, day by day, seeded.

Litres and times are common practice for a careful crew: some twelve litres a head a day at
anchor, eight under way.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from monitor.clock import HOUR_S


class Draw(NamedTuple):
    """A tap opened at `start_s` for so many litres; `hot` is the heater's share."""

    start_s: float
    litres: float
    L_per_min: float
    hot: float


class Use(NamedTuple):
    """Something switched on. `supply` is "dc" (house bank) or "ac" (inverter or shore)."""

    start_s: float
    end_s: float
    watts: float
    supply: str
    what: str


@dataclass(slots=True)
class DayPlan:
    """One ship's day of a household."""

    draws: list[Draw] = field(default_factory=list)
    uses: list[Use] = field(default_factory=list)
    away: tuple[float, float] | None = None


class Habit(NamedTuple):
    """Something the household does with water at about that hour. `times` is a mean number."""

    what: str
    hour: float
    spread_h: float
    times: float
    litres: float
    L_per_min: float
    hot: float


HEADS = 3
# For the three together; hands and night visits are drawn apart.
HABITS = (
    Habit("coffee and breakfast", 8.0, 0.3, 1, 1.8, 4.5, 0.0),
    Habit("teeth in the morning", 8.4, 0.5, 3, 0.5, 3.5, 0.0),
    Habit("breakfast dishes", 9.2, 0.4, 4, 0.8, 5.0, 0.6),
    Habit("lunch", 12.8, 0.4, 2, 1.2, 5.0, 0.0),
    Habit("lunch dishes", 14.0, 0.5, 3, 0.8, 5.0, 0.5),
    Habit("shower", 18.3, 1.0, 1.2, 7.0, 6.0, 0.6),
    Habit("supper", 19.5, 0.5, 3, 1.1, 5.0, 0.0),
    Habit("supper dishes", 20.8, 0.5, 5, 0.9, 5.0, 0.7),
    Habit("tea", 21.5, 0.6, 1, 1.2, 4.5, 0.0),
    Habit("teeth at night", 22.5, 0.3, 3, 0.5, 3.5, 0.0),
)
HANDS = Habit("hands", 15.0, 4.0, 14, 0.35, 3.5, 0.15)
NIGHT_VISIT = Habit("a night visit", 3.0, 1.8, 0.5, 0.5, 3.5, 0.0)
WATCH_CUP = Habit("a cup for the watch", 2.5, 3.0, 3.5, 0.6, 4.5, 0.0)
LAMPS_W = {
    "saloon lamps": 10.0, "galley lamps": 8.0, "aft cabin lamps": 6.0, "fore cabin lamps": 6.0,
    "heads lamp": 2.0,
}  # fmt: skip
"""By circuit."""


class Evening(NamedTuple):
    """Circuits that are on from about that hour, for so long."""

    hour: float
    spread_h: float
    minutes: float
    circuits: tuple[str, ...]


EVENINGS = (
    Evening(7.6, 0.2, 40, ("saloon lamps", "galley lamps", "aft cabin lamps")),
    Evening(19.0, 0.3, 90, tuple(LAMPS_W)),
    Evening(20.4, 0.2, 130, ("saloon lamps", "aft cabin lamps", "fore cabin lamps")),
)
UNDER_WAY = {"shower": 0.25, "supper dishes": 0.6, "breakfast dishes": 0.5, "lunch dishes": 0.5, "hands": 0.7}
"""How much less of it under way, where fresh water is for drinking."""


class Household:
    """The same seed gives the same people on every voyage."""

    def __init__(self, seed: int) -> None:
        self._seed = seed
        people = np.random.default_rng([seed, 1])
        self._litres = float(people.normal(1.0, 0.08))
        self._late_h = float(people.normal(0.0, 0.4))

    def day(self, number: int, midnight_s: float, place: str, watches: bool) -> DayPlan:
        """That day's plan; depends on nothing but seed, number and the arguments."""
        rng = np.random.default_rng([self._seed, 2, number + 1000])
        plan = DayPlan()
        if place == "at anchor" and rng.random() < 0.4:
            start = midnight_s + rng.normal(14.6, 0.5) * HOUR_S
            plan.away = (start, start + rng.uniform(1.5, 3.5) * HOUR_S)
        under_way = place in ("sailing", "motoring") or watches
        for habit in (*HABITS, HANDS, WATCH_CUP if watches else NIGHT_VISIT):
            share = UNDER_WAY.get(habit.what, 1.0) if under_way else 1.0
            plan.draws += self._draws(rng, habit, midnight_s, share, plan.away)
        plan.draws.sort()
        lamps = np.random.default_rng([self._seed, 19, number + 1000])
        plan.uses = sorted(self._uses(rng, lamps, midnight_s, watches, plan.away))
        return plan

    def guests(self, number: int, midnight_s: float, heads: int) -> list[Draw]:
        """What so many more draw on that day, beside the three and without moving them."""
        rng = np.random.default_rng([self._seed, 18, number + 1000])
        draws = [
            draw
            for habit in (*HABITS, HANDS, NIGHT_VISIT)
            for draw in self._draws(rng, habit, midnight_s, heads / HEADS, None)
        ]
        return sorted(draws)

    def _draws(
        self,
        rng: np.random.Generator,
        habit: Habit,
        midnight_s: float,
        share: float,
        away: tuple[float, float] | None,
    ) -> list[Draw]:
        times = int(habit.times) if habit.times >= 1.5 and share == 1.0 else rng.poisson(habit.times * share)
        start_s = midnight_s + (habit.hour + self._late_h + rng.normal(0, 0.2)) * HOUR_S
        draws = []
        for _ in range(times):
            at = start_s + rng.normal(0, habit.spread_h) * HOUR_S
            if away is not None and away[0] <= at < away[1]:
                continue
            litres = habit.litres * self._litres * rng.lognormal(-0.03, 0.25)
            draws.append(Draw(round(at, 3), litres, habit.L_per_min * rng.uniform(0.8, 1.2), habit.hot))
        return draws

    def _uses(
        self,
        rng: np.random.Generator,
        lamps: np.random.Generator,
        midnight_s: float,
        watches: bool,
        away: tuple[float, float] | None,
    ) -> Iterator[Use]:
        def use(hour: float, spread_h: float, minutes: float, watts: float, supply: str, what: str) -> Use:
            start = midnight_s + (hour + self._late_h + rng.normal(0, spread_h)) * HOUR_S
            return Use(start, start + 60 * minutes * rng.lognormal(0, 0.15), watts, supply, what)

        yield use(8.0, 0.2, 6, 900, "ac", "coffee machine")
        yield use(14.2, 0.4, 5, 900, "ac", "coffee machine")
        evenings = [use(e.hour, e.spread_h, e.minutes, 0, "dc", "") for e in EVENINGS]
        yield from _lamps(lamps, evenings)
        if watches:
            yield use(1.0, 0.5, 300, 5, "dc", "chart table light")
        for _ in range(2 if away is None else 1):
            yield use(10.5, 1.2, 90, 48, "ac", "laptop")
            yield use(16.5, 1.2, 60, 48, "ac", "laptop")
        if rng.random() < 0.4:
            yield use(12.7, 0.3, 7, 1100, "ac", "microwave oven")
        for n in range(3):
            yield use(21.5 + n / 3, 0.5, 95, 9, "dc", "telephone charger")


def _lamps(rng: np.random.Generator, evenings: list[Use]) -> Iterator[Use]:
    """Each circuit a little earlier or later than the others; one that is still on is not switched on again
    but burns on for as long as it would have."""
    for circuit, watts in LAMPS_W.items():
        burning: Use | None = None
        for evening, when in zip(EVENINGS, evenings, strict=True):
            if circuit not in evening.circuits:
                continue
            start_s = when.start_s + rng.normal(0, 5) * 60
            end_s = start_s + (when.end_s - when.start_s) * rng.lognormal(-0.02, 0.2)
            if burning and start_s < burning.end_s:
                burning = burning._replace(end_s=burning.end_s + end_s - start_s)
                continue
            if burning:
                yield burning
            burning = Use(start_s, end_s, watts, "dc", circuit)
        if burning:
            yield burning
