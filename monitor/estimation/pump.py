"""The pump as an instrument: its runs with their own exact times, and how long one refill takes."""

from bisect import bisect_left
from collections import deque
from statistics import fmean
from typing import Any

from monitor.estimation.accumulator import pump_drawdown_L
from monitor.records import Column, Event, EventKind
from monitor.settings import Pump

BOUNCE_S = 0.15
"""A contact that opens for less than this has bounced; a pump needs longer to stop. [s]"""
NOISE_S = 0.02
"""A pump that "ran" for less than this did not. [s]"""
LOST_S = 120.0
"""Past this silence of the running signal, what the pump did meanwhile is unknown. [s]"""
KEPT_RUNS = 2000


class PumpRuns:
    """Runs from the edges of a pump's running signal; a run is told once it is surely over.

    A stop that was never heard ends the run where the signal was last heard, marked "cut": such
    a run's length says nothing. The events' boot is the caller's to set.
    """

    def __init__(self, pump: Pump) -> None:
        self._pump = pump
        self.flow_L_per_s = pump.flow_L_per_min / 60.0
        self.runs: deque[tuple[float, float]] = deque(maxlen=KEPT_RUNS)
        """Start and end of the latest whole runs, in order."""
        self.heard_s: float | None = None
        """When the signal was last heard."""
        self._start_s: float | None = None
        self._stop_s: float | None = None

    def go_on(self, before: "PumpRuns") -> None:
        """What `before` has heard, the run under way with it, is told by this pump's flow from now on."""
        self.runs, self.heard_s = before.runs, before.heard_s
        self._start_s, self._stop_s = before._start_s, before._stop_s

    def take(self, running: Column) -> list[Event]:
        """A stretch of the running signal, NaN where it was not available; the runs that ended."""
        told = []
        for at_s, value in zip(running.times_s, running.values, strict=True):
            event = self.edge(at_s, value > 0.5) if value == value else self.tick(at_s)
            if event is not None:
                told.append(event)
        return told

    def edge(self, at_s: float, running: bool) -> Event | None:
        """The pump was heard running or not; repeating a state does no harm. Perhaps a run ended."""
        event = self.tick(at_s)
        self.heard_s = at_s
        if running and self._stop_s is not None:
            self._stop_s = None
        elif running and self._start_s is None:
            self._start_s = at_s
        elif not running and self._start_s is not None and self._stop_s is None:
            self._stop_s = at_s
        return event

    def tick(self, at_s: float) -> Event | None:
        """Time has come to `at_s`: a run whose stop has held, or whose signal is lost, is over."""
        if self._start_s is None:
            return None
        if self._stop_s is not None:
            return self._over(self._stop_s, cut=False) if at_s - self._stop_s >= BOUNCE_S else None
        if self.heard_s is not None and at_s - self.heard_s > LOST_S:
            return self._over(self.heard_s, cut=True)
        return None

    def running_for_s(self, at_s: float) -> float | None:
        """How long the pump has been running without a stop; 0 at rest, None while unheard. [s]"""
        if self.heard_s is None or at_s - self.heard_s > LOST_S:
            return None
        return at_s - self._start_s if self._start_s is not None and self._stop_s is None else 0.0

    def litres(self, start_s: float, end_s: float) -> float:
        """What the pump moves in a run: flow times time, within some 10 % (common practice). [L]"""
        return self.flow_L_per_s * (end_s - start_s)

    def _over(self, end_s: float, cut: bool) -> Event | None:
        assert self._start_s is not None
        start_s, self._start_s, self._stop_s = self._start_s, None, None
        if end_s - start_s < NOISE_S:
            return None
        facts: dict[str, Any] = {"litres": round(self.litres(start_s, end_s), 3)}
        if cut:
            facts["cut"] = True
        else:
            self.runs.append((start_s, end_s))
        return Event(EventKind.PUMP_RUN, self._pump.name, 0, start_s, end_s, facts)


