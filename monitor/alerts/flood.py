"""A flood: more alerts than anybody can read. The gravest stays on top, the lesser ones are counted.

EEMUA 191 and IEC 62682 call ten alarms in ten minutes a flood, for an operator who is paid to look. It is
over under five in ten minutes (from memory).
"""

from collections import deque
from collections.abc import Sequence

from monitor.alerts.rules import MINUTE_S
from monitor.records import CALLS, AlertChange, Severity

WINDOW_S = 10 * MINUTE_S
MORE_THAN, FEWER_THAN = 10, 5


class Flood:
    """Counts what begins. Belongs to the pipeline."""

    def __init__(self) -> None:
        self._begins: deque[float] = deque()
        self._on = False
        self._untold: set[str] = set()
        """The alerts whose begin was only counted."""

    def take(self, at_s: float, changes: Sequence[AlertChange]) -> int:
        """How many began within ten minutes while that is a flood, else 0."""
        heard = [c for c in changes if c.what in ("began", "came back") and c.state == "active"]
        self._begins.extend(at_s for _ in heard)
        while self._begins and not 0 <= at_s - self._begins[0] < WINDOW_S:
            self._begins.popleft()
        n = len(self._begins)
        self._on = n >= FEWER_THAN if self._on else n > MORE_THAN
        return n if self._on else 0

    def told_apart(self, changes: Sequence[AlertChange]) -> list[AlertChange]:
        """Those that are told one by one: every alarm, and everything when there is no flood. Of what was
        only counted nothing more is told until it calls again."""
        return [c for c in changes if self._is_told(c)]

    def _is_told(self, change: AlertChange) -> bool:
        if change.severity is Severity.ALARM or (change.what in CALLS and not self._on):
            self._untold.discard(change.alert)
            return True
        if self._on and change.what in CALLS:
            self._untold.add(change.alert)
        told = change.alert not in self._untold
        if change.state == "ended":
            self._untold.discard(change.alert)
        return told
