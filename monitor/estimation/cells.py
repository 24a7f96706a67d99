"""The watch over lithium cells: what comes, how soon the BMS cuts, what harms them, which stand apart."""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.bank_minute import NOTHING, BankMinute, BankReader
from monitor.estimation.cold import cold_charging, hot_cells
from monitor.estimation.countdown import Countdown
from monitor.estimation.cut import HORIZON_MIN, Cut
from monitor.estimation.spread import Spread
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, Finding, Reason, Severity
from monitor.settings import Bank, Settings

WARNING_MIN, ALARM_MIN = 20.0, 10.0
ENGINE_WARNING_MIN, ENGINE_ALARM_MIN = 40.0, 20.0
"""While the engine charges: a cut under load can destroy the alternator and what hangs on the bus."""
CLEAR_SHARE = 1.5
SURE_AFTER_MIN = 3
"""A trend is told when so many minutes agree;"""
AT_ONCE_MIN = 7.0
"""at once where so little time is left, or where the BMS itself says so."""
TAKEN_BACK_MIN, ENGINE_TAKEN_BACK_MIN = 6, 45
"""A cut that was told is no longer expected when nothing has led to it for so long: longer while the
engine goes on charging, for a kettle hides it only until it boils."""
OVER_LIMIT, OVER_SHARE = 1.05, 0.01
"""A current above its limit by more than this (and this part of the capacity in Ah) is too much,"""
SLOW_MIN = 5
"""when it lasts: chargers take some minutes to follow a limit;"""
FAR_OVER = 1.5
"""at once when it is so far over."""


class CellWatch:
    """Watches the cells of every lithium bank."""

    name = "cells"

    def __init__(self, settings: Settings) -> None:
        banks = [bank for bank in settings.banks if bank.chemistry == "lifepo4"]
        self._banks = {bank.name: _BankWatch(settings, bank) for bank in banks}

    def take(self, minute: Heard) -> None:
        """Look at a minute."""
        for watch in self._banks.values():
            watch.take(minute)

    def estimates(self) -> list[Estimate]:
        """ "cut_minutes" and "cell_spread_mV" of every bank."""
        return [estimate for watch in self._banks.values() for estimate in watch.estimates()]

    def findings(self) -> list[Finding]:
        return [finding for watch in self._banks.values() for finding in watch.findings()]

    def events(self) -> Iterator[Event]:
        """None of its own: its alerts stand in the log."""
        yield from ()

    def new_boot(self) -> None:
        for watch in self._banks.values():
            watch.new_boot()

    def state(self) -> dict[str, Any]:
        return {name: watch.state() for name, watch in self._banks.items()}

    def restore(self, state: Mapping[str, Any]) -> None:
        for name, watch in self._banks.items():
            if name in state:
                watch.restore(state[name])


