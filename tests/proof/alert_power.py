"""A year of power aboard, truly: what is used by the hour, what sun, engine and shore give, what is left.

Booked every 173 s. Use by the hour, fridge, kettle and tools on the inverter; a sky that remembers
yesterday's; an engine that is run when little is left, or now and then under sail; the shore alongside. A
voltage is an open circuit's by the charge, and a resistance.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from tests.proof.alert_boat import BED_H, CAPACITY_AH, DAY_S, HOUR_S, UP_H

Floats = npt.NDArray[np.float64]
STEP_S, STEPS = 172.8, 500
BANK_V, RESERVE = 12.8, 0.20
CAPACITY_WH = CAPACITY_AH * BANK_V
HORIZON_H = 240
OCV = (
    (0.0, 0.03, 0.06, 0.1, 0.2, 0.3, 0.4, 0.65, 0.9, 0.97, 1.0),
    (10.8, 12.0, 12.5, 12.8, 12.96, 13.05, 13.12, 13.2, 13.3, 13.34, 13.6),
)
"""Open circuit voltage of four LFP cells over charge. Common practice, read off makers' curves."""
OHM = 0.004


class Powered:
    """One boat, day by day. Times are seconds since her first midnight."""

    def __init__(self, seed: int) -> None:
        self.rng = rng = np.random.default_rng([7, seed])
        self.days = 0
        self.place, self.stays = "at anchor", 4
        self.use_W = float(rng.uniform(40, 70))
        self._dark_day = float(rng.uniform(0, 365))
        self.charge_at, self.forgets = float(rng.uniform(0.42, 0.6)), 0.05
        self.share = float(rng.uniform(0.6, 0.95))
        self.full_s, self.off_at_full = 0.0, 0.0
        """The latest full charge, and how far off what was called full lay. [%]"""
        self.sky = 0.7
        self._engine_until_s = -1.0
        self.asked = False
        """The crew was told to charge."""
        self.more_W, self.fault_s = 0.0, float("inf")
        """What a fault takes, and from when on."""

    def _plan_place(self) -> None:
        self.stays -= 1
        if self.stays < 0:
            chances = {"at anchor": (0.0, 0.6, 0.4), "sailing": (0.7, 0.0, 0.3), "alongside": (0.5, 0.5, 0.0)}
            places = ("at anchor", "sailing", "alongside")
            self.place = str(self.rng.choice(places, p=chances[self.place]))
            longest = {"at anchor": 12, "sailing": 3, "alongside": 6}[self.place]
            self.stays = int(self.rng.integers(0, longest))

    def _plan_power(self, start_s: float) -> tuple[Floats, Floats]:
        rng, hours = self.rng, np.arange(0.0, STEPS) * STEP_S / HOUR_S
        evening = np.where((hours > 18.5) & (hours < 23), 35.0, 0.0)
        way = 45.0 if self.place == "sailing" else 0.0
        phase, cycle = rng.uniform(0, 40), rng.uniform(30, 45)
        fridge = np.where(((hours * 60 + phase) % cycle) < cycle * rng.uniform(0.3, 0.5), 65.0, 0.0)
        use_W = 0.55 * self.use_W + evening + way + fridge
        for hour in rng.uniform(7, 22, rng.integers(2, 7)):  # Kettle, toaster, tools on the inverter.
            first = int(hour * HOUR_S / STEP_S)
            use_W[first : first + int(rng.integers(1, 4))] += rng.uniform(600, 1900)
        self.sky = float(np.clip(0.6 + 0.75 * (self.sky - 0.6) + rng.normal(0, 0.18), 0.08, 1.0))
        clouds = np.clip(self.sky + np.repeat(rng.normal(0, 0.12, STEPS // 5), 5), 0.03, 1.0)
        return use_W, 470.0 * self._clear(hours, start_s / DAY_S) * clouds

    def _clear(self, hours: npt.NDArray[np.floating[Any]], day: float) -> Floats:
        """Share of the panels' best under a clear sky at 42.5 N, by the sun's height. [-]"""
        declination = np.radians(23.44) * np.sin(2 * np.pi * (day + self._dark_day) / 365)
        high = np.sin(np.radians(42.5)) * np.sin(declination) + np.cos(np.radians(42.5)) * np.cos(
            declination
        ) * np.cos((hours - 12.6) * np.pi / 12)
        clear: Floats = np.maximum(0.0, high) ** 1.15
        return clear

    def _power(self, at_s: float, use_W: float, sun_W: float) -> float:
        """Book a step; the bank's current. [A]"""
        hour = at_s % DAY_S / HOUR_S
        lasts = use_W + (self.more_W if at_s >= self.fault_s else 0.0)
        given = sun_W
        if self.place == "alongside":
            given += 1000.0
        elif 8.0 <= hour < 8.05 and self.share < self.charge_at and self.rng.random() > self.forgets:
            self._engine_until_s = at_s + self.rng.uniform(1.5, 2.5) * HOUR_S
        elif self.asked and UP_H <= hour < BED_H - 1:
            self._engine_until_s, self.asked = at_s + 2.5 * HOUR_S, False
        elif self.place == "sailing" and self.rng.random() < 0.0012:
            self._engine_until_s = at_s + self.rng.uniform(0.5, 2.0) * HOUR_S
        if at_s < self._engine_until_s:
            given += 900.0
        net_W = given - lasts
        if net_W > 0 and self.share > 0.95:
            net_W *= max(0.0, (1.0 - self.share) / 0.05)
        self.share = min(1.0, max(0.0, self.share + net_W * STEP_S / 3600 / CAPACITY_WH))
        if self.share > 0.992 and given > 100.0:
            self.full_s, self.off_at_full = at_s, float(self.rng.normal(0, 0.5))
        return net_W / BANK_V

    def _sags(self, start_s: float) -> list[tuple[float, float, float]]:
        """Windlass and big starts: from, until, amperes."""
        found = []
        for hour in self.rng.uniform(8, 21, 2 if self.stays == 0 else 1):
            at_s = start_s + hour * HOUR_S
            found.append((at_s, at_s + self.rng.uniform(2, 90), self.rng.uniform(60, 160)))
        return found

    def _energy_days(self, at_s: float, share: float) -> float:
        """To the reserve, nine chances in ten, of who knows use, sky and season. Alongside, the shore gives
        what is used. [days]"""
        if self.place == "alongside":
            return 9.0
        use_W = 0.55 * self.use_W + 33.0 + (45.0 if self.place == "sailing" else 0.0) + 15.0
        if at_s >= self.fault_s:
            use_W += self.more_W
        hours = at_s % DAY_S / HOUR_S + np.arange(1.0, HORIZON_H + 1)
        sun = 470.0 * self._clear(hours % 24, at_s / DAY_S) * (0.6 + (self.sky - 0.6) * 0.75 ** (hours / 24))
        net = np.cumsum(sun - use_W) / CAPACITY_WH
        net -= 1.28 * 0.25 * use_W * 24 * np.sqrt(np.arange(1, HORIZON_H + 1) / 24) / CAPACITY_WH
        left = net + np.minimum(share, np.minimum.accumulate(1.0 - net))
        below = left < RESERVE
        return float(np.argmax(below) / 24) if below.any() else HORIZON_H / 24
