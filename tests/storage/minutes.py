"""Minutes and stores made to order."""

from array import array
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from monitor.clock import MINUTE_S, Anchor
from monitor.records import AlertChange, Column, Minute, Reason, Severity
from monitor.storage.writer import Writer

NOON_S = 1_767_268_800.0
"""2026-01-01 12:00 UTC."""


def column(times_s: Iterable[float], values: Iterable[float]) -> Column:
    return Column(array("d", times_s), array("d", values))


def minute(
    boot: int,
    index: int,
    says: Mapping[str, Callable[[float], float]],
    every_s: float = 1.0,
    state: Mapping[str, Any] | None = None,
) -> Minute:
    """A minute of channels that each say f(t) every so often, first at its start."""
    times = [index * MINUTE_S + at * every_s for at in range(round(MINUTE_S / every_s))]
    columns = {name: column(times, map(value, times)) for name, value in says.items()}
    return Minute(boot, index, columns, state or {"minute": index})


def opened(path: Path, kernel_id: str = "first", **options: Any) -> Writer:
    """A writer whose boot began at NOON_S by its only anchor."""
    writer = Writer(path, **options)
    writer.open()
    writer.anchor(writer.begin_boot(kernel_id), Anchor(0.0, NOON_S, "a test", 0.1))
    return writer


def change(boot: int, number: int = 1) -> AlertChange:
    reason = Reason("alert: low water", {"left_L": 40.5, "limit_L": 42.5})
    return AlertChange(
        f"low water {number}", "low water", "boat", Severity.WARNING, boot, 60.0 * number, "active", reason
    )
