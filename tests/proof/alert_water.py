"""A year of water aboard, truly: an independent household's runs, washing down, hoses and cans."""

from bisect import bisect_right
from typing import Any

import numpy as np

from monitor.records import Estimate, Reason
from tests.estimation.water.household import Habits, Plumbing
from tests.estimation.water.watching import Watch
from tests.proof.alert_boat import DAY_S, HOUR_S, TANK_L, UNUSABLE_L
from tests.proof.alert_power import Floats, Powered

RESERVE_L = 41.0


class Judged(Watch):
    """The independent household's leak judge, with every change of its verdict."""

    def __init__(self, seed: int, plumbing: Plumbing, habits: Habits) -> None:
        super().__init__(seed, plumbing, habits)
        self.told: list[tuple[float, tuple[str, Reason], Estimate | None]] = []

    def _listen(self, at_s: float) -> None:
        super()._listen(at_s)
        self.note(at_s)

    def note(self, at_s: float) -> None:
        leak = next((e for e in self.judge.estimates(at_s) if e.name == "leak_L_per_h"), None)
        self.told.append((at_s, self.judge.verdict(), leak))


class Watered(Powered):
    """The same boat's water."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        rng = self.rng
        self.heads = int(rng.integers(2, 5))
        plumbing = Plumbing(heater_L=float(rng.choice((0.0, 20.0, 40.0))), air_K=float(rng.uniform(-8, 8)))
        self.water = Judged(seed, plumbing, Habits(self.heads, float(rng.uniform(1, 2)), lone=0.15))
        self.litres = 350.0
        self.a_day_L = 14.0 * self.heads
        self.runs: list[tuple[float, float]] = []
        """Of the day."""
        self._pumped: Floats = np.zeros(1)
        self._morning_L = self._fill_L = 0.0
        self._fill_s = float("inf")
        self.more_L_per_h, self.sealed = 0.0, False
        """What a fault loses; nobody fetches water."""

    def _plan_water(self, start_s: float) -> None:
        rng, water = self.rng, self.water
        runs: list[tuple[float, float]] = []
        watch_runs = water.house.day

        def listened() -> Any:
            found = watch_runs()
            runs.extend((run.start_s, run.end_s) for run in found[0])
            return found

        water.house.day = listened  # type: ignore[method-assign]
        water.day()
        water.house.day = watch_runs  # type: ignore[method-assign]
        water.note(start_s + DAY_S - 1)
        if self.place == "alongside" and rng.random() < 0.35:  # Washing down.
            at_s = start_s + rng.uniform(9, 18) * HOUR_S
            runs.append((at_s, at_s + min(900.0, rng.lognormal(np.log(180), 0.5))))
        runs.sort()
        merged: list[tuple[float, float]] = []
        for begin, end in runs:
            if merged and begin <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
            else:
                merged.append((begin, end))
        self.runs = merged
        self._pumped = np.cumsum([0.0, *((end - begin) * 11 / 60 for begin, end in merged)])
        self.a_day_L += 0.03 * (float(self._pumped[-1]) - self.a_day_L)
        self._morning_L = self.litres
        wants = (self.place == "alongside" and self.litres < 330) or self.litres < rng.uniform(110, 230)
        able = self.place != "sailing" and (self.place == "alongside" or rng.random() < 0.8)
        self._fill_s = (
            start_s + rng.uniform(9, 17) * HOUR_S if wants and able and not self.sealed else float("inf")
        )
        self._fill_L = 405 - self.litres if self.place == "alongside" else rng.uniform(80, 200)

    def _water_at(self, at_s: float) -> float:
        """Usable litres, truly."""
        n = bisect_right(self.runs, (at_s, float("inf")))
        gone = float(self._pumped[n])
        if n and self.runs[n - 1][1] > at_s:
            gone -= (self.runs[n - 1][1] - at_s) * 11 / 60
        filled = self._fill_L * min(1.0, max(0.0, at_s - self._fill_s) / max(60.0, self._fill_L * 5))
        lost = max(0.0, at_s - max(self.fault_s, self.days * DAY_S)) / HOUR_S * self.more_L_per_h
        return min(TANK_L - UNUSABLE_L, max(0.0, self._morning_L - gone + filled - lost))

    def _water_days(self, at_s: float, litres: float) -> float:
        """To the reserve, nine chances in ten, of who knows what is used. [days]"""
        a_day = self.a_day_L + (24 * self.more_L_per_h if self.fault_s <= at_s else 0.0)
        return max(0.0, litres - RESERVE_L) / a_day / 1.2
