"""The plumbing of one pump: what is heard of it goes to those who look, learn and weigh."""

from collections.abc import Mapping
from typing import Any

from monitor.estimation.accumulator import pump_drawdown_L
from monitor.estimation.density import shrinkage_L
from monitor.estimation.plumbing_at_once import AtOnce
from monitor.estimation.plumbing_balance import Balance
from monitor.estimation.plumbing_habits import Habits, Readings, group
from monitor.estimation.plumbing_refills import Refills
from monitor.estimation.plumbing_signs import Signs
from monitor.estimation.plumbing_told import evidence, finding, next_step
from monitor.estimation.plumbing_verdicts import RULES, VERDICTS
from monitor.estimation.readings import heard
from monitor.estimation.watcher import Heard, Look
from monitor.records import Estimate, Event, EventKind, Finding, Reason, WaterVerdict
from monitor.settings import Pump, Settings

WARMS_C, WARM_EVERY_S = 1.0, 600.0
"""A heater whose water rises so much in so long is being heated."""
WEIGH_EVERY = 5
"""Minutes between weighings while nothing happens."""
LOST_S = 600.0
"""Minutes further apart than this were not watched in between."""
COLD_C, HOT_C = 15.0, 65.0
"""What heaters go between. Common practice. [°C]"""


class PumpPlumbing:
    """One pump, its tanks and the heaters behind it."""

    def __init__(self, settings: Settings, pump: Pump) -> None:
        self.name = pump.name
        self._timing_s = pump.timing_s
        self._tanks = [t for t in settings.tanks if not pump.tanks or t.name in pump.tanks]
        self._heaters = [h.name for h in settings.heaters]
        self._makers = [m.name for m in settings.watermakers]
        self._heels = [f"{instrument.name} heel" for instrument in settings.instruments]
        self._promised_s = self._refill_s = 60.0 * pump_drawdown_L(pump) / pump.flow_L_per_min
        capacity_L = sum(t.capacity_L - t.unusable_L for t in self._tanks)
        self.habits = Habits(pump, settings.limits.pump_run_on_min * 60)
        self.balance = Balance(max(1.0, capacity_L), pump.flow_L_per_min)
        self.refills = Refills(sum(shrinkage_L(h.volume_L, HOT_C, COLD_C) for h in settings.heaters))
        self.at_once = AtOnce(pump, self._tanks, self.habits, self.balance)
        self.signs = Signs(pump, self._promised_s, self.at_once, self.balance, self.refills)
        self._warm: dict[str, tuple[float, float]] = {}
        self._weighed = -1
        self._end_s: float | None = None

    def look(self, now: Look) -> None:
        """How things stand now."""
        before = self.at_once.clause().fault, self.at_once.ran_s is None
        self.signs.at_s = now.at_s
        self.at_once.look(now)
        if (self.at_once.clause().fault, self.at_once.ran_s is None) != before:
            self.signs.weigh()

    def take(self, minute: Heard) -> None:
        """What the minute brought."""
        water, signs, refills, balance = minute.water, self.signs, self.refills, self.balance
        asleep = minute.mode.people != "awake"
        passed_s = 60.0 if self._end_s is None else min(max(60.0, minute.end_s - self._end_s), LOST_S)
        self._end_s = minute.end_s
        self.at_once.mode = minute.mode
        self.at_once.ran_s = ran_s = water.running_s.get(self.name)
        self._refill_s = water.refill_s.get(self.name, self._promised_s)
        self._heat(minute)
        for event in water.events:
            if event.kind is EventKind.FILL and event.subject in {t.name for t in self._tanks}:
                balance.filled()
            elif event.kind is EventKind.PUMP_RUN and event.subject == self.name:
                self._ran(event, minute)
        if ran_s is None:
            refills.begin_anew()
            balance.begin_anew()
        lone_s = refills.minute(
            minute.end_s, passed_s, asleep, self._refill_s, self._timing_s, balance.L_per_s
        )
        if lone_s is not None:
            balance.refilled(lone_s)
        if any((minute.newest(f"{name} flow") or 0.0) > 0.0 for name in self._makers):
            balance.begin_anew()
        moving = minute.mode.place in ("sailing", "motoring")
        heel_deg = next((h for name in self._heels if (h := minute.mean(name)) is not None), None)
        balance.minute(minute.end_s, self._tanks_L(water.estimates), bool(ran_s), heel_deg, moving)
        if ran_s == 0.0 and not asleep:
            signs.still_awake_s += passed_s
        signs.at_s, signs.estimates = minute.end_s, water.estimates
        if self.name in water.verdicts:
            signs.judged = water.verdicts[self.name][0]
        self._weighed = 0 if water.events else (self._weighed + 1) % WEIGH_EVERY
        if self._weighed == 0:
            signs.weigh()

    def _ran(self, event: Event, minute: Heard) -> None:
        assert event.end_s is not None
        start_s, end_s = event.start_s, event.end_s
        self.signs.still_awake_s, self.signs.ran_ever = 0.0, True
        raised, self.at_once.raised = self.at_once.raised, False
        if event.facts.get("cut"):
            self.balance.begin_anew()
            return
        self.balance.ran(end_s, end_s - start_s)
        self.refills.run(start_s, end_s, self._promised_s, self._timing_s)
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

    def _tanks_L(self, estimates: Mapping[tuple[str, str], Estimate]) -> float | None:
        """All tanks together, by their senders; None while one of them is not to be believed."""
        total_L = 0.0
        for tank in self._tanks:
            estimate = estimates.get(("tank_L", tank.name))
            if estimate is None or estimate.value is None or estimate.reason.id != "tank level":
                return None
            total_L += estimate.value
        return total_L if self._tanks else None

    # ---- told

    def verdict(self) -> WaterVerdict:
        """What this pump's plumbing is found to have, with its evidence."""
        name, told, odds = self.signs.likeliest(), self.signs.told(), self.signs.chances
        others = tuple((v, round(p, 3)) for v, p in odds.items() if v != name and p >= 0.01)
        rate = self.signs.rate(name) or (None, None, None)
        chance = round(odds.get(name, 0.0), 3)
        return WaterVerdict(self.name, name, chance, others, evidence(told), next_step(told, name), *rate)

    def explained(self) -> Estimate:
        """How likely it is that lone refills have another cause than a leak. [%]"""
        causes = {v: p for v, p in self.signs.chances.items() if VERDICTS[v].explains}
        likely = max(causes, key=causes.__getitem__)
        pct = 100.0 * sum(causes.values())
        reason = Reason("alert: refills explained", {"pump": self.name, "verdict": likely})
        return Estimate("leak_explained_pct", self.name, self.signs.at_s, pct, pct, pct, reason)

    def findings(self) -> list[Finding]:
        """One for each rule of the plumbing."""
        told = self.signs.told()
        return [finding(told, rule) for rule in RULES]

    # ---- restarts

    def new_boot(self) -> None:
        """Elapsed time began anew."""
        self.refills.begin_anew()
        self.balance.begin_anew()
        self.at_once.new_boot()
        self._warm.clear()
        self._end_s = None
        self.signs.weigh()

    def state(self) -> dict[str, Any]:
        return {
            "habits": self.habits.state(),
            "balance": self.balance.state(),
            "still_awake_s": self.signs.still_awake_s,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        self.habits.restore(state["habits"])
        self.balance.restore(state["balance"])
        self.signs.still_awake_s = float(state["still_awake_s"])


def _during(minute: Heard, name: str, start_s: float, from_s: float, to_s: float) -> Readings:
    """Readings of a channel between two times, with the seconds since the run began."""
    column = minute.columns.get(name)
    if column is None:
        return []
    times, values = heard(column)
    within = (times >= from_s) & (times <= to_s)
    return list(zip((times[within] - start_s).tolist(), values[within].tolist(), strict=True))
