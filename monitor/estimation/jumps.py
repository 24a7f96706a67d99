"""A charge figure told by an instrument: does it follow the current, or does it jump and freeze?

Such figures are only looked at, never used. What the current explains is allowed; a stop at 0 or 100 %
hides some of it.
"""

from collections.abc import Mapping
from math import exp
from typing import Any, NamedTuple

from monitor.estimation.readings import Floats

JUMP_PCT = 5.0
FROZEN_PCT = 5.0
STOPPED_PCT = 20.0
"""At the ends of its scale a figure may stand still for longer."""
UNHEARD_PCT = 2.0
"""What an unheard current may bring in a minute."""
ENDS_PCT = (1.0, 99.0)
TOLD_S = 24 * 3600.0
FORGETTING_S = 24 * 3600.0
"""A count forgets its past over this time, so that a sensor's offset freezes nothing."""


class Jump(NamedTuple):
    """From where to where, and when."""

    from_pct: float
    to_pct: float
    age_s: float


class ChargeFigure:
    """One instrument's charge."""

    def __init__(self) -> None:
        self.value: float | None = None
        self.jump: Jump | None = None
        """The newest, for a day."""
        self.counted_pct = 0.0
        """What has flowed while the figure stood still."""
        self._step_pct: float | None = None
        """The smallest change it has shown: some know quarters only."""
        self._waiting: tuple[float, float] | None = None

    def take(self, values: Floats, counted_pct: float | None, alone: bool) -> None:
        """A minute. `counted_pct`: what the current brought, None unheard. `alone`: the same instruments
        speak as in the minute before, so that the figure is surely the same one's."""
        if self.jump is not None:
            age_s = self.jump.age_s + 60.0
            self.jump = self.jump._replace(age_s=age_s) if age_s < TOLD_S else None
        if not values.size:
            self._waiting, self.value, self.counted_pct = None, None, 0.0
            return
        newest, before = float(values[-1]), self.value
        back = self._confirm(newest, alone)
        if before is None or newest != before:
            if before is not None and not back:
                self._look(before, newest, counted_pct, alone)
            self.counted_pct = 0.0
        elif counted_pct is None:
            self.counted_pct = 0.0
        else:
            self.counted_pct = self.counted_pct * exp(-60.0 / FORGETTING_S) + counted_pct
        self.value = newest

    def _look(self, before: float, newest: float, counted_pct: float | None, alone: bool) -> None:
        step, known = abs(newest - before), self._step_pct
        self._step_pct = step if known is None else min(step, known)
        allowed = UNHEARD_PCT if counted_pct is None else abs(counted_pct)
        if alone and known is not None and step > JUMP_PCT + allowed + known:
            self._waiting = (before, newest)

    def _confirm(self, newest: float, alone: bool) -> bool:
        """A minute later: does it still stand where it jumped to, and has nobody else begun to speak?
        True where it is back."""
        if self._waiting is None:
            return False
        before, after = self._waiting
        self._waiting = None
        stands = abs(newest - after) < abs(newest - before)
        if stands and alone:
            self.jump = Jump(before, after, 0.0)
        return not stands

    @property
    def frozen(self) -> bool:
        """It stands still although more has flowed than it can hide."""
        if self.value is None:
            return False
        low, high = ENDS_PCT
        stopped = self._step_pct is None or not low < self.value < high
        limit = STOPPED_PCT if stopped else FROZEN_PCT + (self._step_pct or 0.0)
        return abs(self.counted_pct) > limit

    @property
    def known(self) -> bool:
        """Whether there is anything to keep."""
        return self._step_pct is not None or self.jump is not None

    def new_boot(self) -> None:
        self.value, self._waiting, self.counted_pct = None, None, 0.0

    def state(self) -> dict[str, Any]:
        return {
            "jump": None if self.jump is None else [round(v, 1) for v in self.jump],
            "step": self._step_pct,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        kept, step = state["jump"], state["step"]
        self.jump = None if kept is None else Jump(*(float(v) for v in kept))
        self._step_pct = None if step is None else float(step)
