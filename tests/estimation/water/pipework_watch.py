"""The plumbing's watch aboard one of the independent boats: minute by minute, and look by look."""

from array import array
from bisect import bisect_right
from copy import deepcopy
from math import exp
from random import Random

from monitor.estimation.leak import LeakJudge
from monitor.estimation.plumbing import PlumbingWatch
from monitor.estimation.watcher import Heard, Look, WaterHeard
from monitor.records import Column, Estimate, Event, EventKind, Mode, Reading, Reason, WaterVerdict
from monitor.settings import Settings
from tests.estimation.water.pipework import (
    CUT_IN,
    CUT_OUT,
    DAY,
    HOUR,
    PRECHARGE,
    House,
    Pipework,
    Run,
    aboard,
    amps,
    hose_off_bar,
    pressure,
)

MODES = (
    Mode("at anchor", "awake"),
    Mode("at anchor", "asleep"),
    Mode("sailing", "awake"),
    Mode("alongside", "away"),
)
LOOK_S = 15.0


class Alarm(tuple[float, str, str, str]):
    """When, which rule, its grade ("" for the rule's own), by which reason."""


class PipeWatch:
    """`day` lives a day; what was told stands in `alarms`, the verdict of now in `verdict()`."""

    def __init__(
        self,
        seed: int,
        instruments: tuple[str, ...] = (),
        thermometer: bool = True,
        heater_L: float | None = None,
    ) -> None:
        self.rng = Random(seed)
        self.pipes = aboard(self.rng)
        self.pipes.heater_L = self.pipes.heater_L if heater_L is None else heater_L
        self.house = House(self.rng, self.pipes, tank_L=0.9 * self.pipes.capacity_L)
        self._instruments, self._thermometer = instruments, thermometer
        self._drift_sd = self.rng.uniform(0.001, 0.0025) * self.pipes.capacity_L
        self._drift_L = self._drifted_s = 0.0
        settings = _settings(self.pipes, self.pipes.flow_L_per_min * self.rng.uniform(0.93, 1.07))
        self.watch = PlumbingWatch(settings)
        # The signal is never lost; quiet minutes are passed over.
        self._judge = LeakJudge(settings.pumps[0], settings.heaters, lost_s=900.0)
        self.alarms: list[tuple[float, str, str, str]] = []
        """When, which rule, the grade where it is not the rule's own, by which reason."""
        self._held: set[str] = set()
        self._told: tuple[tuple[str, Reason], dict[tuple[str, str], Estimate]] | None = None
        self.listens = True
        """Whether findings are looked at between looks, too: not needed where only the verdict counts."""
        self.signal = "true"
        """ "true", "dead" (never running) or "on" (always running)."""
        self._on_since_s: float | None = None
        self._phase = self.rng.random()

    def another(self, *without: str) -> "PipeWatch":
        """The same boat, to live on otherwise, perhaps without some of her instruments."""
        other = deepcopy(self)
        other._instruments = tuple(i for i in self._instruments if i not in without)
        return other

    def verdict(self) -> WaterVerdict:
        return self.watch.verdicts()[0]

    def day(self, until_h: float = 24.0) -> None:
        start_s = self.house.days * DAY
        self.house.day()
        real = [self._seen(run) for run in self.house.runs]
        runs = real if self.signal == "true" else []
        looks = sorted({t for run in runs if run.end_s - run.start_s > 20 for t in _looks(run)})
        if self.signal == "on":
            self._on_since_s = start_s if self._on_since_s is None else self._on_since_s
            looks = [start_s + LOOK_S * n for n in (*range(-8, 20), *range(20, 5760, 4))]
        ended, looked, warm = 0, 0, 0
        for n in range(int(until_h * 60)):
            begin_s, end_s = start_s + 60.0 * n, start_s + 60.0 * (n + 1)
            if self._nothing_new(n, end_s, runs, ended, looks[looked] if looked < len(looks) else None):
                continue
            mode = self._mode(n / 60)
            while looked < len(looks) and looks[looked] <= end_s:
                self._look(looks[looked], real, mode)
                looked += 1
            done = []
            while ended < len(runs) and runs[ended].end_s + 0.15 <= end_s:
                done.append(runs[ended])
                ended += 1
            while warm < len(self.house.warmth) and self.house.warmth[warm][0] <= end_s:
                warm += 1
            self._minute(begin_s, mode, done, runs[ended] if ended < len(runs) else None, warm - 1)

    def _nothing_new(self, n: int, end_s: float, runs: list[Run], ended: int, look_s: float | None) -> bool:
        """Quiet minutes pass five at a time: no run within some minutes, no look due, no fill."""
        if n % 5 == 4 or n < 10 or (look_s is not None and look_s <= end_s):
            return False
        before = runs[ended - 1].end_s if ended else float("-inf")
        coming = runs[ended].start_s if ended < len(runs) else float("inf")
        return before < end_s - 240.0 and coming > end_s

    def _minute(self, begin_s: float, mode: Mode, done: list[Run], coming: Run | None, warm: int) -> None:
        end_s = begin_s + 60.0
        judge, readings = self._judge, {}
        judge.quiet(end_s, mode.people != "awake")
        if self.pipes.heater_L:
            _, celsius, on = self.house.warmth[max(0, warm)]
            celsius = round(2 * celsius) / 2
            readings["heater on"] = Reading(end_s, float(on), False)
            if self._thermometer:
                readings["heater temperature"] = Reading(end_s, celsius, False)
            judge.heater("heater", end_s, celsius if self._thermometer else None, on)
        events = []
        for run in done:
            judge.run(run.start_s, run.end_s)
            litres = {"litres": (run.end_s - run.start_s) * self.pipes.flow_L_per_min / 60}
            events.append(Event(EventKind.PUMP_RUN, "pump", 1, run.start_s, run.end_s, litres))
        events += [
            Event(EventKind.FILL, "tank", 1, at_s, at_s + 300, {"litres": litres})
            for at_s, litres in self.house.fills
            if begin_s <= at_s < end_s
        ]
        running_s = end_s - coming.start_s if coming is not None and coming.start_s < end_s else 0.0
        if self.signal == "on":
            assert self._on_since_s is not None
            running_s = end_s - self._on_since_s
        judge.tick(end_s, running=running_s > 0)
        if self._told is None or end_s % 300 < 60:
            self._told = judge.verdict(), {(e.name, e.subject): e for e in judge.estimates(end_s)}
        verdict, estimates = self._told
        estimates = {**estimates, ("tank_L", "tank"): self._level(end_s)}
        water = WaterHeard(
            tuple(events),
            {"pump": running_s},
            {},
            {"pump": verdict},
            {"pump": judge.refill.seconds},
            estimates,
        )
        columns = self._columns(begin_s, done) if done and self._instruments else {}
        self.watch.take(Heard(begin_s, None, 1, columns, readings, mode, {}, water=water))
        if self.listens and (end_s % 600 < 60 or running_s > 0):
            self._listen(end_s)

    def _listen(self, at_s: float) -> None:
        for found in self.watch.findings():
            key = f"{found.rule} {found.severity or ''}"
            if found.holds and key not in self._held:
                self._held.add(key)
                self.alarms.append((at_s, found.rule, str(found.severity or ""), found.reason.id))
            elif found.clears:
                self._held = {k for k in self._held if not k.startswith(found.rule)}

    def _level(self, at_s: float) -> Estimate:
        """The sender's averaged level: 7.5 minutes late, with a slow drift."""
        keeps = exp(-(at_s - self._drifted_s) / (3 * HOUR))
        self._drifted_s = at_s
        self._drift_L = keeps * self._drift_L + self.rng.gauss(0, self._drift_sd * (1 - keeps**2) ** 0.5)
        litres = self._tank_at(at_s - 450.0) + self._drift_L
        return Estimate("tank_L", "tank", at_s, litres, litres - 5, litres + 5, Reason("tank level"))

    def _tank_at(self, at_s: float) -> float:
        tank = self.house.tank
        n = bisect_right(tank, (at_s, float("inf")))
        if n == 0 or n == len(tank):
            return tank[0 if n == 0 else -1][1]
        (t0, v0), (t1, v1) = tank[n - 1], tank[n]
        return v0 + (v1 - v0) * (at_s - t0) / max(t1 - t0, 1e-9)

    def _mode(self, hour: float) -> Mode:
        if hour >= 23 or hour < 7:
            return MODES[1]
        for span, mode in ((self.house.sails, MODES[2]), (self.house.away, MODES[3])):
            if span is not None and span[0] <= hour < span[1]:
                return mode
        return MODES[0]

    def _look(self, at_s: float, runs: list[Run], mode: Mode) -> None:
        run = next((r for r in runs if r.start_s <= at_s < r.end_s), None)
        bar = CUT_IN + 0.6 * (CUT_OUT - CUT_IN) if run is None else pressure(run, at_s)
        ran_s = 0.0 if run is None else at_s - run.start_s
        if self._on_since_s is not None:
            ran_s = max(0.0, at_s - self._on_since_s)
        self._glance(at_s, ran_s, mode, bar, self._tank_at(at_s), 0.0 if run is None else -1.0)

    def _glance(
        self, at_s: float, ran_s: float, mode: Mode, bar: float, tank_L: float, amp: float = -1.0
    ) -> None:
        noise_pct = 1.5 if mode.place == "sailing" else 0.25
        level = 100 * tank_L / self.pipes.capacity_L + self.rng.gauss(0, noise_pct)
        readings = {"tank level": Reading(at_s, level, False)}
        if "current" in self._instruments:
            amp = amps(self.pipes, bar) if amp < 0 else amp
            readings["pump current"] = Reading(
                at_s - 0.3, amp + self.rng.gauss(0, 0.05) if ran_s else 0.0, False
            )
        if "pressure" in self._instruments:
            readings["pump pressure"] = Reading(at_s - 0.3, bar + self.rng.gauss(0, 0.01), False)
        self.watch.look(Look(at_s, 1, readings, mode, {"pump": ran_s}, {"pump": None}))
        self._listen(at_s)

    def _columns(self, begin_s: float, done: list[Run]) -> dict[str, Column]:
        times, amp, bar = [], [], []
        for run in done:
            wander = self.rng.gauss(1.0, 0.01)
            t = max(begin_s, run.start_s + self.rng.random())
            while t < run.end_s + 1.5:
                here = pressure(run, min(t, run.end_s))
                times.append(t)
                amp.append(
                    amps(self.pipes, here) * wander + self.rng.gauss(0, 0.05) if t < run.end_s else 0.0
                )
                bar.append(here + self.rng.gauss(0, 0.01))
                t += 1.0
        both = {"current": amp, "pressure": bar}
        return {f"pump {q}": Column(array("d", times), array("d", both[q])) for q in self._instruments}

    def _seen(self, run: Run) -> Run:
        start_s, end_s = (((t - self._phase) // 0.1 + 1) * 0.1 + self._phase for t in run[:2])
        return run._replace(start_s=start_s, end_s=end_s)

    # ---- a run that does not end

    def run_on(
        self, kind: str, mode: Mode, minutes: float = 12.0, bore_mm: float = 13.0
    ) -> list[tuple[float, str]]:
        """A burst, a dry pump, a stuck switch or a wire that is off ("signal"), from now on.

        Returns what is told, and how long after the first tell-tale.
        """
        rng, pipes = self.rng, self.pipes
        start_s = self.house.days * DAY + 120.0 + rng.uniform(0.0, 60.0)
        tank_L, self.alarms = self.house.tank_L, []
        level = self.house.tank[-1][1]
        tell_s, flow, wander = start_s, 0.0, rng.gauss(1.0, 0.01)
        amp = -1.0
        if kind == "burst":
            bar = hose_off_bar(pipes, bore_mm, rng.uniform(2.0, 6.0), rng.uniform(0.0, 0.8))
            flow = pipes.flow_L_per_min * 1.1 / 60
        elif kind == "dry":
            bar, usual = rng.uniform(0.0, 0.03), amps(pipes, 2.1)
            amp = min(rng.uniform(0.4, 0.7) * usual, 0.9 * amps(pipes, 0.0))
        elif kind == "stuck":
            bar, tell_s = rng.uniform(1.2, 1.5) * CUT_OUT, start_s + 4.0
        else:
            bar, amp = rng.uniform(CUT_IN, CUT_OUT), 0.0
        amp = (amps(pipes, bar) if amp < 0 else amp) * wander
        end_s = start_s + 60 * minutes
        for n in range(-8, int(minutes * 4) + 1):
            at_s = self.house.days * DAY + 120.0 + n * LOOK_S
            ran_s = max(0.0, at_s - start_s)
            if at_s < end_s:
                gone_L = flow * ran_s
                self._glance(
                    at_s, ran_s, mode, bar if ran_s else CUT_OUT, level - gone_L, amp if ran_s else 0.0
                )
        self.house.tank_L = tank_L
        return [
            (at_s - tell_s, f"{rule}{' ' + grade if grade else ''} by {reason.rsplit(' ', 1)[-1]}")
            for at_s, rule, grade, reason in self.alarms
        ]


def _looks(run: Run) -> list[float]:
    first = run.start_s // LOOK_S * LOOK_S - 5 * LOOK_S
    return [first + n * LOOK_S for n in range(int((run.end_s - first) / LOOK_S) + 2)]


def _settings(pipes: Pipework, flow_L_per_min: float) -> Settings:
    a = {
        "volume_L": pipes.accumulator_L, "precharge_bar": PRECHARGE,
        "cut_in_bar": CUT_IN, "cut_out_bar": CUT_OUT,
    }  # fmt: skip
    return Settings.model_validate({
        "boat": {"name": "Test", "crew": pipes.people},
        "tanks": [{"name": "tank", "capacity_L": pipes.capacity_L}],
        "pumps": [{"name": "pump", "flow_L_per_min": flow_L_per_min, "accumulator": a}],
        "heaters": [{"name": "heater", "volume_L": pipes.heater_L}] if pipes.heater_L else [],
    })  # fmt: skip


__all__ = ["HOUR", "MODES", "PipeWatch"]
