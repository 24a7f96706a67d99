"""The water desk: tanks, pumps and heaters, how long the water lasts, and whether it leaks away."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Boot, Interval
from monitor.estimation.a_head import AHead
from monitor.estimation.forecast import as_estimate
from monitor.estimation.leak import TIGHT, LeakJudge
from monitor.estimation.pump import PumpRuns
from monitor.estimation.tank_figures import DOUBTFUL, ISOLATED
from monitor.estimation.tank_orders import ORDERS, obey
from monitor.estimation.tanks import TankLevel
from monitor.estimation.tanks_in_use import mark_stuck
from monitor.estimation.watcher import WaterHeard
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_plan import air_channel
from monitor.estimation.water_use import WaterHours, WaterPart
from monitor.pipeline.heads import heads_aboard
from monitor.pipeline.memory import Memory
from monitor.pipeline.past import KEPT_S, Past
from monitor.pipeline.recall import kept_hours
from monitor.records import Column, Command, Ebb, Estimate, Event, EventKind, Mode, Reason
from monitor.routing.slots import Slots
from monitor.settings import Pump, Settings
from monitor.storage.history import History

KEPT_RUNS_S = 2 * DAY_S
REMEMBER_EVERY_S = HOUR_S
IDLE_FOUND_S = 45.0
"""So long it takes to find that a pump moves nothing."""


class WaterDesk:
    """Owns a level for each tank and, for each pump, its runs and its leak judge."""

    def __init__(
        self,
        settings: Settings,
        slots: Slots,
        told: Callable[[Event], None],
        memory: Memory,
    ) -> None:
        self._settings = settings
        self._told = told
        self._idle: dict[str, float] = {}
        """Since when it is known that a pump's run under way moves no water."""
        self._events: list[Event] = []
        """Told since watchers were last given any."""
        self.tanks = {tank.name: TankLevel(tank) for tank in settings.tanks}
        self.runs = {pump.name: PumpRuns(pump) for pump in settings.pumps}
        self.judges = {pump.name: LeakJudge(pump, settings.heaters) for pump in settings.pumps}
        self._seen = [p for p in settings.pumps if f"{p.name} running" in slots]
        self._hours = WaterHours(bool(self._seen))
        self._gone = WaterUse(settings.boat.crew)
        """All that went out of the tanks; what `ahead` reckons with has no leak in it."""
        self._a_head = AHead(self._gone, settings.boat.zone)
        self._past = Past()
        self.ahead = WaterAhead(settings)
        self._remembered_s = float("-inf")
        self._changed = False
        self._at_s = 0.0
        self._utc_s: float | None = None
        self._offset_s: float | None = None
        self._minutes: deque[tuple[float, float]] = deque()
        """End of a minute and the litres used in it, for the kept span."""
        self._pumped: deque[tuple[float, float]] = deque()
        """Start of a run and its litres, for the kept span."""
        self._used_L = 0.0
        self._run_counts = dict.fromkeys(self.runs, 0)
        self._before_run_L: dict[str, float | None] = {}
        for pump in self._seen:
            slots[f"{pump.name} running"].watch = self._watcher(pump)
        memory.restore("water", self._restore)

    # ---- the pump, at once

    def _watcher(self, pump: Pump) -> Callable[[float, float], None]:
        def watch(at_s: float, value: float) -> None:
            runs = self.runs[pump.name]  # Looked up each time: a new boot brings new ones.
            was_running = bool(runs.running_for_s(at_s))
            event = runs.edge(at_s, value > 0.5) if value == value else runs.tick(at_s)
            if not was_running and value > 0.5:
                self._before_run_L[pump.name] = self._tanks_L(pump)
            if event is not None:
                self._ran(pump, event)

        return watch

    def _ran(self, pump: Pump, event: Event) -> None:
        event = self._without_idle(pump.name, event)
        assert event.end_s is not None
        self._tell(event)
        self._run_counts[pump.name] += 1
        litres = float(event.facts["litres"])
        self._used_L += litres
        self._pumped.append((event.start_s, litres))
        if not event.facts.get("cut"):
            self.judges[pump.name].run(event.start_s, event.end_s)
        tanks = self._drawn_from(pump)
        for name in tanks:
            self.tanks[name].pumped(litres, len(tanks))
        if self._offset_s is not None:
            self._hours.pumped(event.start_s + self._offset_s, event.end_s + self._offset_s, litres)
        self._changed = True

    def moving_nothing(self, pumps: Iterable[str], at_s: float) -> None:
        """These are found now to run dry or against a closed system: their runs count no more litres."""
        for name in pumps:
            if self.runs[name].running_for_s(at_s):
                self._idle.setdefault(name, at_s)

    def _without_idle(self, pump: str, event: Event) -> Event:
        """A run as it was while it moved water."""
        found_s = self._idle.pop(pump, None)
        if found_s is None or event.end_s is None:
            return event
        moved_s = max(0.0, found_s - IDLE_FOUND_S - event.start_s)
        share = min(1.0, moved_s / (event.end_s - event.start_s))
        return replace(event, facts={**event.facts, "litres": round(share * float(event.facts["litres"]), 3)})

    def _drawn_from(self, pump: Pump) -> list[str]:
        """Its tanks whose valves are not said to be shut; all where they are all said to be."""
        names = pump.tanks or list(self.tanks)
        return [n for n in names if self.tanks[n].condition != ISOLATED] or names

    def _tanks_L(self, pump: Pump) -> float | None:
        found = [self.tanks[n].estimates(self._at_s)[0].value for n in self._drawn_from(pump)]
        return None if not found or None in found else sum(v for v in found if v is not None)

    # ---- what the crew says

    wishes = ORDERS

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """A tank is shut off, doubtful, filled or dipped. Raises CommandError, saying why."""
        event = obey(self.tanks, command, at_s)
        self._changed = True
        if event is not None:
            self._tell(event)
            self._hours.filled()

    # ---- a minute

    def minute(self, columns: Mapping[str, Column], start_s: float, utc_s: float | None, mode: Mode) -> None:
        end_s = start_s + MINUTE_S
        self._at_s, self._utc_s = end_s, None if utc_s is None else utc_s + MINUTE_S
        self._offset_s = None if utc_s is None else utc_s - start_s
        heel = next((c for n in self._settings.instruments if (c := columns.get(f"{n.name} heel"))), None)
        for name, tank in self.tanks.items():
            level = columns.get(f"{name} level")
            for event in tank.take(level, heel) if level is not None else ():
                self._tell(event)
                self._hours.filled()
                self._changed = True
        self._heaters(columns, end_s)
        asleep = mode.people in ("asleep", "away", "laid up")
        for pump in self._seen:
            ended = self.runs[pump.name].tick(end_s)
            if ended is not None:
                self._ran(pump, ended)
            judge = self.judges[pump.name]
            judge.quiet(end_s, asleep)
            pressure_bar = _last(columns.get(f"{pump.name} pressure"))
            if pressure_bar is not None:
                judge.pressure(end_s, pressure_bar)
            running_s = self.runs[pump.name].running_for_s(end_s)
            if running_s is not None:
                judge.tick(end_s, running=running_s > 0)
            mark_stuck([self.tanks[name] for name in pump.tanks or self.tanks])
        self._count(end_s, mode)

    def _heaters(self, columns: Mapping[str, Column], end_s: float) -> None:
        for heater in self._settings.heaters:
            temperature = _last(columns.get(f"{heater.name} temperature"))
            on = _last(columns.get(f"{heater.name} on"))
            for judge in self.judges.values():
                judge.heater(heater.name, end_s, temperature, None if on is None else on > 0.5)

    def _count(self, end_s: float, mode: Mode) -> None:
        """Litres of the minute into the hours of use; what is left onto the axis."""
        used_L, self._used_L = self._used_L, 0.0
        left = self._left(end_s)
        if self._utc_s is not None:
            heard = any(self.runs[p.name].running_for_s(end_s) is not None for p in self._seen)
            steady = left is not None and left.reason.id in ("water in the tanks", "water, some shut off")
            self._hours.minute(self._utc_s, heard, left.value if left is not None and steady else None)
            for part in self._hours.drain():
                if not self._seen:
                    used_L += part.litres
                self._keep(part, mode, self.ahead.use.heads)
            known = heard if self._seen else steady
            for event in self.ahead.minute(
                self._utc_s, used_L if known else None, None if left is None else left.value
            ):
                self._told(replace(event, start_s=end_s))
            if left is not None:
                self._past.see(self._utc_s, left)
        self._minutes.append((end_s, used_L))
        for kept in (self._minutes, self._pumped):
            while kept and kept[0][0] < end_s - KEPT_RUNS_S:
                kept.popleft()

    def _keep(self, part: WaterPart, mode: Mode, heads: int) -> None:
        """Used by so many, into both histories."""
        for use in (self._gone, self.ahead.use):
            use.used(part.hour_utc_s, mode.place, mode.people, part.litres, part.covered_s, heads)

    def heard(self) -> WaterHeard:
        """What watchers may know of the minute that was just taken in."""
        at_s, (events, self._events) = self._at_s, (self._events, [])
        return WaterHeard(
            tuple(events),
            self.running_s(at_s),
            self.fallen_L(),
            self.verdicts(),
            {name: self.judges[name].refill.seconds for name in self.judges},
            {(e.name, e.subject): e for e in self.estimates()},
        )

    def _tell(self, event: Event) -> None:
        self._events.append(event)
        self._told(replace(event, boot=-1))

    def put_right(self, settings: Settings) -> None:
        """A pump's flow, its drawdown or a tank's table was measured: begin anew from what was learned, as
        after a restart; what was heard of the pumps' runs goes on."""
        state, runs, before = self._state(), self.runs, self._settings
        self._settings = settings
        self.runs = {pump.name: PumpRuns(pump) for pump in settings.pumps}
        for name, went_on in self.runs.items():
            went_on.go_on(runs[name])
        self.judges = {p.name: LeakJudge(p, settings.heaters) for p in settings.pumps}
        self.tanks = {tank.name: TankLevel(tank) for tank in settings.tanks}
        self._seen = [p for p in settings.pumps if p.name in {seen.name for seen in self._seen}]
        self._restore(state)
        for was, tank in zip(before.tanks, settings.tanks, strict=True):
            if was.sounding != tank.sounding:
                self.tanks[tank.name].retabled()
        self._changed = True

    def new_boot(self, at_s: float) -> None:
        """Elapsed time began anew."""
        state = self._state()
        self.runs = {pump.name: PumpRuns(pump) for pump in self._settings.pumps}
        self.judges = {p.name: LeakJudge(p, self._settings.heaters) for p in self._settings.pumps}
        self.tanks = {tank.name: TankLevel(tank) for tank in self._settings.tanks}
        self._minutes.clear()
        self._pumped.clear()
        self.ahead.new_boot()
        self._remembered_s = float("-inf")
        self._at_s = at_s
        self._restore(state)

    # ---- what is left, and for how long

    def _left(self, at_s: float) -> Estimate | None:
        """The water that counts: usable, in tanks that are not doubtful; None while one is unknown."""
        counted = [t for t in self.tanks.values() if t.condition != DOUBTFUL]
        found = [t.estimates(at_s)[0] for t in counted]
        if not found or any(e.value is None for e in found):
            return None
        value = sum(e.value or 0.0 for e in found)
        below = sum(((e.value or 0.0) - (e.low or 0.0)) ** 2 for e in found) ** 0.5
        above = sum(((e.high or 0.0) - (e.value or 0.0)) ** 2 for e in found) ** 0.5
        doubt = next((e for e in found if e.reason.id != "tank level"), None)
        reason = Reason("water in the tanks", {"tanks": len(found)})
        shut = [t.tank.name for t in counted if t.condition == ISOLATED]
        if shut:
            reason = Reason("water, some shut off", {"tanks": len(found), "shut": ", ".join(shut)})
        if doubt is not None:
            reason = Reason("water in doubt", {"tank": doubt.subject})
        return Estimate("left_L", "water", at_s, value, max(0.0, value - below), value + above, reason)

    def forecast(self, utc_s: float, at_s: float, mode: Mode, boot: int) -> Iterator[Event]:
        return self.ahead.draw(utc_s, at_s, self._left(at_s), self._capacity_L, mode, boot)

    @property
    def _capacity_L(self) -> float:
        counted = [t.tank for t in self.tanks.values() if t.condition != DOUBTFUL]
        return sum(t.capacity_L - t.unusable_L for t in counted)

    def estimates(self) -> list[Estimate]:
        at_s = self._at_s
        found = [e for t in self.tanks.values() for e in (*t.estimates(at_s), *t.further(at_s))]
        if self.tanks:
            found.append(self._left(at_s) or _unknown("left_L", at_s))
            drawn = self.ahead.drawn
            found.append(
                as_estimate(drawn, "water_days", "water", at_s) if drawn else _unknown("water_days", at_s)
            )
            found.append(self._a_head.estimate(at_s, self._utc_s))
        for pump in self._seen:
            found += self.judges[pump.name].estimates(at_s)
        return found

    def amounts(self) -> Iterator[tuple[str, str, float | None]]:
        left = self._left(self._at_s)
        if left is not None:
            yield "boat", "water left", left.value
            yield "boat", "water left low", left.low
            yield "boat", "water left high", left.high
        if self._minutes:
            yield "boat", "water used", self._minutes[-1][1]
        if self.ahead.drawn is not None:
            yield "water", "days left low", self.ahead.drawn.cautious_days
        for pump in self._seen:
            yield pump.name, "leak", self._told_L_per_h(self.judges[pump.name])

    @staticmethod
    def _told_L_per_h(judge: LeakJudge) -> float | None:
        """What the judge says: none where it is tight; None where it does not know."""
        rate = judge.rate_L_per_h()
        return rate[0] if rate is not None else 0.0 if judge.verdict()[0] == TIGHT else None

    def ebb(self) -> Ebb | None:
        if not self.tanks:
            return None
        drawn = self.ahead.drawn
        ahead = drawn.course if drawn is not None else Past().course()
        past = self._past.course()
        return Ebb("water", "water", past, ahead, self.ahead.reserve_L, self._capacity_L)

    # ---- for alerts and the night's ledger

    def running_s(self, at_s: float) -> dict[str, float | None]:
        return {p.name: self.runs[p.name].running_for_s(at_s) for p in self._seen}

    def fallen_L(self) -> dict[str, float | None]:
        """How far each running pump's tanks have fallen since its run began."""
        found: dict[str, float | None] = {}
        for pump in self._seen:
            before, now = self._before_run_L.get(pump.name), self._tanks_L(pump)
            found[pump.name] = None if before is None or now is None else before - now
        return found

    def run_count(self, pump: str) -> int:
        """How many runs were heard since the watch began."""
        return self._run_counts[pump]

    def verdicts(self) -> dict[str, tuple[str, Reason]]:
        return {p.name: self.judges[p.name].verdict() for p in self._seen}

    def litres_between(self, start_s: float, end_s: float) -> float | None:
        if not self._seen and not self.tanks:
            return None
        if self._seen:
            return round(sum(litres for at_s, litres in self._pumped if start_s <= at_s < end_s), 2)
        return round(sum(litres for at_s, litres in self._minutes if start_s < at_s <= end_s), 2)

    def runs_between(self, start_s: float, end_s: float) -> dict[str, list[tuple[float, float]]]:
        """When each pump that is heard ran, where a run touches the span."""
        return {
            pump.name: [(a, b) for a, b in self.runs[pump.name].runs if a < end_s and b > start_s]
            for pump in self._seen
        }

    def starts_between(self, start_s: float, end_s: float) -> int | None:
        if not self._seen:
            return None
        return sum(start_s <= s < end_s for s, _ in self._pumped)

    # ---- restarts

    def to_remember(self, everything: bool = False) -> list[tuple[str, Any]]:
        """What has changed and must outlive a restart; levels alone once an hour."""
        if not (everything or self._changed or self._at_s >= self._remembered_s + REMEMBER_EVERY_S):
            return []
        self._changed = False
        self._remembered_s = self._at_s
        return [("water", self._state())]

    def _state(self) -> dict[str, Any]:
        return {
            "tanks": {name: tank.state() for name, tank in self.tanks.items()},
            "judges": {name: judge.state() for name, judge in self.judges.items()},
        }

    def _restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `_state`."""
        for name, tank in self.tanks.items():
            if name in state["tanks"]:
                tank.restore(state["tanks"][name])
        for name, judge in self.judges.items():
            if name in state["judges"]:
                judge.restore(state["judges"][name], self._at_s)

    def prefill(self, history: History, until_utc_s: float) -> None:
        """Hours of use and the last day and a half, from what was stored."""
        heads = heads_aboard(history, until_utc_s, self.ahead.use.heads)
        for hour in kept_hours(history, "boat water used", until_utc_s):
            part = WaterPart(hour.start_s, hour.mean * hour.covered_s / MINUTE_S, hour.covered_s)
            self._keep(part, hour.mode, heads(hour.start_s))
        air = air_channel(self._settings)
        for hour in kept_hours(history, air, until_utc_s) if air else ():
            self.ahead.use.air(hour.start_s, hour.mean, hour.covered_s)
        self._past.prefill(history, "boat water left", until_utc_s)

    def prefill_runs(self, boot: Boot, history: History, until_utc_s: float) -> None:
        """The runs of the night under way, in this boot's elapsed time."""
        for event, start_utc_s, _ in history.events(
            EventKind.PUMP_RUN, Interval(until_utc_s - KEPT_S, until_utc_s)
        ):
            at_s = None if start_utc_s is None else boot.elapsed_s(start_utc_s)
            if at_s is not None:
                self._pumped.append((at_s, float(event.facts["litres"])))


def _last(column: Column | None) -> float | None:
    """The newest reading that was available."""
    if column is None:
        return None
    return next((v for v in reversed(column.values) if v == v), None)


def _unknown(name: str, at_s: float) -> Estimate:
    return Estimate(name, "water", at_s, None, None, None, Reason("water unknown without its tanks"))