class RefillTime:
    """How long the pump runs to fill the accumulator while nobody draws: t_0 = V_d / Q.

    It begins at what the settings promise. A run is never shorter than a refill, draws only
    lengthen it: so t_0 is where lone runs crowd, if hardly any is shorter, or else the lower edge
    of all lone runs where that lies elsewhere than promised. What only ever takes one same length
    above the promise is a flush of a fixed volume, and teaches nothing.
    """

    KEPT, LEAST, LEAST_EDGE, LEAST_ABOVE = 80, 15, 30, 60
    """So many runs must have been seen for a crowd, an edge below the promise, and one above it: the
    shortest of few draws lies above a refill by chance."""
    CROWD_SHARE, SHORTER_SHARE, FLUSH_SHARE = 0.6, 0.05, 0.7
    WIDTH, EVERY = 0.05, 4
    FROM, TO, UP_TO = 0.35, 1.12, 1.6
    """How far from the promise t_0 may lie, as shares of it: where runs crowd, and at an edge."""

    def __init__(self, pump: Pump) -> None:
        self.promised_s = 60.0 * pump_drawdown_L(pump) / pump.flow_L_per_min
        self.seconds = self.promised_s
        self.learned = False
        self.sure = False
        """Whether runs have borne out what `seconds` says."""
        self._timing_s = pump.timing_s
        self._fine = pump.timing_s <= 0.15 * self.promised_s
        self._kept: deque[float] = deque(maxlen=self.KEPT)
        self._unlearned = 0

    @property
    def kept(self) -> int:
        """So many lone runs it is learned from."""
        return len(self._kept)

    @property
    def unproven(self) -> bool:
        """Whether runs that are timed well enough have yet to bear it out."""
        return self._fine and not self.sure

    def add(self, seconds: float) -> None:
        """A run that stood alone, of any length."""
        if not self.FROM * self.promised_s - self._timing_s < seconds < 2.4 * self.promised_s:
            return
        self._kept.append(seconds)
        self._unlearned += 1
        if self._unlearned >= self.EVERY:
            self._learn(sorted(self._kept))

    def _learn(self, ordered: list[float]) -> None:
        self._unlearned = 0
        found_s = self._crowd(ordered) if self._fine else None
        enough = len(ordered) >= self.LEAST_EDGE
        if self._fine and found_s is None and enough:
            found_s = self._edge(ordered)
            if found_s is not None and found_s > self.promised_s and len(ordered) < self.LEAST_ABOVE:
                found_s, enough = None, False
        self.learned = found_s is not None
        self.sure = self._fine and (self.learned or enough)
        self.seconds = self.promised_s if found_s is None else found_s

    def _crowd(self, ordered: list[float]) -> float | None:
        """The mean of the densest window, if it is crowded, lowest, and not too long."""
        if len(ordered) < self.LEAST:
            return None
        best = (0, 0, 0)
        for first, shortest in enumerate(ordered):
            last = bisect_left(ordered, shortest * (1 + 2 * self.WIDTH) + self._timing_s)
            best = max(best, (last - first, -first, last))
            if len(ordered) - first <= best[0]:
                break
        count, first, last = best[0], -best[1], best[2]
        middle = fmean(ordered[first:last])
        crowded = count >= max(self.LEAST, self.CROWD_SHARE * len(ordered))
        lowest = first <= self.SHORTER_SHARE * len(ordered)
        return middle if crowded and lowest and middle <= self.TO * self.promised_s else None

    def _edge(self, ordered: list[float]) -> float | None:
        """The shortest lone runs, where they are not what was promised."""
        first = int(self.SHORTER_SHARE * len(ordered))
        last = bisect_left(ordered, ordered[first] * (1 + 2 * self.WIDTH) + self._timing_s)
        edge_s = fmean(ordered[1 : first + 1])
        off_s, near_s = edge_s - self.promised_s, (self.TO - 1) * self.promised_s
        near = -0.8 * near_s - 0.5 * self._timing_s <= off_s <= near_s + self._timing_s
        flush = edge_s > self.promised_s and last >= self.FLUSH_SHARE * len(ordered)
        if near or flush or edge_s > self.UP_TO * self.promised_s:
            return None
        return edge_s

    def state(self) -> list[float]:
        return [round(s, 3) for s in self._kept]

    def restore(self, state: list[float]) -> None:
        self._kept.clear()
        self._kept.extend(state)
        if state:
            self._learn(sorted(self._kept))
