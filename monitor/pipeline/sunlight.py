"""What the sun made in a minute, and whether the house banks took all they were offered."""

from collections.abc import Mapping

import numpy as np

from monitor.clock import MINUTE_S
from monitor.estimation.charge import ChargeTracker
from monitor.estimation.integral import held
from monitor.estimation.sun import sine_of_elevation
from monitor.records import Column
from monitor.settings import Bank, Settings

FULL_SHARE, LEAVES_SHARE = 0.97, 0.90
"""From here on a bank takes what it pleases, and until there. Common practice for a held voltage."""
_TWILIGHT = 0.05
"""Sine of the sun's height, 3 degrees: a sun meter that is silent under a lower sun has nothing to tell."""
_HOLDS_S = 90.0
_HALF_STEP_V = 0.005


class Sunlight:
    """Sums the meters of the sun chargers that go into the house banks."""

    def __init__(self, settings: Settings) -> None:
        self._house = [b for b in settings.banks if b.role == "house"]
        volts_of = {b.name: b.nominal_V for b in self._house}
        self._arrays = [c for c in settings.chargers if c.kind == "sun" and c.into in volts_of]
        self._volts_of = volts_of
        self._held: set[str] = set()
        """Banks that hold their chargers back."""
        self._last: dict[str, tuple[float, float]] = {}
        """The newest watts of each array, and when."""

    def Wh(
        self, columns: Mapping[str, Column], start_s: float, utc_s: float, position: tuple[float, float]
    ) -> float | None:
        """What they made in the minute; None where there is no array, or one is silent by day."""
        found = [self._one(c.name, c.into, columns, start_s) for c in self._arrays]
        if not found:
            return None
        if None in found and float(sine_of_elevation(*position, np.array([utc_s]))[0]) > _TWILIGHT:
            return None
        return sum(Wh for Wh in found if Wh is not None)

    def _one(self, name: str, bank: str, columns: Mapping[str, Column], start_s: float) -> float | None:
        power = columns.get(f"{name} power")
        volts = 1.0
        if power is None:
            power = columns.get(f"{name} current")
            volts = _mean(columns.get(f"{name} voltage")) or _mean(columns.get(f"{bank} voltage")) or (
                self._volts_of[bank]
            )  # fmt: skip
        last_W, last_s = self._last.get(name, (np.nan, -np.inf))
        before_W = last_W if start_s - last_s <= _HOLDS_S else np.nan
        if power is None:
            return None if np.isnan(before_W) else max(before_W, 0.0) / 60
        integral, covered_s = held(power, start_s, start_s + MINUTE_S, before_W / volts)
        self._last[name] = (power.values[-1] * volts, power.times_s[-1])
        return None if covered_s <= 0 else max(integral / covered_s * volts, 0.0) / 60

    def full(self, columns: Mapping[str, Column], trackers: Mapping[str, ChargeTracker], at_s: float) -> bool:
        """Every house bank stands at its full voltage or is full by count: a charger then gives what
        the bank takes, not what it could."""
        each = [self._is_full(bank, columns, trackers[bank.name], at_s) for bank in self._house]
        return bool(each) and all(each)

    def _is_full(
        self, bank: Bank, columns: Mapping[str, Column], tracker: ChargeTracker, at_s: float
    ) -> bool:
        """From its full voltage, or full by count, on: on float too, until it is down to 90 % or takes
        more than a tail again."""
        volts, amps = (_mean(columns.get(f"{bank.name} {what}")) for what in ("voltage", "current"))
        left = tracker.posterior(at_s)
        share = None if left is None else left[0] / bank.nominal_Wh
        at_voltage = volts is not None and volts >= bank.full_voltage_V - _HALF_STEP_V
        if at_voltage or (share is not None and share >= FULL_SHARE):
            self._held.add(bank.name)
        elif share is None or share < LEAVES_SHARE or (amps or 0.0) > bank.tail_current_A:
            self._held.discard(bank.name)
        return bank.name in self._held

    def new_boot(self) -> None:
        self._last.clear()
        self._held.clear()


def _mean(column: Column | None) -> float | None:
    known = [v for v in column.values if v == v] if column is not None else []
    return sum(known) / len(known) if known else None
