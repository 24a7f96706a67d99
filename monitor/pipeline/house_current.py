"""The house banks' readings of the last day and a half at full rate, for the naming of loads."""

from array import array
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from monitor.clock import HOUR_S, Boot, Interval
from monitor.estimation.loads.trace import Floats
from monitor.records import Column
from monitor.settings import Settings
from monitor.storage.history import History

KEPT_S = 32 * HOUR_S
TRIM_S = HOUR_S
NONE = (np.empty(0), np.empty(0))


class _Kept(NamedTuple):
    times_s: "array[float]"
    values: "array[float]"


class HouseCurrent:
    """By channel, in the boot's elapsed time; `samples` answers in UTC, like the stored history."""

    def __init__(self, settings: Settings) -> None:
        names = [bank.name for bank in settings.banks if bank.role == "house"]
        names += [thing.name for thing in (*settings.chargers, *settings.loads)]
        self._kept = {
            f"{name} {quantity}": _Kept(array("d"), array("d"))
            for name in names
            for quantity in ("current", "voltage", "power", "running")
        }
        self._trimmed_s = 0.0
        self._boot = Boot(0)

    def minute(self, columns: Mapping[str, Column], at_s: float, boot: Boot) -> None:
        """Keep a minute's readings."""
        self._boot = boot
        for channel, kept in self._kept.items():
            column = columns.get(channel)
            if column is not None:
                kept.times_s.extend(column.times_s)
                kept.values.extend(column.values)
        if at_s - self._trimmed_s >= TRIM_S:
            self._trimmed_s = at_s
            for kept in self._kept.values():
                old = int(np.searchsorted(np.asarray(kept.times_s), at_s - KEPT_S))
                del kept.times_s[:old], kept.values[:old]

    def new_boot(self) -> None:
        """Elapsed time began anew: nothing kept belongs to it."""
        for kept in self._kept.values():
            del kept.times_s[:], kept.values[:]
        self._trimmed_s = 0.0

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        """UTC seconds and values."""
        kept = self._kept.get(channel)
        middle_s = self._boot.elapsed_s(during.start_s)
        if kept is None or not kept.times_s or middle_s is None:
            return NONE
        # Within a day and a half a clock goes wrong by seconds, the same for all channels.
        off_s = during.start_s - middle_s
        times = np.array(kept.times_s) + off_s
        first, last = np.searchsorted(times, (during.start_s, during.end_s))
        return times[first:last], np.array(kept.values[first:last])

    def prefill(self, boot: Boot, history: History, until_utc_s: float) -> None:
        """What was stored of the last day and a half, in this boot's elapsed time."""
        self._boot = boot
        for channel, kept in self._kept.items():
            utc_s, values = history.samples(channel, Interval(until_utc_s - KEPT_S, until_utc_s))
            first_s = boot.elapsed_s(float(utc_s[0])) if utc_s.size else None
            if first_s is not None:
                kept.times_s.extend((utc_s - utc_s[0] + first_s).tolist())
                kept.values.extend(values.tolist())
