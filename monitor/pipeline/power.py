"""Minute by minute: what went into and out of the house banks, and what the chargers made."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from monitor.clock import DAY_S, MINUTE_S
from monitor.estimation.integral import held
from monitor.records import Column
from monitor.routing.slots import Slots
from monitor.settings import Settings

KEPT_MINUTES = 2 * DAY_S // MINUTE_S


class MinuteSum(NamedTuple):
    """One minute of the house: made_Wh - used_Wh = net_Wh."""

    at_s: float
    net_Wh: float
    made_Wh: float
    estimated: bool
    """What was made is not metered in full: it is at least what went into the banks."""
    covered_s: float


@dataclass(slots=True)
class _Meter:
    """One reading that holds from minute to minute."""

    last: float = np.nan
    heard_at_s: float = -np.inf

    def mean(self, column: Column | None, start_s: float, silent_after_s: float) -> tuple[float, float]:
        """Mean over the minute, and how much of it was covered [s]; (0, 0) where nothing is known."""
        before = self.last if start_s - self.heard_at_s <= silent_after_s else np.nan
        if column is None:
            return (before, MINUTE_S) if before == before else (0.0, 0.0)
        integral, covered_s = held(column, start_s, start_s + MINUTE_S, before)
        self.last, self.heard_at_s = column.values[-1], column.times_s[-1]
        return (integral / covered_s if covered_s > 0 else 0.0), covered_s


class PowerMinutes:
    """Sums every minute; keeps the last two days of them for the night's ledger."""

    def __init__(self, settings: Settings) -> None:
        self._banks = [b.name for b in settings.banks if b.role == "house"]
        self._volts_of = {b.name: b.nominal_V for b in settings.banks}
        self._chargers = [c for c in settings.chargers if c.into in self._banks]
        self._loads = [load.name for load in settings.loads]
        self.load_Wh: dict[str, dict[int, float]] = {name: {} for name in self._loads}
        """What each metered load took, by minute of the boot, for the kept days."""
        self.made_Wh: dict[str, dict[int, float]] = {c.name: {} for c in self._chargers}
        """And what each metered charger made."""
        self._meters: dict[str, _Meter] = {}
        self.latest: MinuteSum | None = None
        self.lowest_V: dict[str, dict[int, float]] = {b.name: {} for b in settings.banks}
        """By bank and minute of the boot, for the kept days."""
        self._sums: dict[int, MinuteSum] = {}

    def minute(self, columns: Mapping[str, Column], slots: Slots, start_s: float) -> MinuteSum | None:
        """Sum one minute; None where nothing was heard of the house banks' current."""
        self._note_lowest(columns, start_s)
        net_Wh, covered_s = 0.0, float(MINUTE_S)
        for bank in self._banks:
            amps, heard_s = self._mean(f"{bank} current", columns, slots, start_s)
            volts, volts_s = self._mean(f"{bank} voltage", columns, slots, start_s)
            if volts_s == 0.0:
                volts = self._volts_of[bank]
            net_Wh += amps * volts * heard_s / 3600
            covered_s = min(covered_s, heard_s)
        self._note_loads(columns, slots, start_s)
        if not self._banks or covered_s <= 0:
            self.latest = None
            return None
        metered_Wh, all_metered = self._made(columns, slots, start_s)
        made_Wh = max(metered_Wh, net_Wh, 0.0)
        # A meter's own error is no sign of a charger that nobody measures.
        estimated = not all_metered or net_Wh > metered_Wh * 1.05 + 0.5
        self.latest = MinuteSum(start_s, net_Wh, made_Wh, estimated and net_Wh > 0, covered_s)
        self.keep(self.latest)
        return self.latest

    def keep(self, minute: MinuteSum) -> None:
        index = int(minute.at_s // MINUTE_S)
        self._sums[index] = minute
        self._sums.pop(index - KEPT_MINUTES, None)

    def between(self, start_s: float, end_s: float) -> Iterator[MinuteSum]:
        """The minutes that were heard in a span of this boot's elapsed time, in order."""
        for index in range(int(np.ceil(start_s / MINUTE_S)), int(end_s // MINUTE_S)):
            minute = self._sums.get(index)
            if minute is not None:
                yield minute

    def lowest_between(self, start_s: float, end_s: float) -> dict[str, float]:
        """Each bank's lowest voltage in a span, where it was heard."""
        found = {}
        for bank, minutes in self.lowest_V.items():
            seen = [v for index, v in minutes.items() if start_s <= index * MINUTE_S < end_s]
            if seen:
                found[bank] = min(seen)
        return found

    def new_boot(self) -> None:
        """Elapsed time began anew: nothing kept belongs to it."""
        self._sums.clear()
        self._meters.clear()
        for minutes in (*self.lowest_V.values(), *self.load_Wh.values(), *self.made_Wh.values()):
            minutes.clear()

    def _made(self, columns: Mapping[str, Column], slots: Slots, start_s: float) -> tuple[float, bool]:
        """What the house's chargers made by their own meters [Wh], and whether all have one."""
        total_Wh, all_metered = 0.0, True
        for charger in self._chargers:
            metered_Wh = self._metered_Wh(charger.name, charger.into, columns, slots, start_s)
            index = int(start_s // MINUTE_S)
            if metered_Wh is not None:
                self.made_Wh[charger.name][index] = metered_Wh
            self.made_Wh[charger.name].pop(index - KEPT_MINUTES, None)
            # A charger that says nothing is taken to be off: what it makes shows in the banks.
            total_Wh += metered_Wh or 0.0
            all_metered = all_metered and metered_Wh is not None
        return total_Wh, all_metered

    def _metered_Wh(
        self, name: str, bank: str, columns: Mapping[str, Column], slots: Slots, start_s: float
    ) -> float | None:
        """What flowed through a meter, by its power or its current; None where it has neither."""
        if f"{name} power" in slots:
            watts, heard_s = self._mean(f"{name} power", columns, slots, start_s)
        elif f"{name} current" in slots:
            amps, heard_s = self._mean(f"{name} current", columns, slots, start_s)
            volts, volts_s = self._mean(f"{name} voltage", columns, slots, start_s)
            if volts_s == 0.0:
                volts, _ = self._mean(f"{bank} voltage", {}, slots, start_s)
            watts = amps * volts
        else:
            return None
        return max(watts, 0.0) * heard_s / 3600

    def _note_loads(self, columns: Mapping[str, Column], slots: Slots, start_s: float) -> None:
        index = int(start_s // MINUTE_S)
        bank = self._banks[0] if self._banks else ""
        for name, minutes in self.load_Wh.items():
            taken_Wh = self._metered_Wh(name, bank, columns, slots, start_s)
            if taken_Wh is not None:
                minutes[index] = taken_Wh
            minutes.pop(index - KEPT_MINUTES, None)

    def _mean(
        self, name: str, columns: Mapping[str, Column], slots: Slots, start_s: float
    ) -> tuple[float, float]:
        slot = slots.get(name)
        if slot is None:
            return 0.0, 0.0
        meter = self._meters.setdefault(name, _Meter())
        return meter.mean(columns.get(name), start_s, slot.channel.quantity.silent_after_s)

    def _note_lowest(self, columns: Mapping[str, Column], start_s: float) -> None:
        index = int(start_s // MINUTE_S)
        for bank, minutes in self.lowest_V.items():
            column = columns.get(f"{bank} voltage")
            low = min((v for v in column.values if v == v), default=None) if column is not None else None
            if low is not None:
                minutes[index] = low
            minutes.pop(index - KEPT_MINUTES, None)
