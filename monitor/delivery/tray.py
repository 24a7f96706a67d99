"""What waits for one way out, and what goes next.

All goes in the order it was handed over, but for one rule: an alarm overtakes the waiting warnings and
cautions of other alerts, with whatever waits of its own alert before it, so that the order within an alert
is kept. While quiet hours hold a way back only alarms, and what has no grade (a trial), go; what began and
was over in the same quiet hours is dropped at their end.
"""

import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable, Sequence

from monitor.records import Notice, Severity

MOST = 2000
"""A way that is dead for weeks keeps so many, the gravest and newest. No alarm is dropped."""
BURST = 5
"""More than so many become one message, where a way tells several at once,"""
MOST_IN_ONE = 100
"""and so many at most."""

GRADE = {Severity.ALARM: 0, Severity.WARNING: 1, Severity.CAUTION: 2, None: 3}
_OVER = ("returned", "ended")


class Tray:
    """Filled by the watch's thread, emptied by the way's."""

    def __init__(
        self,
        quiet: Callable[[float | None], bool] | None = None,
        *,
        over: Callable[[str], bool] = lambda _alert: False,
        several: bool = False,
        most: int = MOST,
    ) -> None:
        """`quiet`: whether a moment in UTC lies in hours that hold this way back; None: none do. `over`:
        whether an alert is, though no notice here says so. `several`: a burst goes as one."""
        self._quiet, self._over, self._several, self._most = quiet, over, several, most
        self._lock = threading.Lock()
        self._waiting: OrderedDict[str, Notice] = OrderedDict()
        self._of_alert: dict[str, deque[str]] = {}
        self._alarms: OrderedDict[str, int] = OrderedDict()
        self._tried: set[str] = set()
        self._was_quiet = True
        self.dropped = 0
        """For want of room, since the start."""

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, notices: Iterable[Notice], *, tried: bool = False) -> list[Notice]:
        """Take them in; what had to be dropped for them. `tried`: they may have been sent before."""
        with self._lock:
            for notice in notices:
                if notice.id not in self._waiting:
                    self._add(notice)
                    self._tried.update([notice.id] if tried else [])
            found = []
            while len(self._waiting) > self._most and (least := self._least()) is not None:
                self._remove(least.id)
                found.append(least)
            self.dropped += len(found)
        return found

    def next(self, utc_s: float | None) -> tuple[tuple[Notice, ...], list[Notice]]:
        """What goes now, empty where nothing does; and what needs to go no more."""
        with self._lock:
            quiet = self._quiet is not None and self._quiet(utc_s)
            over = self._over_by_now() if self._was_quiet and not quiet and utc_s is not None else []
            self._was_quiet = quiet or (self._was_quiet and utc_s is None)
            return self._next(quiet), over

    def due(self, utc_s: float | None) -> bool:
        """Whether anything waits that no quiet hours hold back."""
        with self._lock:
            return bool(self._next(self._quiet is not None and self._quiet(utc_s)))

    def trying(self, notices: Sequence[Notice]) -> bool:
        """They are about to be sent: whether one of them may have been before."""
        with self._lock:
            again = any(n.id in self._tried for n in notices)
            self._tried.update(n.id for n in notices)
        return again

    def done(self, notices: Sequence[Notice]) -> None:
        """They are delivered."""
        with self._lock:
            for notice in notices:
                self._remove(notice.id)

    def _next(self, quiet: bool) -> tuple[Notice, ...]:
        if self._alarms:
            return (self._waiting[self._of_alert[next(iter(self._alarms))][0]],)
        if quiet:
            return next(((n,) for n in self._waiting.values() if n.severity is None), ())
        if self._several and len(self._waiting) > BURST:
            return tuple(n for n, _ in zip(self._waiting.values(), range(MOST_IN_ONE), strict=False))
        return next(((n,) for n in self._waiting.values()), ())

    def _over_by_now(self) -> list[Notice]:
        if self._quiet is None:
            return []
        found = []
        for ids in list(self._of_alert.values()):
            own = [self._waiting[id] for id in ids]
            begun = own[0].what in ("began", "came back") and own[0].alert not in self._alarms
            held = all(self._quiet(n.utc_s) for n in own)
            if begun and held and (own[-1].state in _OVER or self._over(own[0].alert)):
                found += own
        for notice in found:
            self._remove(notice.id)
        return found

    def _least(self) -> Notice | None:
        """The oldest of the least grave; None where only alarms wait."""
        worst, found = 0, None
        for notice in self._waiting.values():
            if GRADE[notice.severity] > worst:
                worst, found = GRADE[notice.severity], notice
        return found

    def _add(self, notice: Notice) -> None:
        self._waiting[notice.id] = notice
        key = notice.alert or notice.id
        self._of_alert.setdefault(key, deque()).append(notice.id)
        if notice.severity is Severity.ALARM:
            self._alarms[key] = self._alarms.get(key, 0) + 1

    def _remove(self, id: str) -> None:
        notice = self._waiting.pop(id, None)
        self._tried.discard(id)
        if notice is None:
            return
        key = notice.alert or notice.id
        ids = self._of_alert[key]
        ids.remove(id)
        if not ids:
            del self._of_alert[key]
        if notice.severity is Severity.ALARM:
            self._alarms[key] -= 1
            if not self._alarms[key]:
                del self._alarms[key]


def gravest_first(notices: Sequence[Notice]) -> list[Notice]:
    """By the gravest of each alert; an alert's own stay together and in order."""
    grade: dict[str, int] = {}
    place: dict[str, int] = {}
    for at, n in enumerate(notices):
        key = n.alert or n.id
        grade[key] = min(grade.get(key, 9), GRADE[n.severity])
        place.setdefault(key, at)
    return sorted(notices, key=lambda n: (grade[n.alert or n.id], place[n.alert or n.id]))
