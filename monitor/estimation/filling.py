"""Filling mode: a tank being filled, live, and the word in time before it runs over.

Begun by the crew, or by itself when the level rises steadily while the boat lies still. Readings of a
quarter of a minute, a straight line through the latest of them: slosh averages out, a fill does not.
"""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Any

from monitor.errors import CommandError
from monitor.estimation.sounding import Sounding, table_of
from monitor.estimation.watcher import Heard, Look
from monitor.records import Command, Estimate, Event, EventKind, Filling, Finding, Reason
from monitor.settings import Settings, Tank

LOOKS = 12
"""So many looks, of a quarter of a minute each, make the line."""
LEAST_LOOKS = 3
RISES_PCT = 1.5
"""The line must rise by this much over its length,"""
OVER_NOISE = 8.0
"""and by so many times what the readings scatter about it: one step up, as on a new tack, scatters more."""
FINEST_PCT = 0.1
PAUSE_S = 10 * 60.0
"""Without a rise for so long a fill found by itself is over;"""
FORGOTTEN_S = 60 * 60.0
"""one that the crew began was forgotten."""
NEARLY, LESS = 0.95, 0.93
"""Shares of the capacity at which "nearly full" begins and is over."""
UNDER_WAY = ("sailing", "motoring")


@dataclass(slots=True)
class _Watched:
    """One tank."""

    tank: Tank
    sounding: Sounding
    looks: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=LOOKS))
    """Elapsed time and reading [%]."""
    on: bool = False
    by_crew: bool = False
    from_pct: float | None = None
    risen_s: float = 0.0
    """When it last rose."""
    top_pct: float = 0.0
    drawn_L: float = 0.0
    """Pumped out meanwhile."""
    share: float | None = None
    heard: bool | None = None


