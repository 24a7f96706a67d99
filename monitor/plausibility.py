"""Impossible readings become "not available", with a reason that can be seen."""

from monitor.channels import Quantity
from monitor.records import Reason


def impossible(quantity: Quantity, value: float) -> Reason | None:
    """Why this reading cannot be true, or None where it can. NaN and infinities cannot."""
    if quantity.lowest <= value <= quantity.highest:
        return None
    facts = {"quantity": quantity.name, "unit": quantity.unit}
    if value != value or value in (float("inf"), float("-inf")):
        return Reason("not a number", facts)
    bounds = {"value": value, "lowest": quantity.lowest, "highest": quantity.highest}
    return Reason("out of range", {**facts, **bounds})
