"""What cannot wait for the minute: the run of one pump under way, and which clause it meets."""

from collections import deque
from collections.abc import Mapping
from statistics import median
from typing import NamedTuple

from monitor.estimation.plumbing_balance import Balance
from monitor.estimation.plumbing_habits import FREE, GUARDED, LONGER, Habits, group
from monitor.estimation.plumbing_run import LEVEL_SPREAD, Glance, RunUnderWay
from monitor.estimation.plumbing_verdicts import BURST
from monitor.estimation.sounding import Sounding, table_of
from monitor.estimation.watcher import Look
from monitor.records import Mode, Reading, Severity
from monitor.settings import Pump, Tank

ALARM_SHARE = {GUARDED: 0.08, FREE: 0.15}
"""An uncut run that has moved this share of the tanks is an alarm."""
MORE, LOOK_S = 1.2, 15.0
"""An open pump moves more than one that works against its pressure, and the next look is so far off: the
alarm comes before the share is gone."""
STILL_S = 180.0
"""Levels of so long before a run are what it is judged against."""
FRESH_S = 20.0


class Clause(NamedTuple):
    """Why the run under way is none of the usual."""

    fault: str | None
    by: str = ""
    """What tells it: "pressure", "current", "tank", "length" or "share"."""
    severity: Severity | None = None
    """Its grade where it is not the rule's."""


class AtOnce:
    """One pump, look by look."""

    def __init__(self, pump: Pump, tanks: list[Tank], habits: Habits, balance: Balance) -> None:
        self.name = pump.name
        self._tanks, self.habits, self._balance = tanks, habits, balance
        self._soundings = {t.name: Sounding(table_of(t)) for t in tanks}
        self.capacity_L = sum(t.capacity_L - t.unusable_L for t in tanks)
        self.run = RunUnderWay(habits)
        self._still: deque[tuple[float, float]] = deque(maxlen=8)
        """When, and what the tanks held, at the latest looks before the run. [L]"""
        self._low = False
        self.raised = False
        """Whether the latest run was told as a fault."""
        self.mode = Mode("at anchor", "awake")
        self.ran_s: float | None = None

    def new_boot(self) -> None:
        """Elapsed time began anew."""
        self.run.rest()
        self._still.clear()
        self.ran_s, self.raised = None, False

    def look(self, now: Look) -> None:
        """How things stand now."""
        self.mode = now.mode
        self.ran_s = ran_s = now.running_s.get(self.name)
        held_L = self._held_L(now.readings)
        if not ran_s:
            self.run.rest()
            if held_L is not None and ran_s is not None:
                self._still.append((now.at_s, held_L))
        else:
            self.run.look(self._glance(now, ran_s, held_L))
            clause = self.clause()
            # A long run that was only warned of may be a new habit: it is learned.
            self.raised = self.raised or (clause.fault is not None and clause.severity is None)

    def _glance(self, now: Look, ran_s: float, held_L: float | None) -> Glance:
        moving = now.mode.place in ("sailing", "motoring")
        fallen_L, spread_L = now.fallen_L.get(self.name), 0.01 * self.capacity_L
        before = [held for at_s, held in self._still if at_s >= now.at_s - ran_s - STILL_S]
        if held_L is not None and len(before) >= 4 and not moving:
            fallen_L, spread_L = median(before) - held_L, LEVEL_SPREAD * self.capacity_L
        elif ran_s < 300:
            fallen_L = None
        amps, bars = (
            _fresh(now.readings.get(f"{self.name} {quantity}"), now.at_s - min(ran_s - 2.0, FRESH_S))
            for quantity in ("current", "pressure")
        )
        pumped_L = ran_s * self._balance.L_per_s
        kind = group(now.mode)
        return Glance(ran_s, amps, bars, fallen_L, spread_L, pumped_L, kind, self._low or moving)

    def _held_L(self, readings: Mapping[str, Reading]) -> float | None:
        total_L = 0.0
        for tank in self._tanks:
            reading = readings.get(f"{tank.name} level")
            if reading is None or reading.silent or reading.value is None:
                return None
            total_L += self._soundings[tank.name].litres(reading.value) - tank.unusable_L
        if not self._tanks:
            return None
        self._low = total_L <= max(5.0, 0.03 * self.capacity_L)
        return total_L

    def limit_s(self) -> float:
        """The run that is told as too long, in this mode. [s]"""
        return self.habits.limit_s(group(self.mode))

    def alarm_s(self) -> float:
        """The uncut run that is an alarm: so much of the tanks, and past the boat's own longest. [s]"""
        kind = group(self.mode)
        if not self.capacity_L:
            return 2 * self.limit_s()
        gone_s = ALARM_SHARE[kind] * self.capacity_L / (MORE * self._balance.L_per_s) - LOOK_S
        return max(gone_s, LONGER * self.habits.lengths[kind].longest_s())

    def clause(self) -> Clause:
        """What the run under way is, if none of the usual."""
        run, ran_s = self.run, self.ran_s
        if not ran_s or run.glance is None:
            return Clause(None)
        if run.named is not None:
            return Clause(run.named, run.told_by)
        alarm, past = ran_s >= self.alarm_s(), ran_s >= self.limit_s()
        if not (alarm or (past and not run.ordinary)):
            return Clause(None)
        likely = run.likeliest_fault() if run.glance.spoken and not run.ordinary else BURST
        if likely != BURST:
            return Clause(likely, "tank")
        return Clause(BURST, "share") if alarm else Clause(BURST, "length", Severity.WARNING)


def _fresh(reading: Reading | None, since_s: float) -> float | None:
    usable = reading is not None and not reading.silent and reading.at_s >= since_s
    return reading.value if reading is not None and usable else None
