"""The beat of the watch: which minute is under way, and what falls due when the data move on.

Time comes from the data. A minute is closed when something later is heard, alerts are judged every
quarter of a minute, an hour of silence is one gap, and time that steps back or leaps is another boot.
"""

from typing import Protocol

from monitor.clock import DAY_S, HOUR_S, MINUTE_S

JUDGE_EVERY_S = 15.0
BACK_S = 5.0
"""A step back by more than this is another boot, not late frames."""
JUMP_S = 7.0 * DAY_S
"""A recording that leaps ahead by more than this has had its clock set."""
EDGE_S = 0.5
"""A minute is closed this long after its end, so that other threads' last readings are in it."""


class Tasks(Protocol):
    """What is done at the beat."""

    def began(self, at_s: float) -> None:
        """The first reading of a boot."""

    def begin_anew(self, at_s: float) -> None:
        """Elapsed time began anew: a new boot, and nothing may be measured across."""

    def minute_over(self, start_s: float, end_s: float) -> None:
        """Take in what was heard in this minute."""

    def silence(self, from_s: float, to_s: float) -> None:
        """Nothing was heard for over an hour: one gap, not a thousand empty minutes."""

    def judge(self, at_s: float) -> None:
        """Judge alerts as things stand."""


class Beat:
    """Calls the tasks in order; owned by the pipeline's thread."""

    def __init__(self, tasks: Tasks) -> None:
        self._tasks = tasks
        self.now_s: float | None = None
        """The newest elapsed time that the data have shown."""
        self.started_s = 0.0
        self.judge_at_s = 0.0
        self._minute_end_s = 0.0

    def tick(self, at_s: float) -> None:
        """Let time pass although nothing was heard."""
        if self.now_s is None or at_s - EDGE_S >= self.judge_at_s:
            self.advance(at_s - EDGE_S if self.now_s is not None else at_s)

    def advance(self, at_s: float) -> None:
        """Do everything that fell due before `at_s`."""
        if self.now_s is None:
            self._begin(at_s)
        elif at_s < self.now_s - BACK_S or at_s > self.now_s + JUMP_S:
            self._close_minute()
            self._tasks.begin_anew(at_s)
            self._begin(at_s)
        self.now_s = max(self.now_s or at_s, at_s)
        if at_s - self._minute_end_s > HOUR_S:
            self._close_minute()
            self._pass_over(at_s)
        while at_s >= self.judge_at_s:
            due_s = self.judge_at_s
            self.judge_at_s += JUDGE_EVERY_S  # First: a mistake in a judgement must not stop time.
            if due_s >= self._minute_end_s:
                self._close_minute()
            self._tasks.judge(due_s)

    def finish(self) -> None:
        """Close the minute under way and judge it."""
        self._close_minute()
        self._tasks.judge(self._minute_end_s - MINUTE_S)

    def _begin(self, at_s: float) -> None:
        self.now_s = self.started_s = at_s
        self._minute_end_s = (at_s // MINUTE_S + 1) * MINUTE_S
        self.judge_at_s = (at_s // JUDGE_EVERY_S + 1) * JUDGE_EVERY_S
        self._tasks.began(at_s)

    def _close_minute(self) -> None:
        end_s = self._minute_end_s
        self._minute_end_s = end_s + MINUTE_S
        self._tasks.minute_over(end_s - MINUTE_S, end_s)

    def _pass_over(self, to_s: float) -> None:
        self._tasks.silence(self._minute_end_s, to_s)
        self._minute_end_s = (to_s // MINUTE_S + 1) * MINUTE_S
        self.judge_at_s = to_s // JUDGE_EVERY_S * JUDGE_EVERY_S
