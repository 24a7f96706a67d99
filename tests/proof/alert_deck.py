"""The watch aboard *Marram*: the real desks, watchers, findings and book, minute by minute."""

from array import array
from bisect import bisect_right
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.alerts.rulebook import Rulebook
from monitor.estimation.watcher import Heard, Look, Watcher
from monitor.pipeline.memory import Memory
from monitor.pipeline.mode import ModeKeeper
from monitor.pipeline.watchers import Watchers
from monitor.pipeline.water import WaterDesk
from monitor.records import AlertChange, Column, Estimate, Event, Finding, Reading, Reason, SourceHealth
from monitor.routing.slots import Slots
from tests.proof.alert_boat import Bridge
from tests.proof.alert_minutes import (
    LOOK_S,
    PUMP,
    RUNNING,
    SETTINGS,
    SILENT_AFTER,
    SPEAK,
    START_UTC_S,
    Minute,
    Truth,
)

RULEBOOK = Rulebook(SETTINGS)


def _nobody(event: Event) -> None:
    """Events go nowhere."""


class Deck:
    """The real desks, watchers, findings and book, minute by minute."""

    def __init__(self, seed: int) -> None:
        self.slots = Slots()
        self.slots.of(PUMP, "running")
        self.desk = WaterDesk(SETTINGS, self.slots, _nobody, Memory({}))
        self.watchers = Watchers(SETTINGS, Memory({}), self.desk.ahead)
        self.mode = ModeKeeper(SETTINGS)
        self.bridge = Bridge(seed)
        self.rng = np.random.default_rng([seed, 5])
        self.readings: dict[str, Reading] = {}
        self.boot, self.boot_s = 1, START_UTC_S
        self._off_pct = 0.0
        self._heard_s = dict.fromkeys(SPEAK, START_UTC_S)
        self._busy = self._low = False
        self._filling, self._plumbing = self._watcher("filling"), self._watcher("plumbing")
        self._estimates: Mapping[tuple[str, str], Estimate] = {}
        self.truths: deque[Truth] = deque(maxlen=16)
        self.trusted, self.troubles = True, tuple[Reason, ...]()
        self.changed, self.offset_A = False, 0.02
        """What the charge tracker says of its count."""

    def attach(self) -> None:
        """After a copy: the pump's slot speaks to this deck's desk."""
        self.slots[RUNNING].watch = self.desk._watcher(SETTINGS.pumps[0])

    def reboot(self, now_s: float) -> None:
        self.boot, self.boot_s = self.boot + 1, now_s - 30.0
        self.desk.new_boot(30.0)
        self.watchers.new_boot()
        self.readings.clear()
        self._heard_s = dict.fromkeys(SPEAK, now_s)

    def minute(self, minute: Minute, dark: Sequence[tuple[float, float, str]] = ()) -> list[AlertChange]:
        """What called in it. `dark`: from when until when who is silent."""
        start_s = minute.start_s
        columns = {name: self._here(c) for name, c in minute.columns.items()} if not dark else {
            name: heard
            for name, c in minute.columns.items()
            if (heard := self._here(_without(c, name, dark))).times_s
        }  # fmt: skip
        edges = [e for e in minute.edges if not _dark(e[0], RUNNING, dark)]
        if minute.people:
            self.mode.by_hand({"people": minute.people})
        self.truths.append(minute.truth)
        called = []
        for n in range(1, 4):
            called += self._look(start_s + n * LOOK_S, columns, edges)
        self._take(start_s + 60.0, edges)
        self._close(start_s, columns, minute.truth)
        called += self._look(start_s + 60.0, columns, edges, over=True)
        return called

    def _read(self, name: str, column: Column, n: int) -> None:
        """The newest of its first n readings; "not available" is no word."""
        if n and column.values[n - 1] == column.values[n - 1]:
            self.readings[name] = Reading(column.times_s[n - 1], column.values[n - 1], False)
        elif n and name in self.readings:
            self.readings[name] = self.readings[name]._replace(value=None)

    def _here(self, column: Column) -> Column:
        return Column(array("d", [t - self.boot_s for t in column.times_s]), column.values)

    def _take(self, until_s: float, edges: list[tuple[float, float]]) -> None:
        slot = self.slots[RUNNING]
        while edges and edges[0][0] <= until_s:
            at_s, value = edges.pop(0)
            slot.put(at_s - self.boot_s, value)
            self.readings[RUNNING] = Reading(at_s - self.boot_s, value, False)

    def _close(self, start_s: float, columns: Mapping[str, Column], truth: Truth) -> None:
        here_s = start_s - self.boot_s
        end_s = here_s + 60.0
        columns = {**columns, RUNNING: self.slots[RUNNING].drain()}
        for name, column in columns.items():
            self._read(name, column, len(column.times_s))
        for name, reading in self.readings.items():
            if not reading.silent and end_s - reading.at_s > SILENT_AFTER[name]:
                self.readings[name] = reading._replace(silent=True)
        for source, names in SPEAK.items():
            if any(name in columns and columns[name].times_s for name in names):
                self._heard_s[source] = start_s + 60.0
        self.mode.minute(here_s, start_s, columns)
        mode = self.mode.mode
        self.desk.minute(columns, here_s, start_s, mode)
        estimates, water = self._charge(end_s, truth), self.desk.heard()
        amps = columns.get("house current")
        net_Wh = None if amps is None else float(np.mean(amps.values)) * 13.2 / 60
        minute = Heard(
            here_s, start_s, self.boot, columns, dict(self.readings), mode, estimates, net_Wh, None, water,
        )  # fmt: skip
        for _ in self.watchers.minute(minute):
            pass
        self._estimates = {**water.estimates, **estimates}

    def _charge(self, at_s: float, truth: Truth) -> dict[tuple[str, str], Estimate]:
        self._off_pct += -self._off_pct / 3000 + 0.04 * float(self.rng.normal())
        pct = min(100.0, max(0.0, truth.pct + self._off_pct))
        facts = {"offset_A": self.offset_A, "offset_sd_A": 0.03, "changed": self.changed}
        low, wh = max(0.0, pct - 4.0), 460 * 12.8 / 100
        reason = Reason("charge counted", facts)
        return {
            ("charge_pct", "house"): Estimate("charge_pct", "house", at_s, pct, low, pct + 4, reason),
            ("left_Wh", "house"): Estimate(
                "left_Wh", "house", at_s, pct * wh, low * wh, (pct + 4) * wh, reason
            ),
        }

    def _look(
        self, at_s: float, columns: Mapping[str, Column], edges: list[tuple[float, float]], over: bool = False
    ) -> list[AlertChange]:
        here_s = at_s - self.boot_s
        if not over:
            self._take(at_s, edges)
            for name in _QUICK:
                column = columns.get(name)
                if column is not None:
                    self._read(name, column, bisect_right(column.times_s, here_s))
        running_s = self.desk.running_s(here_s)
        runs = bool(running_s.get(PUMP))
        fallen_L = self.desk.fallen_L() if runs else {}
        self.watchers.look(Look(here_s, self.boot, self.readings, self.mode.mode, running_s, fallen_L))
        self._busy = runs or any(f.on for f in self._fillings())
        if not over and not self._busy and not self._low:
            return []
        found = self.findings(here_s, running_s, fallen_L)
        self.desk.moving_nothing(self.watchers.idle_pumps(), here_s)
        self._low = any(f.holds for f in found if f.rule == "low voltage")
        return self.bridge.step(at_s - START_UTC_S, self.boot, here_s, found)

    def _fillings(self) -> Iterator[Any]:
        return iter(self._filling._tanks.values())  # type: ignore[attr-defined]

    def _watcher(self, name: str) -> Watcher:
        return next(w for w in self.watchers._all if w.name == name)

    def findings(
        self, here_s: float, running_s: Mapping[str, float | None], fallen_L: Mapping[str, float | None]
    ) -> list[Finding]:
        estimates = {
            **self._estimates,
            **{(e.name, e.subject): e for e in self._plumbing.estimates()},
        }
        kinds = {s.name: s.kind for s in SETTINGS.sources}
        sources = tuple(
            SourceHealth(name, kinds[name], True, self._heard_s[name] - self.boot_s) for name in SPEAK
        )
        return findings(
            Facts(
                SETTINGS,
                here_s,
                0.0,
                3,
                self.readings,
                estimates,
                sources,
                self.trusted,
                {"house": -3600.0},
                running_s,
                fallen_L,
                self.desk.verdicts(),
                self.troubles,
                self.watchers.findings(),
                mode=self.mode.mode,
                rulebook=RULEBOOK,
            )
        )


_QUICK = ("forward level", "midship level", f"{PUMP} current", f"{PUMP} pressure", "house voltage")


def _dark(at_s: float, name: str, dark: Sequence[tuple[float, float, str]]) -> bool:
    return any(a <= at_s < b and (who == name or name in SPEAK.get(who, ())) for a, b, who in dark)


def _without(column: Column, name: str, dark: Sequence[tuple[float, float, str]]) -> Column:
    if not any(who == name or name in SPEAK.get(who, ()) for _, _, who in dark):
        return column
    kept = [(t, v) for t, v in zip(column.times_s, column.values, strict=True) if not _dark(t, name, dark)]
    return Column(array("d", [t for t, _ in kept]), array("d", [v for _, v in kept]))
