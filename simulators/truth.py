"""The truth about a voyage, kept as it is lived: lines for tests of what the watch believes.

Every ten minutes what is left, made and used; every event with its own time; every night's sums, and what
each appliance took of them.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.estimation.sun import darkness
from simulators.power import Electrics
from simulators.stretch import Truth
from simulators.trace import Trace

Floats = NDArray[np.float64]

EVERY_S = 600.0
NOMINAL_V = 12.8


def iso(utc_s: float) -> str:
    """UTC to the millisecond, as the report writes it."""
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Meters:
    """Sums that only grow, readable at any moment of one stretch: Wh used and made, L taken and leaked; and
    the watt-hours by what took them."""

    def __init__(
        self,
        start_s: float,
        electrics: Electrics,
        water: Trace,
        took: Mapping[str, Floats],
        before: "Sums | None",
    ) -> None:
        seconds = start_s + np.arange(len(electrics.bank_V) + 1.0)
        made_W = electrics.sun_W + electrics.alternator_W + electrics.charger_W
        sums, by = before or Sums({"used_Wh": 0.0, "made_Wh": 0.0}, {})
        self._lines = {
            "used_Wh": (seconds, sums["used_Wh"] + _sums_Wh(electrics.load_W)),
            "made_Wh": (seconds, sums["made_Wh"] + _sums_Wh(made_W)),
            "water_L": (np.array(water.times_s), np.array(water.sums["taken_L"])),
            "leaked_L": (np.array(water.times_s), np.array(water.sums["leaked_L"])),
        }
        self._before = by
        self._by = {what: (seconds, by.get(what, 0.0) + _sums_Wh(watts)) for what, watts in took.items()}

    def at(self, utc_s: float) -> "Sums":
        of = {name: float(np.interp(utc_s, *line)) for name, line in self._lines.items()}
        return Sums(
            of, self._before | {what: float(np.interp(utc_s, *line)) for what, line in self._by.items()}
        )


class Sums(NamedTuple):
    """What stood on the meters at a moment."""

    of: dict[str, float]
    by_Wh: dict[str, float]

    def since(self, earlier: "Sums") -> "Sums":
        return Sums(*(
            {name: round(value - then.get(name, 0.0), 3) for name, value in now.items()}
            for now, then in zip(self, earlier, strict=True)
        ))  # fmt: skip


def _sums_Wh(watts: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(watts))) / 3600


def _banks(electrics: Electrics, second: int, usable_Ah: float, buffer_Ah: float, help_W: float) -> Truth:
    """Both banks at that second: what is left in the house, and how long the buffer lasts at the pace of
    the last ten minutes."""
    charge_pct = float(electrics.charge_pct[second])
    buffer_left_Ah = float(electrics.buffer_Ah[second])
    drawn_A = -float(electrics.buffer_A[max(0, second - int(EVERY_S) + 1) : second + 1].mean())
    return {
        "charge_pct": round(charge_pct, 3),
        "left_Wh": round(charge_pct / 100 * usable_Ah * NOMINAL_V, 1),
        "bank_V": round(float(electrics.bank_V[second]), 3),
        "bank_A": round(float(electrics.bank_A[second]), 2),
        "cells_V": [round(float(volts), 4) for volts in electrics.cells_V[:, second]],
        "coldest_C": round(float(electrics.coldest_C[second]), 2),
        "contactor_closed": bool(electrics.closed[second]),
        "buffer_V": round(float(electrics.buffer_V[second]), 3),
        "buffer_pct": round(100 * buffer_left_Ah / buffer_Ah, 2),
        "buffer_hours": round(max(0.0, buffer_left_Ah) / drawn_A, 3) if drawn_A > 0 else None,
        "help_W": round(help_W, 1),
    }


def _water(at_s: float, water: Trace) -> dict[str, float]:
    """Every sum of water since the beginning, and what the accumulator holds at which pressure."""
    held_L = float(np.interp(at_s, water.times_s, water.accumulator_L))
    sums = {name: float(np.interp(at_s, water.times_s, line)) for name, line in water.sums.items()}
    return {
        **{name: round(litres, 4) for name, litres in sums.items()},
        "held_L": round(held_L, 4),
        "bar": round(water.accumulator.bar(held_L), 3),
    }


def _heater_C(at_s: float, water: Trace) -> float:
    times_s = [t for t, _, _ in water.heater]
    return round(float(np.interp(at_s, times_s, [celsius for _, celsius, _ in water.heater])), 2)


class Chronicle:
    """Takes in stretch after stretch and gives the lines that belong to each."""

    def __init__(self, start_s: float) -> None:
        self._start_s = self._read_s = start_s
        self._read: dict[str, float] = {}
        self._carry: Sums | None = None
        self._buffer_empty = False
        self._waiting: list[tuple[float, Truth]] = []
        self._nights: list[tuple[float, float]] = []
        self._dusk = Sums({}, {})

    def event(self, at_s: float, event: str, **facts: object) -> None:
        self._waiting.append((at_s, {"time": iso(at_s), "event": event, **facts}))

    def expect_night(self, midnight_s: float, latitude: float, longitude: float) -> None:
        """The night that begins on that day there: sunset to sunrise."""
        noon_s = midnight_s + DAY_S / 2
        nights = darkness(latitude, longitude, Interval(noon_s, noon_s + DAY_S))
        if len(nights) != 1 or nights[0] == (noon_s, noon_s + DAY_S):
            return
        dusk, dawn = nights[0]
        if dusk >= self._start_s:
            self._nights.append((dusk, dawn))

    def stretch(
        self,
        start_s: float,
        electrics: Electrics,
        water: Trace,
        help_W: Floats,
        took: Mapping[str, Floats],
        usable_Ah: float,
        buffer_Ah: float,
    ) -> list[Truth]:
        """The lines of this stretch, in order of time."""
        end_s = start_s + len(electrics.bank_V)
        meters = Meters(start_s, electrics, water, took, self._carry)
        for a, b in water.runs:
            self.event(b, "pump run", subject="pressure pump", start=iso(a), seconds=round(b - a, 3))
        for second in electrics.fulls_s:
            self.event(start_s + second, "full charge", subject="house")
        for second, cause in zip(electrics.outages_s, electrics.causes, strict=True):
            if cause:
                self.event(start_s + second, "cut", subject="house", cause=cause)
            else:
                self.event(start_s + second, "contactor closes", subject="house")
        emptied = np.diff(electrics.buffer_Ah <= 0, prepend=self._buffer_empty) & (electrics.buffer_Ah <= 0)
        self._buffer_empty = bool(electrics.buffer_Ah[-1] <= 0)
        for second in np.flatnonzero(emptied).tolist():
            self.event(start_s + second, "buffer empty", subject="navigation")
        for at_s in np.arange(start_s // EVERY_S + 1, end_s // EVERY_S + 1) * EVERY_S:
            second = int(at_s - start_s) - 1
            banks = _banks(electrics, second, usable_Ah, buffer_Ah, float(help_W[second]))
            self._state(float(at_s), banks, meters, water)
        self._nightly(start_s, end_s, meters)
        self._carry = meters.at(end_s)
        lines = [line for _, line in sorted(self._waiting, key=lambda waiting: waiting[0])]
        self._waiting.clear()
        return lines

    def _state(self, at_s: float, banks: Truth, meters: Meters, water: Trace) -> None:
        now, before = meters.at(at_s).of, self._read
        hours = max(1.0, at_s - self._read_s) / HOUR_S
        gained = {name: (now[name] - before.get(name, 0.0)) / hours for name in now}
        tanks = {
            name: float(np.interp(at_s, water.times_s, litres)) for name, litres in water.tanks_L.items()
        }
        self._read_s, self._read = at_s, now
        line: Truth = {
            "time": iso(at_s),
            **banks,
            "tanks": {name: round(litres, 3) for name, litres in tanks.items()},
            "leak_L_per_h": round(gained["leaked_L"], 4),
            "water": _water(at_s, water),
            "heater_C": _heater_C(at_s, water),
            "house_W": round(gained["used_Wh"], 2),
            "made_W": round(gained["made_Wh"], 2),
        }
        self._waiting.append((at_s, line))

    def _nightly(self, start_s: float, end_s: float, meters: Meters) -> None:
        while self._nights:
            dusk, dawn = self._nights[0]
            if start_s <= dusk < end_s:
                self._dusk = meters.at(dusk)
            if not start_s <= dawn < end_s:
                return
            sums = meters.at(dawn).since(self._dusk)
            by_Wh = {what: watt_hours for what, watt_hours in sums.by_Wh.items() if watt_hours}
            line: Truth = {"time": iso(dawn), "night_from": iso(dusk), "night_to": iso(dawn), **sums.of}
            self._waiting.append((dawn, line | {"by_Wh": by_Wh}))
            self._nights.pop(0)
