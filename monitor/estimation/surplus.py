"""The sun that a full bank turns down: how much today, and what it would have heated or made."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from monitor.clock import HOUR_S
from monitor.estimation.charge_power import at_full_voltage
from monitor.estimation.clearness import Clearness
from monitor.estimation.metering import charger_W
from monitor.estimation.ships_days import position, ships_day
from monitor.estimation.sun import clear_sky_W_per_m2
from monitor.estimation.supply import now
from monitor.estimation.watcher import LIVE_V, Heard
from monitor.records import Estimate, Event, Finding, Reason
from monitor.settings import Bank, Settings

FULL_PCT = 97.0
"""From here on a bank takes what it pleases. Common practice for a held voltage."""
LEAVES_PCT = 90.0
"""A bank on float stands a few per cent below full, and its chargers hold back all the same."""
RESTS_A = 1.0
WATER_WH_PER_L_K = 1.163
"""4.186 kJ/kg K over 3.6 kJ/Wh; within 0.2 % of IAPWS-97 between 15 and 60 degrees."""
HEATED_BY_K = 40.0
FRUGAL_WH_PER_L, PLAIN_WH_PER_L = 4.0, 15.0
"""Of a watermaker with energy recovery, and of a plain one. Common practice."""
BAND, BAND_PER_H, WIDEST = 0.20, 0.08, 0.6
"""How far, as a share, the sky may be from what it was, and how that grows from hour to hour."""
LEAST_WH = 50.0


def heated_L(Wh: float, kelvin: float, efficiency: float = 1.0) -> float:
    """Fresh water that so much energy warms by so much. [L]"""
    return Wh * efficiency / (WATER_WH_PER_L_K * kelvin)


class SurplusWatch:
    """Estimates `wasted_Wh` of today, of the house banks together."""

    name = "surplus"

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._banks = [b for b in settings.banks if b.role == "house"]
        self._volts_of = {b.name: b.nominal_V for b in self._banks}
        self._panels = [c for c in settings.chargers if c.kind == "sun" and c.into in self._volts_of]
        self._efficiency = settings.inverters[0].efficiency if settings.inverters else 1.0
        self._sky = Clearness()
        self._day: int | None = None
        self._full_s: float | None = None
        self._lost = [0.0, 0.0, 0.0]
        """Likely, low and high. [Wh]"""
        self._held: set[str] = set()
        self._missed = False
        """The bank was full by day when nothing was known of the panels."""
        self._at_s = 0.0
        self._why: str | None = "surplus: not known yet"

    def take(self, minute: Heard) -> None:
        self._at_s = minute.end_s
        if not self._panels:
            return
        self._why = "surplus: no clock"
        if minute.utc_s is None:
            return
        day = ships_day(minute.utc_s, self._settings.boat.zone)
        if day != self._day:
            self._day, self._full_s, self._lost, self._missed = day, None, [0.0, 0.0, 0.0], False
            self._sky.end_day()
        self._why = None if self._sky.known and not self._missed else "surplus: not known yet"
        told = [charger_W(minute, c, self._volts_of[c.into]) for c in self._panels]
        here = position(self._settings, minute.readings)
        clear = float(clear_sky_W_per_m2(*here, np.array([minute.utc_s + 30.0]))[0])
        full = self._full(minute, clear <= 0.0 and not self._on_mains(minute))
        if None in told or full is None or clear <= 0.0:
            return
        sun_W = sum(watts for watts in told if watts is not None)
        if not full:
            self._sky.free(minute.utc_s, sun_W, clear)
            return
        self._sky.full()
        if not self._sky.known:
            self._missed = True
        else:
            self._lose(minute.utc_s, sun_W, clear)

    def _on_mains(self, minute: Heard) -> bool:
        """A charger may hold the voltage through the night."""
        supplies = self._settings.supplies
        return any((minute.newest(f"{s.name} ac voltage") or 0.0) > LIVE_V for s in supplies)

    def _full(self, minute: Heard, alone: bool) -> bool | None:
        """Every house bank holds its chargers back; None where that is not known."""
        found = [self._is_full(minute, bank, alone) for bank in self._banks]
        return False if False in found else None if None in found else True

    def _is_full(self, minute: Heard, bank: Bank, alone: bool) -> bool | None:
        """From its full voltage, or nearly full by count, on: until it is down to 90 %, takes more than a
        tail again, or is alone in the dark and gives."""
        charge = minute.estimates.get(("charge_pct", bank.name))
        pct = None if charge is None else charge.value
        volts, amps = now(minute, f"{bank.name} voltage"), now(minute, f"{bank.name} current") or 0.0
        if (volts is not None and at_full_voltage(bank, volts)) or (pct is not None and pct >= FULL_PCT):
            self._held.add(bank.name)
        elif pct is None or pct < LEAVES_PCT or amps > bank.tail_current_A or (alone and amps < -RESTS_A):
            self._held.discard(bank.name)
        return True if bank.name in self._held else None if pct is None else False

    def _lose(self, utc_s: float, sun_W: float, clear: float) -> None:
        sky = self._sky
        best_W = clear * sky.gain(utc_s)
        spread = WIDEST
        if sky.since_free_s is not None:
            spread = min(WIDEST, BAND + BAND_PER_H * sky.since_free_s / HOUR_S)
        for n, factor in enumerate((1.0, 1.0 - spread, 1.0 + spread)):
            could_W = min(best_W * 1.1, best_W * sky.now * factor)
            self._lost[n] += max(0.0, could_W - sun_W) / 60
        if self._full_s is None and best_W * sky.now > sun_W:
            self._full_s = utc_s

    # ---- what is told

    def estimates(self) -> list[Estimate]:
        if not self._panels:
            return []
        bank = self._banks[0].name
        if self._why is not None:
            return [Estimate("wasted_Wh", bank, self._at_s, None, None, None, Reason(self._why))]
        likely, low, high = self._lost
        return [Estimate("wasted_Wh", bank, self._at_s, likely, low, high, self._reason(likely))]

    def _reason(self, Wh: float) -> Reason:
        told = {
            "wasted_Wh": Wh, "full_s": self._full_s, "heat_L": heated_L(Wh, HEATED_BY_K, self._efficiency),
            "make_L": Wh / PLAIN_WH_PER_L, "make_most_L": Wh / FRUGAL_WH_PER_L,
        }  # fmt: skip
        if Wh < LEAST_WH or self._full_s is None:
            return Reason("surplus: none to speak of", told)
        heat, make = bool(self._settings.heaters), bool(self._settings.watermakers)
        uses = {(True, True): "heat or make", (True, False): "heat", (False, True): "make"}
        return Reason(f"surplus: {uses.get((heat, make), 'thrown away')}", told)

    def findings(self) -> list[Finding]:
        return []

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        """The sky goes on."""

    def state(self) -> dict[str, Any]:
        lost = [round(Wh, 1) for Wh in self._lost]
        today = {"day": self._day, "full_s": self._full_s, "lost": lost, "missed": self._missed}
        return today | {"held": sorted(self._held), "sky": self._sky.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._day, self._full_s, self._missed = state["day"], state["full_s"], state["missed"]
        self._held = set(state["held"])
        self._lost = [float(Wh) for Wh in state["lost"]]
        self._sky.restore(state["sky"])
