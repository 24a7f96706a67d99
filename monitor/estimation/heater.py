"""A cooling water heater takes water back: honest pump starts that are no leak.

Its water's temperature is heard, or guessed by a handful of heaters that differ in thermostat and
insulation: from the hours it is heated, and where not even those are known, as one that anything
may heat any day. What a heater took since the pump stopped is a mean and a standard deviation.
"""

from collections.abc import Sequence
from math import exp, sqrt

from monitor.clock import HOUR_S
from monitor.estimation.density import expansion_per_K, shrinkage_L
from monitor.settings import Heater

AROUND_C, COLD_C, HOT_C = 18.0, 15.0, 70.0
"""Air around a heater, and what its water goes between where nothing is known (common practice). [°C]"""
HEARD_S = 900.0
"""A reading older than this no longer tells what the water is doing. [s]"""
THERMOSTATS_C = (52.0, 60.0, 68.0)
COOLING_H = (9.0, 14.0, 22.0)
"""Time constants of cooling: thin to thick insulation, 20 to 75 L. Common practice. [h]"""
UNSEEN_SHARES = (0.0, 0.0, 0.0, 0.25, 0.25, 0.5, 0.5, 0.75, 1.0)
"""Where nothing is known: how fast it may be cooling, of the fastest that `COOLING_H[0]` allows."""
HEATS_K_PER_H = 25.0
"""How fast a heater of unknown power warms: 1.2 kW on 40 L. [K/h]"""
J_PER_L_K = 4150.0
LOSS_SHARE, READING_K = 0.12, 0.25
"""A thermometer stands in one place of a layered vessel, and its readings have steps."""


