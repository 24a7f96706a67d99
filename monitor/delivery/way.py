"""What every way out has in common: a thread that delivers, and begins again by itself."""

import logging
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Protocol

from monitor.delivery.desk import Desk
from monitor.delivery.tray import MOST, Tray
from monitor.errors import EbbwatchError
from monitor.records import Notice, Severity, Way
from monitor.settings import LoudspeakerWay, MessageWay, MqttWay

log = logging.getLogger("ebbwatch")

FIRST_RETRY_S = 1.0
LONGEST_RETRY_S = 300.0
IDLE_S = 0.5
"""How long an idle way waits before it looks at the clock again."""
MEMORY = "way: "
"""What is remembered of a way stands under this and its name."""
GRADES = {
    "alarm": (Severity.ALARM,),
    "warning": (Severity.ALARM, Severity.WARNING),
    "caution": tuple(Severity),
}


class Outbox(Protocol):
    """What a way asks of the store (`monitor.storage.writer.Writer`). No call waits for the card."""

    def post(self, way: str, notices: Sequence[Notice]) -> None: ...
    def delivered(self, way: str, ids: Sequence[str]) -> None: ...
    def remember(self, key: str, json_value: Any) -> None: ...


class WayThread(ABC):
    """One way. Nothing that goes wrong in it ends the thread: it is told in `way().trouble`."""

    several = False
    """A burst of notices goes as one."""

    def __init__(
        self,
        settings: MqttWay | MessageWay | LoudspeakerWay,
        desk: Desk,
        outbox: Outbox,
        *,
        name: str = "",
        first_retry_s: float = FIRST_RETRY_S,
        most: int = MOST,
    ) -> None:
        self.name, self.settings = name or settings.name, settings
        self._desk, self._outbox, self._first_retry_s = desk, outbox, first_retry_s
        quiet = desk.quiet if settings.quiet else None
        self._tray = Tray(quiet, over=desk.over, several=self.several, most=most)
        self._grades = GRADES[settings.from_grade]
        self._posted: dict[str, bool] = {}
        """What was given to the card and is not being delivered yet: whether it is this way's."""
        self._answered_for: set[str] = set()
        """Of a second way: the alerts that nobody had answered."""
        self._stopping = threading.Event()
        self._news, self._again = threading.Event(), threading.Event()
        self._trouble = ""
        self._due_s: float | None = None
        self._confirmed_s: float | None = None
        self._remembered: dict[str, Any] = {}
        self._remembering = threading.Lock()
        self._got_through = False
        self.recovered: Callable[[], None] = lambda: None
        """Told when it gets through again after it had not: perhaps the others do, too."""
        self._thread = threading.Thread(target=self._run, name=f"way {self.name}", daemon=True)

    # ---- the watch's side

    def start(self) -> None:
        self._thread.start()

    def ask_to_stop(self) -> None:
        self._stopping.set()
        self._news.set()
        self._again.set()

    def join(self, timeout_s: float) -> None:
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def retry(self) -> None:
        """Do not wait any longer before the next attempt."""
        self._again.set()

    def restore(self, state: Any, waiting: Iterable[Notice]) -> None:
        """What is remembered from before a restart, and what was not confirmed then."""
        self._remembered = dict(state) if isinstance(state, dict) else {}
        self._answered_for = set(self._remembered.get("unanswered", ()))
        self._forget(self._tray.put(waiting, tried=True))

    def post(self, notices: Sequence[Notice]) -> None:
        """Give those that are this way's to the card."""
        own = [n for n in notices if self._is_mine(n)]
        mine = {n.id for n in own}
        self._posted |= {n.id: n.id in mine for n in notices}
        if own:
            self._outbox.post(self.name, own)

    def put(self, notices: Sequence[Notice]) -> None:
        """Deliver those that are this way's."""
        self.post([n for n in notices if n.id not in self._posted])
        own = [n for n in notices if self._posted.pop(n.id, False)]
        if not own:
            return
        self._forget(self._tray.put(own))
        self._due_s = self._desk.elapsed_s() if self._due_s is None else self._due_s
        self._news.set()
        if any(n.severity is Severity.ALARM for n in own):
            self._again.set()

    def test_due(self) -> str:
        """The ship's day on which a test is due now; empty where none is."""
        hour = self.settings.test_at
        day = "" if hour is None else self._desk.day_of_test(hour)
        return "" if day == self._remembered.get("tested") else day

    def tested(self, day: str) -> None:
        self._remember(tested=day)

    def way(self) -> Way:
        """How it stands."""
        now_s = self._desk.elapsed_s()
        utc_s = self._desk.utc_s()
        failing_s = 0.0
        if not self._is_due():
            self._due_s = None
        else:
            self._due_s = now_s if self._due_s is None else self._due_s
            failing_s = max(0.0, now_s - max(self._due_s, self._confirmed_s or self._due_s))
        confirmed_utc_s = self._remembered.get("confirmed_utc_s")
        if self._confirmed_s is not None and utc_s is not None:
            confirmed_utc_s = utc_s - (now_s - self._confirmed_s)
        return Way(
            self.name, self.settings.kind, confirmed_utc_s, len(self._tray), self._told_trouble(), failing_s
        )

    def _told_trouble(self) -> str:
        dropped = f"{self._tray.dropped} of the lesser notices were dropped" if self._tray.dropped else ""
        return "; ".join(part for part in (self._trouble, dropped) if part)

    def _is_due(self) -> bool:
        return self._tray.due(self._desk.utc_s())

    def _is_mine(self, notice: Notice) -> bool:
        if self.settings.second and not self._unanswered(notice):
            return False
        return notice.severity is None or notice.severity in self._grades

    def _unanswered(self, notice: Notice) -> bool:
        """Whether a second way takes it: nobody had answered this alert. It takes trials, too."""
        if notice.kind == "test":
            return True
        if notice.second and notice.alert not in self._answered_for:
            self._answered_for.add(notice.alert)
            self._remember(unanswered=sorted(self._answered_for))
        mine = notice.alert in self._answered_for
        if mine and notice.state == "ended":
            self._answered_for.discard(notice.alert)
            self._remember(unanswered=sorted(self._answered_for))
        return mine

    def _remember(self, **state: Any) -> None:
        with self._remembering:
            self._remembered = self._remembered | state
            self._outbox.remember(f"{MEMORY}{self.name}", self._remembered)

    def _forget(self, notices: Sequence[Notice]) -> None:
        if notices:
            self._outbox.delivered(self.name, [n.id for n in notices])

    # ---- the thread's side

    @abstractmethod
    def _carry(self) -> None:
        """Deliver until `_stopping` is set; raise when that fails."""

    def _next(self) -> tuple[Notice, ...]:
        """What goes now, empty where nothing does."""
        self._news.clear()
        parcel, over = self._tray.next(self._desk.utc_s())
        self._forget(over)
        return parcel

    def _confirmed(self, parcel: Sequence[Notice] = ()) -> None:
        """It has got through, with these notices or with something of the way's own."""
        recovered = bool(self._trouble)
        self._confirmed_s, self._trouble, self._got_through = self._desk.elapsed_s(), "", True
        if parcel:
            self._tray.done(parcel)
            self._outbox.delivered(self.name, [n.id for n in parcel])
            self._remember(confirmed_utc_s=self._desk.utc_s())
        if recovered:
            self.recovered()

    def _run(self) -> None:
        pause_s = self._first_retry_s
        while not self._stopping.is_set():
            self._got_through = False
            try:
                self._carry()
            except EbbwatchError as error:
                self._trouble = " ".join(str(error).split())
            except Exception as error:  # A thread that died would be a way that nobody misses.
                self._trouble = " ".join(str(error).split()) or type(error).__name__
                log.warning("the way out %s stumbled: %s", self.name, self._trouble)
            if self._got_through:
                pause_s = self._first_retry_s
            self._again.wait(pause_s)
            self._again.clear()
            pause_s = min(2 * pause_s, LONGEST_RETRY_S)


def wait_slices(until: Callable[[], bool], timeout_s: float, turn: Callable[[float], None]) -> bool:
    """Whether `until` comes true in time, while `turn` is called with how long it may take."""
    end_s = time.monotonic() + timeout_s
    while not until():
        left_s = end_s - time.monotonic()
        if left_s <= 0:
            return False
        turn(min(left_s, 0.1))
    return True
