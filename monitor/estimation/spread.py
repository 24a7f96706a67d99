"""Cells that stand apart: at the top of a charge, near empty, or at rest; and what that says of them.

A cell of less capacity comes first at both ends: highest when the bank is full, lowest when it is
empty. One that is only out of balance stands on the same side at both, or apart at the top alone. On
the plateau between, cells of very different charge show the same voltage: it tells nothing.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from monitor.estimation.bank_minute import BankMinute
from monitor.records import Finding, Reason
from monitor.settings import Bank

TOP_CELL_V, BOTTOM_CELL_V = 3.48, 3.10
"""A highest cell above, a lowest below: there a spread means something. Common practice."""
MOST_SHARE = 0.25
"""Of the capacity in Ah: with more current the cells' resistances part them."""
LIMITS_V = {"top": 0.100, "bottom": 0.150, "rest": 0.030}
"""Told from there on. Common practice."""
CLEAR_SHARE = 0.7
REST_SHARE, REST_MIN = 0.01, 30
REST_CELL_V = (3.24, 3.36)
"""Outside of these a resting bank is nearly empty or nearly full, where cells stand apart for little."""


class Seen(NamedTuple):
    """The widest apart that the cells stood on the last such occasion."""

    spread_V: float
    highest: str
    lowest: str


class Spread:
    """Follows the cells of one bank."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._seen: dict[str, Seen] = {}
        self._where: str | None = None
        self._rested_min = 0

    def take(self, minute: BankMinute) -> None:
        """Take one minute."""
        where = self._place(minute)
        highest, lowest = minute.highest, minute.lowest
        if where is not None and highest is not None and lowest is not None:
            now = Seen(highest.value - lowest.value, highest.where, lowest.where)
            before = self._seen.get(where)
            if where != self._where or before is None or now.spread_V > before.spread_V or where == "rest":
                self._seen[where] = now
        self._where = where

    def _place(self, minute: BankMinute) -> str | None:
        """Where the bank stands: "top", "bottom", at "rest", or nowhere that tells."""
        current_A, highest, lowest = minute.current_A, minute.highest, minute.lowest
        if current_A is None or highest is None or lowest is None:
            self._rested_min = 0
            return None
        share = current_A / self._bank.capacity_Ah
        self._rested_min = self._rested_min + 1 if abs(share) < REST_SHARE else 0
        if abs(share) > MOST_SHARE:
            return None
        if highest.value >= TOP_CELL_V and share >= 0:
            return "top"
        if lowest.value <= BOTTOM_CELL_V and share <= 0:
            return "bottom"
        between = lowest.value > REST_CELL_V[0] and highest.value < REST_CELL_V[1]
        rests = self._rested_min >= REST_MIN and between
        return "rest" if rests else None

    def finding(self) -> Finding:
        over = {name: seen.spread_V / LIMITS_V[name] for name, seen in self._seen.items()}
        worst = max(over.values(), default=None)
        holds = clears = None
        if worst is not None:
            holds, clears = worst >= 1.0, worst < CLEAR_SHARE
        return Finding("cells apart", self._bank.name, holds, clears, self._reason(over))

    def _reason(self, over: Mapping[str, float]) -> Reason:
        told: dict[str, Any] = {"bank": self._bank.name}
        for name, seen in self._seen.items():
            told[f"{name}_mV"] = 1000 * seen.spread_V
            told[f"{name}_high"], told[f"{name}_low"] = seen.highest, seen.lowest
        if not over:
            return Reason("alert: cells not seen near full or empty", told)
        top, bottom = self._seen.get("top"), self._seen.get("bottom")
        wide = {name for name, share in over.items() if share >= CLEAR_SHARE}
        if top is None or bottom is None:
            where = max(over, key=lambda name: over[name])
            seen = self._seen[where]
            told |= {"mV": 1000 * seen.spread_V, "high": seen.highest, "low": seen.lowest}
            return Reason(f"alert: cells apart at {where}, not enough seen", told)
        if {"top", "bottom"} <= wide and top.highest == bottom.lowest:
            return Reason("alert: cell of less capacity", {**told, "cell": top.highest})
        if {"top", "bottom"} <= wide and (top.highest == bottom.highest or top.lowest == bottom.lowest):
            cell = top.highest if top.highest == bottom.highest else top.lowest
            return Reason("alert: cell out of balance", {**told, "cell": cell})
        if "bottom" in wide and "top" not in wide:
            return Reason("alert: cell empties first", {**told, "cell": bottom.lowest})
        if "rest" in wide and "top" not in wide:
            seen = self._seen["rest"]
            told |= {"mV": 1000 * seen.spread_V, "high": seen.highest, "low": seen.lowest}
            return Reason("alert: cells apart at rest alone", told)
        if "top" in wide:
            return Reason("alert: cells apart at the top alone", {**told, "cell": top.highest})
        return Reason("alert: cells together", told)

    def state(self) -> dict[str, Any]:
        return {name: list(seen) for name, seen in self._seen.items()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        self._seen = {
            name: Seen(float(spread_V), str(highest), str(lowest))
            for name, (spread_V, highest, lowest) in state.items()
            if name in LIMITS_V
        }

    def clear(self) -> None:
        """A gap: the rest is unbroken no longer."""
        self._rested_min, self._where = 0, None