class HeaterVolume:
    """What one heater has taken out of the pressure system since the pump last stopped."""

    def __init__(self, heater: Heater) -> None:
        self._volume_L = heater.volume_L
        self._heats_K_per_h = (
            3600.0 * heater.power_W / (J_PER_L_K * heater.volume_L) if heater.power_W else HEATS_K_PER_H
        )
        self._kinds = [(top_C, hours) for top_C in THERMOSTATS_C for hours in COOLING_H]
        self._guesses_C = self._hot()
        self._stopped_C = list(self._guesses_C)
        """Each guess's water when the pump last filled the accumulator."""
        self._unseen_L = [0.0] * len(self._kinds)
        """What each took since the pump stopped while nothing was known of it."""
        self._now_s: float | None = None
        self._temperature: tuple[float, float] | None = None
        self._on: tuple[float, bool] | None = None
        self._lag_L = 0.0
        """What it gave back between the last two readings: by as much the next may be behind. [L]"""
        self._warmed_unseen = False
        self.watched = False
        """Whether its temperature is known now."""
        self.timed = False
        """Whether at least its heating hours are known now."""

    def take(self, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        """What is known of it: its water's temperature, and whether anything heats it."""
        self.settle(at_s)
        if on is not None:
            self._on = (at_s, on)
        if temperature_C is not None:
            before_C = self._guesses_C[0] if self.watched else temperature_C
            self._lag_L = max(0.0, -shrinkage_L(self._volume_L, before_C, temperature_C))
            self._temperature = (at_s, temperature_C)
            self._guesses_C = [temperature_C] * len(self._kinds)
        self._know(at_s)

    def settle(self, at_s: float) -> None:
        """Time has come to `at_s`."""
        if self._now_s is None:
            self._now_s = at_s
        hours = (at_s - self._now_s) / HOUR_S
        if hours <= 0:
            return
        self._now_s = at_s
        self._know(at_s)
        if self.watched:
            return
        if not self.timed:
            fastest = expansion_per_K(60.0) * (60.0 - AROUND_C) / COOLING_H[0] * self._volume_L
            for n, share in enumerate(UNSEEN_SHARES):
                self._unseen_L[n] += share * fastest * hours
            self._warmed_unseen = True
        elif self.heating_unseen:
            self._warmed_unseen = True
            step_K = self._heats_K_per_h * hours
            self._guesses_C = [
                min(top_C, t + step_K) if t < top_C else t
                for t, (top_C, _) in zip(self._guesses_C, self._kinds, strict=True)
            ]
        else:
            self._guesses_C = [
                AROUND_C + (t - AROUND_C) * exp(-hours / constant_h)
                for t, (_, constant_h) in zip(self._guesses_C, self._kinds, strict=True)
            ]

    def _know(self, at_s: float) -> None:
        """What is known now; hours heard after a silence begin with a hot heater."""
        watched, timed = self.watched, self.timed
        self.watched = self._temperature is not None and at_s - self._temperature[0] <= HEARD_S
        self.timed = self._on is not None and at_s - self._on[0] <= HEARD_S
        if self.timed and not self.watched and not (watched or timed):
            self._guesses_C = self._hot()
            self._stopped_C = list(self._guesses_C)

    def _hot(self) -> list[float]:
        return [top_C for top_C, _ in self._kinds]

    @property
    def heating_unseen(self) -> bool:
        """It is being heated, and to what is not known."""
        return not self.watched and self.timed and self._on is not None and self._on[1]

    def taken_L(self) -> tuple[float, float]:
        """Water it took since `pump_stopped`, negative where it gave back: likely, and how sure. [L]"""
        if self.watched and self._stopped_C[0] == self._stopped_C[-1] and not self._warmed_unseen:
            likely = shrinkage_L(self._volume_L, self._stopped_C[0], self._guesses_C[0])
            spread = 0.0
        else:
            each = [
                shrinkage_L(self._volume_L, before, now) + unseen
                for before, now, unseen in zip(self._stopped_C, self._guesses_C, self._unseen_L, strict=True)
            ]
            likely = sum(each) / len(each)
            spread = sum((v - likely) ** 2 for v in each) / len(each)
        reading_L = READING_K * 4.5e-4 * self._volume_L
        return likely, sqrt(spread + (LOSS_SHARE * likely) ** 2 + reading_L**2)

    def given_back_L(self) -> float:
        """The most it may have given back since the pump stopped. [L]"""
        if self._warmed_unseen:
            return -shrinkage_L(self._volume_L, COLD_C, HOT_C)
        return self._lag_L + max(0.0, -self.taken_L()[0])

    def pump_stopped(self) -> None:
        """The accumulator is full: count from here."""
        self._stopped_C = list(self._guesses_C)
        self._unseen_L = [0.0] * len(self._kinds)
        self._warmed_unseen = not self.watched and (not self.timed or self.heating_unseen)


class Heaters:
    """All heaters of one pressure system together."""

    def __init__(self, heaters: Sequence[Heater]) -> None:
        self._each = {heater.name: HeaterVolume(heater) for heater in heaters}

    def take(self, name: str, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        self._each[name].take(at_s, temperature_C, on)

    def taken_L(self) -> tuple[float, float]:
        """Water they took since the pump stopped: likely, and its standard deviation. [L]"""
        if not self._each:
            return 0.0, 0.0
        each = [h.taken_L() for h in self._each.values()]
        return sum(likely for likely, _ in each), sqrt(sum(sd * sd for _, sd in each))

    def given_back_L(self) -> float:
        return sum(h.given_back_L() for h in self._each.values())

    def heating_unseen(self) -> bool:
        """Whether one is heated to where nobody knows: what it gives back hides any leak."""
        return any(h.heating_unseen for h in self._each.values())

    def guessed(self) -> bool:
        """Whether one is known by its heating hours alone."""
        return any(h.timed and not h.watched for h in self._each.values())

    def unknown(self) -> bool:
        """Whether one may be heated or cool without anybody knowing."""
        return any(not h.watched and (not h.timed or h.heating_unseen) for h in self._each.values())

    def pump_stopped(self) -> None:
        for heater in self._each.values():
            heater.pump_stopped()

    def settle(self, at_s: float) -> None:
        for heater in self._each.values():
            heater.settle(at_s)
