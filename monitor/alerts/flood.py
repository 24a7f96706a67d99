"""A flood: more alerts than anybody can read. The gravest stays on top, the lesser ones are counted.

EEMUA 191 and IEC 62682 call ten alarms in ten minutes a flood, for an operator who is paid to look. It is
over under five in ten minutes (from memory).
"""

from collections import deque
from collections.abc import Sequence

from monitor.alerts.rules import MINUTE_S
from monitor.records import AlertChange, Severity

WINDOW_S = 10 * MINUTE_S
MORE_THAN, FEWER_THAN = 10, 5


class Flood:
    """Counts what begins. Belongs to the pipeline."""

    def __init__(self) -> None:
        self._begins: deque[float] = deque()
        self._on = False

    def take(self, at_s: float, changes: Sequence[AlertChange]) -> int:
        """How many began within ten minutes while that is a flood, else 0."""
        heard = [c for c in changes if c.what in ("began", "came back") and c.state == "active"]
        self._begins.extend(at_s for _ in heard)
        while self._begins and not 0 <= at_s - self._begins[0] < WINDOW_S:
            self._begins.popleft()
        n = len(self._begins)
        self._on = n >= FEWER_THAN if self._on else n > MORE_THAN
        return n if self._on else 0


def told_apart(changes: Sequence[AlertChange], flood: int) -> list[AlertChange]:
    """Those that are told one by one: every alarm, and everything when there is no flood."""
    return [c for c in changes if not flood or c.severity is Severity.ALARM]
