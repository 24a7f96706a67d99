"""What the guided calibrations have in common: one step at a time, asked, heard and answered."""

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from monitor.errors import CommandError
from monitor.estimation.watcher import Heard
from monitor.records import Event, Measured, Mode, Reading, Reason

TAKE, LEAVE = "take", "leave"
DONE, AGAIN, ENOUGH, LITRES = "done", "again", "enough", "litres"
RESULT, OVER = "result", "over"


class Now(NamedTuple):
    """How things stand at a moment."""

    at_s: float
    readings: Mapping[str, Reading]
    mode: Mode
    running_s: Mapping[str, float | None]
    """By pump: how long it has been running; 0 at rest, None while its signal is unheard."""

    def newest(self, channel: str) -> float | None:
        """The newest reading that is neither silent nor "not available"."""
        reading = self.readings.get(channel)
        return None if reading is None or reading.silent else reading.value


class Procedure(ABC):
    """One calibration of one subject. It keeps its steps itself and never changes an estimator."""

    what = ""

    def __init__(self, subject: str, step: str) -> None:
        self.subject, self.step, self.note = subject, step, ""
        self.facts: dict[str, Any] = {}
        """What goes into the sentences of this step."""
        self.found: Measured | None = None
        self.outcome = ""
        """How it ended without a result."""

    # ---- what is heard: each procedure listens to what concerns it

    def look(self, now: Now) -> None:  # noqa: B027
        """Between minutes, every quarter of one."""

    def minute(self, minute: Heard) -> None:  # noqa: B027
        """A minute is over."""

    def ran(self, run: Event) -> None:  # noqa: B027
        """A run of a pump is over."""

    # ---- what the crew says

    @abstractmethod
    def answer(self, answer: str, litres: float | None, now: Now) -> None:
        """One of `answers`."""

    @property
    def answers(self) -> tuple[str, ...]:
        return ()

    @property
    def asks_litres(self) -> bool:
        return LITRES in self.answers

    # ---- what is told

    def told(self) -> Mapping[str, Any]:
        """Numbers for the sentence of this step."""
        return {}

    def live(self, now: Now) -> Iterable[Reason]:
        """What is heard just now."""
        return ()

    def noted(self) -> Iterable[Reason]:
        """What was measured so far."""
        return ()

    # ---- for those that inherit

    def go(self, step: str, note: str = "") -> None:
        self.step, self.note = step, note

    def end(self, outcome: str) -> None:
        """Nothing came of it."""
        self.outcome = outcome
        self.go(OVER)

    def has(self, found: Measured) -> None:
        self.found = found
        self.go(RESULT)


def given(litres: float | None, most_L: float) -> float:
    """Litres that were said. Raises CommandError."""
    if litres is None or not 0.0 < litres <= most_L:
        raise CommandError("the amount: expected more than nothing and at most {most:litres}", most=most_L)
    return litres