class FillingWatch:
    """Answers for "tank nearly full"; `fillings` are for the page."""

    name = "filling"
    wishes = frozenset({"filling"})

    def __init__(self, settings: Settings) -> None:
        self._tanks = {t.name: _Watched(t, Sounding(table_of(t))) for t in settings.tanks}
        self._drawn_by = {p.name: p.tanks or list(self._tanks) for p in settings.pumps}

    # ---- what is heard

    def take(self, minute: Heard) -> None:
        for name, watched in self._tanks.items():
            table = minute.water.estimates.get(("tank_table_off_L", name))
            if table is not None and table.reason.facts.get("table"):
                watched.sounding = Sounding(table.reason.facts["table"])
            watched.share = _value(minute.water.estimates.get(("tank_share", name)))
        for event in minute.water.events:
            if event.kind == EventKind.PUMP_RUN:
                self._ran(self._drawn_by.get(event.subject, []), float(event.facts.get("litres") or 0.0))

    def _ran(self, tanks: list[str], litres: float) -> None:
        for name in tanks:
            watched = self._tanks[name]
            if watched.on:
                watched.drawn_L += litres * (1 / len(tanks) if watched.share is None else watched.share)

    def look(self, now: Look) -> None:
        for name, watched in self._tanks.items():
            reading = now.readings.get(f"{name} level")
            watched.heard = reading is not None and not reading.silent and reading.value is not None
            if reading is None or reading.silent or reading.value is None:
                continue
            if not watched.looks or reading.at_s > watched.looks[-1][0]:
                watched.looks.append((reading.at_s, reading.value))
            self._follow(watched, now)

    def _follow(self, watched: _Watched, now: Look) -> None:
        line = _line(watched.looks)
        if line is None:
            return
        level_pct, per_s, scatter_pct, span_s = line
        if not watched.on:
            rise_pct = per_s * span_s
            rises = rise_pct >= max(RISES_PCT, OVER_NOISE * max(scatter_pct, FINEST_PCT))
            if rises and len(watched.looks) == LOOKS and now.mode.place not in UNDER_WAY:
                lowest_pct = sorted(v for _, v in watched.looks)[1]  # One may be a wave's.
                self._begin(watched, now.at_s, lowest_pct, by_crew=False)
            return
        if watched.from_pct is None:
            watched.from_pct = level_pct - per_s * span_s
        if level_pct > watched.top_pct + max(RISES_PCT / 3, scatter_pct):
            watched.top_pct, watched.risen_s = level_pct, now.at_s
        if now.at_s - watched.risen_s > (FORGOTTEN_S if watched.by_crew else PAUSE_S):
            watched.on = False

    def _begin(self, watched: _Watched, at_s: float, from_pct: float | None, *, by_crew: bool) -> None:
        watched.on, watched.by_crew, watched.from_pct = True, by_crew, from_pct
        watched.risen_s, watched.top_pct, watched.drawn_L = at_s, from_pct or 0.0, 0.0

    # ---- what the crew wants

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """ "filling": the subject is a tank, `on` whether it is being filled."""
        watched = self._tanks.get(command.subject)
        if watched is None:
            known = ", ".join(self._tanks) or "none"
            raise CommandError(
                "no tank is called {tank!r}; there are: {known}", tank=command.subject, known=known
            )
        if not command.facts.get("on"):
            watched.on = False
            return
        if not watched.heard:
            raise CommandError(
                "the sender of {tank} is not heard: its filling cannot be followed", tank=command.subject
            )
        if watched.on:
            watched.by_crew = True
            return
        line = _line(watched.looks)
        self._begin(watched, at_s, line[0] if line else watched.looks[-1][1], by_crew=True)

    # ---- what is told

    def fillings(self) -> tuple[Filling, ...]:
        """Every tank being filled now."""
        found = []
        for name, watched in self._tanks.items():
            line = _line(watched.looks)
            if not watched.on or line is None or watched.from_pct is None:
                continue
            level_pct, per_s, _, span_s = line
            litres, capacity_L = watched.sounding.litres, watched.tank.capacity_L
            in_it_L = litres(level_pct)
            poured_L = in_it_L - litres(watched.from_pct) + watched.drawn_L
            rate = (in_it_L - litres(level_pct - per_s * span_s)) / span_s * 60
            flows = rate > 0.1
            full_s = 60 * max(0.0, capacity_L - in_it_L) / rate if flows else None
            found.append(
                Filling(name, max(0.0, poured_L), rate if flows else None, full_s, 100 * in_it_L / capacity_L)
            )
        return tuple(found)

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        return [self._nearly_full(name, watched) for name, watched in self._tanks.items()]

    def _nearly_full(self, name: str, watched: _Watched) -> Finding:
        holds = clears = None
        told: dict[str, Any] = {"tank": name}
        line = _line(watched.looks) if watched.on else None
        if not watched.on and watched.heard is not None:
            holds, clears = False, True
        elif watched.on and watched.heard and line is not None:
            capacity_L = watched.tank.capacity_L
            in_it_L = watched.sounding.litres(line[0])
            holds, clears = in_it_L >= NEARLY * capacity_L, in_it_L < LESS * capacity_L
            full_s = next((f.full_in_s for f in self.fillings() if f.tank == name), None)
            told |= {"level_pct": 100 * in_it_L / capacity_L, "full_s": full_s}
        return Finding("tank nearly full", name, holds, clears, Reason("alert: tank nearly full", told))

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        """Elapsed time began anew: what the crew began goes on, from where it was."""
        for watched in self._tanks.values():
            watched.looks.clear()
            watched.risen_s, watched.heard = 0.0, None

    def state(self) -> dict[str, Any]:
        return {
            name: [watched.by_crew, watched.from_pct, round(watched.drawn_L, 2)]
            for name, watched in self._tanks.items()
            if watched.on
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        for name, (by_crew, from_pct, drawn_L) in state.items():
            if name in self._tanks:
                self._begin(self._tanks[name], 0.0, from_pct, by_crew=by_crew)
                self._tanks[name].drawn_L = drawn_L


def _line(looks: deque[tuple[float, float]]) -> tuple[float, float, float, float] | None:
    """The straight line through the looks: its end [%], its slope [%/s], how they scatter [%], and over
    how long it goes [s]."""
    n = len(looks)
    if n < LEAST_LOOKS:
        return None
    middle_s = sum(t for t, _ in looks) / n
    mean = sum(v for _, v in looks) / n
    spread = sum((t - middle_s) ** 2 for t, _ in looks)
    slope = sum((t - middle_s) * v for t, v in looks) / spread
    scatter = sqrt(sum((v - mean - slope * (t - middle_s)) ** 2 for t, v in looks) / n)
    end_s = looks[-1][0]
    return mean + slope * (end_s - middle_s), slope, scatter, end_s - looks[0][0]


def _value(estimate: Estimate | None) -> float | None:
    return None if estimate is None else estimate.value
