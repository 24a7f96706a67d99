"""The plumbing of one pump: gathers what is heard of it, and weighs the signs."""

from collections import deque
from collections.abc import Mapping
from statistics import median
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.accumulator import pump_drawdown_L
from monitor.estimation.density import shrinkage_L
from monitor.estimation.leak import SUSPECTED, UNKNOWN
from monitor.estimation.leak import TIGHT as JUDGED_TIGHT
from monitor.estimation.plumbing_balance import CLEAR, CLOGGED, Balance
from monitor.estimation.plumbing_habits import GUARDED, Habits, Readings, group
from monitor.estimation.plumbing_refills import SHORT_RUNS, Refills
from monitor.estimation.plumbing_run import LEVEL_SPREAD, Glance, RunUnderWay
from monitor.estimation.plumbing_told import Told, evidence, finding, next_step
from monitor.estimation.plumbing_verdicts import (
    ABOVE,
    BURST,
    DECIDED,
    FEW,
    LEAK,
    NO,
    NONE,
    RULES,
    TAP,
    TIGHT,
    VERDICTS,
    YES,
    chances,
)
from monitor.estimation.plumbing_verdicts import UNKNOWN as NOT_KNOWN
from monitor.estimation.readings import heard
from monitor.estimation.sounding import Sounding, table_of
from monitor.estimation.watcher import Heard, Look
from monitor.records import Estimate, Event, EventKind, Finding, Mode, Reading, Reason, Severity, WaterVerdict
from monitor.settings import Pump, Settings

DRIP_L_PER_H = 6.0
"""Faster drops make a stream: some five of a third of a millilitre a second (USGS's drip)."""
ALARM_SHARE = {GUARDED: 0.08, "free": 0.15}
"""An uncut run that has moved this share of the tanks is an alarm."""
STILL_S = 180.0
"""Levels of so long before a run are what it is judged against."""
STILL_AWAKE_S = 10 * HOUR_S
"""So many waking hours aboard without one start."""
USED_L, USED_SHARE = 6.0, 0.02
"""Water that has gone meanwhile."""
FRESH_S = 20.0
WARMS_C, WARM_EVERY_S = 1.0, 600.0
"""A heater whose water rises so much in so long is being heated."""
COLD_C, HOT_C = 15.0, 65.0
"""What heaters go between. Common practice. [°C]"""


