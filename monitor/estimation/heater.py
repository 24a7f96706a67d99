"""A cooling water heater takes water back: honest pump starts that are no leak."""

from collections.abc import Sequence

from monitor.settings import Heater

COLD_C, HOT_C = 15.0, 65.0
"""What a heater goes between where its temperature is not known (common practice). [°C]"""
HEARD_S = 900.0
"""A temperature older than this no longer tells what the water is doing. [s]"""
SETTLES_S = 8 * 3600.0
"""How long after heating the refills it owes are held back. [s]"""


def density_kg_per_L(temperature_C: float) -> float:
    """Density of air-free fresh water at one atmosphere.

    Valid from 0 to 100 °C, within 0.0001 kg/L; colder and hotter readings count as those.
    Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, equation 16.
    """
    t = min(max(temperature_C, 0.0), 100.0)
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return above / (1.0 + 16.879850e-3 * t) / 1000.0


def shrinkage_L(volume_L: float, from_C: float, to_C: float) -> float:
    """Water that enters a full vessel while it goes from one temperature to another.

    dV = V (rho(to) - rho(from)) / rho(to): negative while it is heated. [L]
    """
    return volume_L * (1.0 - density_kg_per_L(from_C) / density_kg_per_L(to_C))


class HeaterVolume:
    """What one heater has taken out of the pressure system since the pump last stopped."""

    def __init__(self, heater: Heater) -> None:
        self._volume_L = heater.volume_L
        self._heard_s: float | None = None
        self._now_C: float | None = None
        self._stopped_C: float | None = None
        """The water's temperature when the pump last filled the accumulator."""
        self.owed_L = self._most_L()
        """What it may yet take back after heating that no thermometer watched. [L]"""
        self._owed_until_s: float | None = None
        self.lag_L = 0.0
        """What it gave back between the last two readings: by as much the next may be behind. [L]"""
        self.watched = False
        """Whether its temperature is known now."""

    def take(self, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        """What is known of it: its water's temperature and whether its element heats."""
        if temperature_C is not None:
            before_C = temperature_C if self._now_C is None else self._now_C
            self.lag_L = max(0.0, -shrinkage_L(self._volume_L, before_C, temperature_C))
            self._heard_s, self._now_C = at_s, temperature_C
            if not self.watched:
                self._stopped_C = temperature_C
            self.watched, self.owed_L = True, 0.0
            return
        if self.watched and self._heard_s is not None and at_s - self._heard_s > HEARD_S:
            assert self._now_C is not None
            self.watched = False
            self._owe(at_s, max(0.0, shrinkage_L(self._volume_L, self._now_C, COLD_C)))
        if not self.watched and (on or (on is None and self._cold_again(at_s))):
            self._owe(at_s, self._most_L())

    def taken_L(self) -> float:
        """Water it took since `pump_stopped`, negative where it gave back; 0 unless watched. [L]"""
        if not self.watched or self._now_C is None or self._stopped_C is None:
            return 0.0
        return shrinkage_L(self._volume_L, self._stopped_C, self._now_C)

    def pump_stopped(self) -> None:
        """The accumulator is full: count from here."""
        self._stopped_C = self._now_C

    def forgive(self, litres: float) -> None:
        """A refill that may have been its own is taken off what it owes."""
        self.owed_L = max(0.0, self.owed_L - litres)

    def settle(self, at_s: float) -> None:
        """Forget what it owes once it must be cold. An engine may heat it unseen any day."""
        if self._owed_until_s is None:
            self._owed_until_s = at_s + SETTLES_S
        elif at_s > self._owed_until_s:
            self.owed_L = 0.0

    def may_give_back(self) -> bool:
        """Whether water may be coming back from it unseen."""
        return not self.watched and self.owed_L > 0.0

    def _owe(self, at_s: float, litres: float) -> None:
        self.owed_L = max(self.owed_L, litres)
        self._owed_until_s = at_s + SETTLES_S

    def _cold_again(self, at_s: float) -> bool:
        return self._owed_until_s is None or at_s > self._owed_until_s + 2 * SETTLES_S

    def _most_L(self) -> float:
        return shrinkage_L(self._volume_L, HOT_C, COLD_C)


class Heaters:
    """All heaters of one pressure system together."""

    def __init__(self, heaters: Sequence[Heater]) -> None:
        self._each = {heater.name: HeaterVolume(heater) for heater in heaters}

    def take(self, name: str, at_s: float, temperature_C: float | None, on: bool | None) -> None:
        self._each[name].take(at_s, temperature_C, on)

    def taken_L(self) -> float:
        """Water they took since the pump stopped. [L]"""
        return sum(h.taken_L() for h in self._each.values())

    def lag_L(self) -> float:
        return sum(h.lag_L for h in self._each.values())

    def may_give_back(self) -> bool:
        return any(h.may_give_back() for h in self._each.values())

    def forgive(self, litres: float) -> None:
        """A refill that one of them may have caused."""
        next(h for h in self._each.values() if h.may_give_back()).forgive(litres)

    def pump_stopped(self) -> None:
        for heater in self._each.values():
            heater.pump_stopped()

    def settle(self, at_s: float) -> None:
        for heater in self._each.values():
            heater.settle(at_s)