class _BankWatch:
    """One bank."""

    def __init__(self, settings: Settings, bank: Bank) -> None:
        self._bank = bank
        self._reader = BankReader(settings, bank)
        self._countdown = Countdown(bank)
        self._spread = Spread(bank)
        self._minute: BankMinute | None = None
        self._cut: Cut | None = None
        self._due_min = self._over_min = self._far_min = 0
        self._warned = ""
        """The side of a cut that was told and has not been taken back."""
        self._before: tuple[str, float | None] = ("either", None)
        """Which way the current flowed before the contactor opened, and how much."""

    def take(self, heard: Heard) -> None:
        minute = self._minute = self._reader.read(heard)
        self._countdown.take(minute)
        left = heard.estimates.get(("left_Wh", self._bank.name))
        left_Wh = (None, None) if left is None else (left.value, left.low)
        self._cut = self._countdown.cut(left_Wh, bool(self._warned))
        self._spread.take(minute)
        self._due_min = self._due_min + 1 if self._due(self._cut) else 0
        self._over_min = self._over_min + 1 if self._over(minute, 1.0) else 0
        self._far_min = self._far_min + 1 if self._far(self._cut) else 0
        if self._cut_coming(set()).holds:
            self._warned = "" if self._cut is None else self._cut.side
        elif self._far_min >= (ENGINE_TAKEN_BACK_MIN if self._hidden(minute) else TAKEN_BACK_MIN):
            self._warned = ""
        if minute.closed is not False and self._countdown.direction:
            side = "charge" if self._countdown.direction > 0 else "discharge"
            self._before = side, minute.current_A

    # ---- estimates

    def estimates(self) -> Iterator[Estimate]:
        at_s = 0.0 if self._minute is None else self._minute.start_s + 60.0
        yield self._cut_minutes(at_s)
        yield self._cell_spread(at_s)

    def _cut_minutes(self, at_s: float) -> Estimate:
        name, cut = self._bank.name, self._cut
        if cut is None:
            unknown = Reason("cut: unknown", {"bank": name})
            return Estimate("cut_minutes", name, at_s, None, None, None, unknown)
        value, low, high = (min(minutes, HORIZON_MIN) for minutes in cut.minutes)
        return Estimate("cut_minutes", name, at_s, value, low, high, cut.reason, value >= HORIZON_MIN)

    def _cell_spread(self, at_s: float) -> Estimate:
        minute, name = self._minute, self._bank.name
        if minute is None or minute.highest is None or minute.lowest is None:
            unknown = Reason("spread: unknown", {"bank": name})
            return Estimate("cell_spread_mV", name, at_s, None, None, None, unknown)
        highest, lowest = minute.highest, minute.lowest
        spread_mV = 1000 * (highest.value - lowest.value)
        told = {"bank": name, "high": highest.where, "low": lowest.where, "mV": spread_mV}
        low, high = max(0.0, spread_mV - _READING_MV), spread_mV + _READING_MV
        return Estimate("cell_spread_mV", name, at_s, spread_mV, low, high, Reason("spread: now", told))

    # ---- findings

    def findings(self) -> Iterator[Finding]:
        minute = self._minute or NOTHING
        warmth = cold_charging(self._bank, minute, self._countdown.most_A), hot_cells(self._bank, minute)
        yield self._cut_off()
        yield self._cut_coming({f.rule for f in warmth if f.holds and f.severity is Severity.ALARM})
        yield from warmth
        yield self._spread.finding()
        yield self._above_limit(minute)

    def _cut_off(self) -> Finding:
        closed = None if self._minute is None else self._minute.closed
        side, current_A = self._before
        told = {"bank": self._bank.name, "current_A": None if current_A is None else abs(current_A)}
        reason = Reason("alert: cut off" if side == "either" else f"alert: cut off, {side}", told)
        return Finding("cut off", self._bank.name, None if closed is None else not closed, closed, reason)

    def _limits(self, cut: Cut) -> tuple[float, float]:
        minute = self._minute
        if cut.side != "discharge" and not cut.eased and minute is not None and minute.alternator_A:
            return ENGINE_WARNING_MIN, ENGINE_ALARM_MIN
        return WARNING_MIN, ALARM_MIN

    def _due(self, cut: Cut | None) -> bool:
        return cut is not None and cut.minutes.likely <= self._limits(cut)[0]

    def _far(self, cut: Cut | None) -> bool:
        return cut is not None and cut.minutes.likely > CLEAR_SHARE * self._limits(cut)[0]

    def _hidden(self, minute: BankMinute) -> bool:
        """Whether the engine goes on charging towards a cut that was told."""
        return self._warned not in ("", "discharge") and bool(minute.alternator_A)

    def _cut_coming(self, alarms: set[str]) -> Finding:
        """`alarms`: the causes that are alarms themselves; a lesser one does not hide an alarm."""
        name, cut, minute = self._bank.name, self._cut, self._minute
        if cut is None or minute is None:
            unknown = Reason("alert: cut unknown", {"bank": name})
            return Finding("cut coming", name, None, None, unknown, under=(("cut off", name),))
        warning_min, alarm_min = self._limits(cut)
        minutes = cut.minutes.likely
        # What another rule is about to tell is left to it, if it does within a minute.
        at_once = minutes <= AT_ONCE_MIN and (self._due_min > 1 or not alarms.intersection(cut.under))
        sure = self._due_min >= SURE_AFTER_MIN or at_once
        holds = sure and minutes <= warning_min
        alarm = holds and minutes <= alarm_min and not cut.relieved
        engine = bool(minute.alternator_A) and cut.side != "discharge"
        told = {**cut.reason.facts, "in_s": 60 * minutes, "alternator_A": minute.alternator_A}
        id = f"alert: {cut.reason.id}" + (", now" if minutes == 0 else "") + (", engine" if engine else "")
        return Finding(
            "cut coming",
            name,
            holds,
            self._far(cut) and not self._hidden(minute),
            Reason(id if holds else "alert: no cut near", told),
            Severity.ALARM if alarm else None,
            under=(("cut off", name), *((rule, name) for rule in cut.under if rule in alarms or not alarm)),
        )

    def _over(self, minute: BankMinute, factor: float) -> bool | None:
        """Whether more flows in than this many times the limit allows."""
        current_A, limit_A = minute.current_A, minute.charge_limit_A
        if current_A is None or limit_A is None:
            return None
        return current_A > max(OVER_LIMIT * factor * limit_A, limit_A + OVER_SHARE * self._bank.capacity_Ah)

    def _above_limit(self, minute: BankMinute) -> Finding:
        highest, limit_V = minute.highest, self._bank.cell_limits_V[1]
        told = {"bank": self._bank.name, "current_A": minute.current_A, "limit_A": minute.charge_limit_A}
        reason = Reason("alert: charge above limit", told)
        over = self._over(minute, 1.0)
        holds = None if over is None else self._over_min >= SLOW_MIN or bool(self._over(minute, FAR_OVER))
        clears = None if over is None else not over
        if highest is not None and highest.value > limit_V:
            told = {**told, "cell": highest.where, "cell_V": highest.value, "limit_V": limit_V}
            holds, clears, reason = True, False, Reason("alert: cell above limit", told)
        roots = tuple((rule, self._bank.name) for rule in ("cut off", "cold charging", "cut coming"))
        return Finding("charge above limit", self._bank.name, holds, clears, reason, under=roots)

    # ---- restarts

    def new_boot(self) -> None:
        self._countdown.clear()
        self._spread.clear()
        self._minute = self._cut = None
        self._due_min = self._over_min = self._far_min = 0
        self._warned = ""

    def state(self) -> dict[str, Any]:
        return {"countdown": self._countdown.state(), "spread": self._spread.state(), "before": self._before}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._countdown.restore(state["countdown"])
        self._spread.restore(state["spread"])
        side, current_A = state["before"]
        self._before = str(side), current_A


_READING_MV = 2.0
"""Of the difference of two cells read in steps of a millivolt, noise and all. Common practice."""