class PumpPlumbing:
    """One pump, its tanks and the heaters behind it."""

    def __init__(self, settings: Settings, pump: Pump) -> None:
        self.name = pump.name
        self._pump = pump
        self._tanks = [t for t in settings.tanks if not pump.tanks or t.name in pump.tanks]
        self._soundings = {t.name: Sounding(table_of(t)) for t in self._tanks}
        self._capacity_L = sum(t.capacity_L - t.unusable_L for t in self._tanks)
        self._heaters = [h.name for h in settings.heaters]
        self._makers = [m.name for m in settings.watermakers]
        shrinks_L = sum(shrinkage_L(h.volume_L, HOT_C, COLD_C) for h in settings.heaters)
        self.habits = Habits(pump, settings.limits.pump_run_on_min * 60)
        self.run = RunUnderWay(self.habits)
        self.balance = Balance(max(1.0, self._capacity_L), pump.flow_L_per_min)
        self.refills = Refills(shrinks_L)
        self._promised_s = 60.0 * pump_drawdown_L(pump) / pump.flow_L_per_min
        self._refill_s = self._promised_s
        self._still: deque[tuple[float, float]] = deque(maxlen=8)
        """When, and what the tanks held, at the latest looks before the run. [L]"""
        self._warm: dict[str, tuple[float, float]] = {}
        self._still_awake_s = 0.0
        self._ran_ever = self._raised = self._low = False
        self._mode = Mode("at anchor", "awake")
        self._at_s = 0.0
        self._ran_s: float | None = None
        self._judged: tuple[str, Reason] = (UNKNOWN, Reason("alert: leak not judged"))
        self._estimates: Mapping[tuple[str, str], Estimate] = {}
        self.signs: dict[str, str | None] = {}
        self.chances = chances({})
        self._returned = 0.0
        self._weigh()

    # ---- every quarter of a minute

    def look(self, now: Look) -> None:
        """How things stand now."""
        self._at_s, self._mode = now.at_s, now.mode
        self._ran_s = ran_s = now.running_s.get(self.name)
        held_L = self._held_L(now.readings)
        if not ran_s:
            self.run.rest()
            if held_L is not None and ran_s is not None:
                self._still.append((now.at_s, held_L))
        else:
            self.run.look(self._glance(now, ran_s, held_L))
            self._raised = self._raised or self.fault()[0] is not None
        if self._sign_of_run() != self.signs["run"]:
            self._weigh()

    def _sign_of_run(self) -> str | None:
        return self.fault()[0] or ("usual" if self._ran_s is not None else None)

    def _glance(self, now: Look, ran_s: float, held_L: float | None) -> Glance:
        moving = now.mode.place in ("sailing", "motoring")
        fallen_L, spread_L = now.fallen_L.get(self.name), 0.01 * self._capacity_L
        before = [held for at_s, held in self._still if at_s >= now.at_s - ran_s - STILL_S]
        if held_L is not None and len(before) >= 4 and not moving:
            fallen_L, spread_L = median(before) - held_L, LEVEL_SPREAD * self._capacity_L
        elif ran_s < 300:
            fallen_L = None
        amps, bars = (
            _fresh(now.readings.get(f"{self.name} {quantity}"), now.at_s - min(ran_s - 2.0, FRESH_S))
            for quantity in ("current", "pressure")
        )
        pumped_L = ran_s * self.balance.L_per_s
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
        self._low = total_L <= max(5.0, 0.03 * self._capacity_L)
        return total_L

    def limit_s(self) -> float:
        """The run that is told as too long, in this mode. [s]"""
        return self.habits.limit_s(group(self._mode))

    def alarm_s(self) -> float:
        """The uncut run that is an alarm: so much of the tanks, and past the boat's own longest. [s]"""
        kind = group(self._mode)
        if not self._capacity_L:
            return 2 * self.limit_s()
        gone_s = ALARM_SHARE[kind] * self._capacity_L / self.balance.L_per_s
        return max(gone_s, self.limit_s()) if self.habits.lengths[kind].learnt else gone_s

    def fault(self) -> tuple[str | None, str, Severity | None]:
        """What the run under way is, if none of the usual: the fault, the clause it meets, its grade."""
        run, ran_s = self.run, self._ran_s
        if not ran_s or run.glance is None:
            return None, "", None
        if run.named is not None:
            return run.named, run.told_by, None
        alarm, past = ran_s >= self.alarm_s(), ran_s >= self.limit_s()
        if not (alarm or past):
            return None, "", None
        likely = run.likeliest_fault()
        if likely != BURST:
            return likely, "tank", None
        return BURST, "share" if alarm else "length", None if alarm else Severity.WARNING

    # ---- every minute

    def take(self, minute: Heard) -> None:
        """What the minute brought."""
        water = minute.water
        self._at_s, self._mode = minute.end_s, minute.mode
        self._ran_s = water.running_s.get(self.name)
        self._refill_s = water.refill_s.get(self.name, self._promised_s)
        self._judged = water.verdicts.get(self.name, self._judged)
        self._estimates = water.estimates
        asleep = minute.mode.people != "awake"
        self._heat(minute)
        for event in water.events:
            if event.kind is EventKind.FILL and event.subject in self._soundings:
                self.balance.begin_anew()
            elif event.kind is EventKind.PUMP_RUN and event.subject == self.name:
                self._ran(event, minute)
        if self._ran_s is None:
            self.refills.begin_anew()
            self.balance.begin_anew()
        timing_s = self._pump.timing_s
        lone_s = self.refills.minute(minute.end_s, asleep, self._refill_s, timing_s, self.balance.L_per_s)
        if lone_s is not None:
            self.balance.refilled(lone_s)
        if any((minute.newest(f"{name} flow") or 0.0) > 0.0 for name in self._makers):
            self.balance.begin_anew()
        self.balance.minute(minute.end_s, self._tanks_L(), bool(self._ran_s))
        if self._ran_s == 0.0 and not asleep:
            self._still_awake_s += 60.0
        self._weigh()

    def _ran(self, event: Event, minute: Heard) -> None:
        assert event.end_s is not None
        start_s, end_s = event.start_s, event.end_s
        self._still_awake_s, self._ran_ever = 0.0, True
        raised, self._raised = self._raised, False
        if event.facts.get("cut"):
            self.balance.begin_anew()
            return
        self.balance.ran(end_s, end_s - start_s)
        self.refills.run(start_s, end_s, self._promised_s, self._pump.timing_s, self._refill_s)
        if not raised:
            amps = _during(minute, f"{self.name} current", start_s, start_s + 0.5, end_s)
            bars = _during(minute, f"{self.name} pressure", start_s, start_s + 1.0, end_s + 2.0)
            self.habits.ran(end_s - start_s, group(minute.mode), amps, bars)

    def _heat(self, minute: Heard) -> None:
        on = False
        for name in self._heaters:
            on = on or (minute.newest(f"{name} on") or 0.0) > 0.5
            warm_C = minute.newest(f"{name} temperature")
            if warm_C is None:
                continue
            before = self._warm.get(name)
            if before is None or minute.end_s - before[0] >= WARM_EVERY_S:
                on = on or (before is not None and warm_C - before[1] >= WARMS_C)
                self._warm[name] = (minute.end_s, warm_C)
        self.refills.heating(minute.end_s, on)

    def _tanks_L(self) -> float | None:
        """All tanks together, by their senders; None while one of them is not to be believed."""
        total_L = 0.0
        for tank in self._tanks:
            estimate = self._estimates.get(("tank_L", tank.name))
            if estimate is None or estimate.value is None or estimate.reason.id != "tank level":
                return None
            total_L += estimate.value
        return total_L if self._tanks else None

    # ---- weighing

    def _weigh(self) -> None:
        told, refills, balance = self._judged[0], self.refills, self.balance
        signs: dict[str, str | None] = {}
        starts = refills.asleep_starts(self._at_s, 12 * HOUR_S)
        some = FEW if starts >= 2 else None
        signs["refills"] = {SUSPECTED: LEAK, JUDGED_TIGHT: NONE}.get(told, some)
        leak = self._leak_L_per_h()
        flows = refills.stream(self._at_s, group(self._mode)) is not None
        flows = flows or (leak is not None and leak[0] >= DRIP_L_PER_H)
        signs["stream"] = YES if flows else NO if self._ran_s is not None else None
        alone, spans = balance.falls_alone(), balance.spans()
        calm = bool(spans) and spans[-1].hours > 7.5 and max(s.sigmas for s in spans) < 2.5
        signs["falls alone"] = YES if alone else NO if calm else None
        signs["with heating"] = {True: YES, False: NO, None: None}[refills.with_heating()]
        cooled = refills.cooled_L(self._at_s)
        signs["cooling explains"] = YES if cooled else NO if starts >= 3 else None
        short = refills.short() if self._pump.accumulator else None
        signs["short refills"] = None if short is None else YES if short[0] >= SHORT_RUNS else NO
        share = balance.flow_share()
        signs["flow low"] = (
            None if share is None else YES if share < CLOGGED else NO if share > CLEAR else None
        )
        signs["no start"] = self._no_start()
        signs["run"] = self._sign_of_run()
        clearest = balance.clearest() if signs["refills"] in (LEAK, FEW) else None
        returned = round(clearest.returned(), 1) if clearest else 0.0
        if signs != self.signs or returned != self._returned:
            self.signs, self._returned = signs, returned
            self.chances = chances(signs, returned)

    def _no_start(self) -> str | None:
        if self._still_awake_s < STILL_AWAKE_S:
            return NO if self._ran_ever and (self._ran_s or 0.0) < HOUR_S else None
        gone_L = self.balance.fallen_L(12.0)
        if gone_L is None:
            return None
        return YES if gone_L >= max(USED_L, USED_SHARE * self._capacity_L) else None

    def _leak_L_per_h(self) -> tuple[float, float | None, float | None] | None:
        leak = self._estimates.get(("leak_L_per_h", self.name))
        return None if leak is None or leak.value is None else (leak.value, leak.low, leak.high)

    # ---- told

    def likeliest(self) -> str:
        """The likeliest verdict, or that not enough is known."""
        name, chance = next(iter(self.chances.items()))
        undecided = chance < DECIDED or (name == TIGHT and self._judged[0] != JUDGED_TIGHT)
        return NOT_KNOWN if undecided else name

    def verdict(self) -> WaterVerdict:
        """What this pump's plumbing is found to have, with its evidence."""
        name = self.likeliest()
        others = tuple((v, round(p, 3)) for v, p in self.chances.items() if v != name and p >= 0.01)
        rate, told = self._rate(name), self._told()
        return WaterVerdict(
            self.name,
            name,
            round(self.chances.get(name, 0.0), 3),
            others,
            evidence(told),
            next_step(told, name),
            *(rate or (None, None, None)),
        )

    def _rate(self, name: str) -> tuple[float, float | None, float | None] | None:
        """Litres an hour that go by this fault, with their band."""
        if name == ABOVE:
            alone = self.balance.falls_alone()
            if alone is None:
                return None
            half = 1.645 * alone.spread_L
            return tuple(v / alone.hours for v in (alone.litres, alone.litres - half, alone.litres + half))  # type: ignore[return-value]
        stream = self.refills.stream(self._at_s, group(self._mode))
        if name == TAP and stream is not None:
            rate = stream[1] * self.balance.L_per_s
            return rate, 0.8 * rate, 1.25 * rate
        explained = name in (TIGHT, NOT_KNOWN) or (
            name in RULES and name not in (TAP, "check valve leaks back")
        )
        return None if explained else self._leak_L_per_h()

    def _told(self) -> Told:
        facts = self._of_the_run() | self._of_the_leak() | self._of_the_rest()
        return Told(
            self.name,
            self._ran_s,
            self.limit_s(),
            self.fault(),
            self.signs,
            self.chances,
            self._returned,
            facts,
        )

    def _of_the_run(self) -> dict[str, float | None]:
        seen = self.run.glance
        return {
            "running_s": self._ran_s,
            "limit_s": self.limit_s(),
            "share_pct": 100 * ALARM_SHARE[group(self._mode)],
            "pumped_L": (self._ran_s or 0.0) * self.balance.L_per_s,
            "fallen_L": seen.fallen_L if seen else None,
            "amps": seen.amps if seen else None,
            "bars": seen.bars if seen else None,
            "usual_A": self.habits.current.top,
            "cut_out_bar": self.habits.cut_out_bar,
        }

    def _of_the_leak(self) -> dict[str, float | None]:
        leak, stream = self._leak_L_per_h(), self.refills.stream(self._at_s, group(self._mode))
        rate = leak[0] if leak else None
        bound = self._estimates.get(("tight_below_L_per_h", self.name))
        flows = stream[1] * self.balance.L_per_s if stream else rate
        return {
            "leak_L_per_h": rate,
            "leak_L_per_day": None if rate is None else 24 * rate,
            "days_lost": None if rate is None else self._days_lost(24 * rate),
            "bound_L_per_h": bound.value if bound else None,
            "rate_L_per_h": flows,
        }

    def _days_lost(self, a_day_L: float) -> float | None:
        """Days of water that so much a day costs, beside what is used."""
        days, left = (self._estimates.get((name, "water")) for name in ("water_days", "left_L"))
        if days is None or not days.value or left is None or not left.value:
            return None
        return days.value - left.value / (left.value / days.value + a_day_L)

    def _of_the_rest(self) -> dict[str, float | None]:
        alone, clearest, short = self.balance.falls_alone(), self.balance.clearest(), self.refills.short()
        cooled, share = self.refills.cooled_L(self._at_s), self.balance.flow_share()
        return {
            "excess_L": alone.litres if alone else None,
            "excess_h": alone.hours if alone else None,
            "pumped_L_then": alone.pumped_L if alone else None,
            "lone_L": clearest.lone_L if clearest else None,
            "lone_h": clearest.hours if clearest else None,
            "short": short[0] if short else None,
            "short_of": short[1] if short else None,
            "promised_s": self._promised_s,
            "heated_starts": sum(r.heated for r in self.refills.lone),
            "cooled": cooled[0] if cooled else None,
            "cooled_L": cooled[1] if cooled else None,
            "flow_pct": None if share is None else 100 * share,
            "still_s": self._still_awake_s,
            "gone_L": self.balance.fallen_L(12.0),
        }

    def innocence(self) -> Estimate:
        """How likely it is that lone refills have another cause than a leak. [%]"""
        causes = {v: p for v, p in self.chances.items() if VERDICTS[v].explains}
        likely = max(causes, key=causes.__getitem__)
        pct = 100.0 * sum(causes.values())
        reason = Reason("alert: refills explained", {"pump": self.name, "verdict": likely})
        return Estimate("leak_explained_pct", self.name, self._at_s, pct, pct, pct, reason)

    def findings(self) -> list[Finding]:
        """One for each rule of the plumbing."""
        told = self._told()
        return [finding(told, rule) for rule in RULES]

    # ---- restarts

    def new_boot(self) -> None:
        """Elapsed time began anew."""
        self.refills.begin_anew()
        self.balance.begin_anew()
        self.run.rest()
        self._still.clear()
        self._warm.clear()
        self._ran_s, self._raised = None, False
        self._weigh()

    def state(self) -> dict[str, Any]:
        return {
            "habits": self.habits.state(),
            "balance": self.balance.state(),
            "still_awake_s": self._still_awake_s,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self.habits.restore(state["habits"])
        self.balance.restore(state["balance"])
        self._still_awake_s = float(state["still_awake_s"])


def _fresh(reading: Reading | None, since_s: float) -> float | None:
    usable = reading is not None and not reading.silent and reading.at_s >= since_s
    return reading.value if reading is not None and usable else None


def _during(minute: Heard, name: str, start_s: float, from_s: float, to_s: float) -> Readings:
    """Readings of a channel between two times, with the seconds since the run began."""
    column = minute.columns.get(name)
    if column is None:
        return []
    times, values = heard(column)
    within = (times >= from_s) & (times <= to_s)
    return list(zip((times[within] - start_s).tolist(), values[within].tolist(), strict=True))
