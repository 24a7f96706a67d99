"""What the leak judge's figures say in words: its verdict, and its two estimates."""

from typing import Any

from monitor.records import Estimate, Reason

TIGHT, SUSPECTED, UNKNOWN = "tight", "leak suspected", "not enough known yet"
TIGHT_L_PER_H = 0.1
"""A bound this low is called tight: some drips a minute. [L/h]"""

Rate = tuple[float, float, float]
"""Likely, low and high (90 %). [L/h]"""


def verdict(
    rate: Rate | None,
    bound_L_per_h: float | None,
    refills: int,
    doubted: bool,
    heater_unknown: bool,
    by_gauge: bool = False,
) -> tuple[str, Reason]:
    """One of `TIGHT`, `SUSPECTED`, `UNKNOWN`, and why."""
    facts: dict[str, Any] = {"refills": refills, "bound_L_per_h": bound_L_per_h}
    if rate is not None:
        value, low, high = rate
        facts |= {"leak_L_per_h": value, "low_L_per_h": low, "high_L_per_h": high}
        facts |= {"leak_L_per_day": 24 * value}
        return SUSPECTED, Reason("leak by its gauge", facts) if by_gauge else Reason("leak suspected", facts)
    if bound_L_per_h is not None and bound_L_per_h <= TIGHT_L_PER_H and not doubted:
        return TIGHT, Reason("tight", facts)
    if heater_unknown:
        return UNKNOWN, Reason("leak unknown while a heater may be cooling", facts)
    if doubted:
        return UNKNOWN, Reason("leak unknown after some refills", facts)
    return UNKNOWN, Reason("leak unknown without a long rest", facts)


def estimates(
    pump: str, at_s: float, rate: Rate | None, bound_L_per_h: float | None, reason: Reason
) -> list[Estimate]:
    """leak_L_per_h, None unless one is suspected; tight_below_L_per_h, None without a rest."""
    value, low, high = rate or (None, None, None)
    bound, told = bound_L_per_h, reason
    if bound is not None:
        told = Reason("tight to within", {"bound_L_per_h": bound})
    return [
        Estimate("leak_L_per_h", pump, at_s, value, low, high, reason),
        Estimate("tight_below_L_per_h", pump, at_s, bound, bound, bound, told),
    ]
