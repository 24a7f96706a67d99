"""The pipeline: one thread's worth of straight line, from what was heard to what is told.

Time comes from the data (`monitor.pipeline.beat`), so live, demo and replay run the same code. Estimates
are made once a minute, forecasts are drawn every half hour and when something changed.
"""

from array import array
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from monitor.alerts.facts import Facts
from monitor.clock import MINUTE_S, Anchor, Boot
from monitor.errors import CommandError
from monitor.estimation.calibration_steps import Now
from monitor.estimation.watcher import Heard, Look
from monitor.pipeline.beat import BACK_S, Beat
from monitor.pipeline.calibration import Calibrations, learned, put_in_force, take_back
from monitor.pipeline.clockwork import Clockwork
from monitor.pipeline.energy import EnergyDesk
from monitor.pipeline.health import Healths
from monitor.pipeline.judgement import Judgement
from monitor.pipeline.lines import LineKeeper
from monitor.pipeline.memory import Memory
from monitor.pipeline.mode import ModeKeeper
from monitor.pipeline.recorder import Recorder
from monitor.pipeline.teller import Nobody, Teller
from monitor.pipeline.watchers import Watchers
from monitor.pipeline.water import WaterDesk
from monitor.records import (
    Column,
    Command,
    Estimate,
    Event,
    EventKind,
    FitOutPicture,
    Frame,
    Message,
    Minute,
    NightLedger,
    Reading,
    Reason,
    Snapshot,
    SourceHealth,
)
from monitor.routing.router import Router
from monitor.settings import Settings
from monitor.storage.history import History

FORECAST_EVERY_S = 1800.0


class Pipeline:
    """Takes in, remembers, assesses. Owned by one thread."""

    def __init__(
        self,
        settings: Settings,
        writer: Recorder,
        boot: int,
        *,
        recorded: bool = False,
        trusted: bool = True,
        simulated: str = "",
        teller: Teller | None = None,
    ) -> None:
        """`recorded`: elapsed time is a recording's own, and wall time too where it is `trusted`."""
        self.frames = self.messages = 0
        self.covered_s = 0.0
        self._writer = writer
        self._recorded, self._trusted_recording, self._simulated = recorded, trusted, simulated
        self._memory = memory = Memory(writer.recall())
        self._calibrations = Calibrations(settings, memory)
        self.settings = settings = self._calibrations.settings
        self._saved_utc_s = memory.number("utc_s")
        self._clockwork = Clockwork(Boot(boot), self._anchored, self._saved_utc_s)
        self.router = Router(settings, self._clock_heard)
        self.mode = ModeKeeper(settings)
        memory.restore("mode", self.mode.restore)
        self.energy = EnergyDesk(settings, memory)
        self.water = WaterDesk(settings, self.router.slots, self._event, memory)
        self.watchers = Watchers(settings, memory, self.water.ahead)
        self._boots: dict[int, Boot] = {}
        self._judgement = Judgement(settings, writer, memory, teller or Nobody())
        self._due = LineKeeper(settings)
        memory.restore("lines", self._due.restore)
        self._healths = Healths(settings, self.router)
        self._beat = Beat(self)
        self._forecast_at_s = 0.0
        self._captures = 1
        self._serial = 0
        self._stumbles = 0
        self._lines: tuple[float, Callable[[float, list[Estimate]], None]] | None = None
        self._line_at_s = 0.0
        self.first_utc_s: float | None = None

    # ---- taking in

    def intake(self, batch: Iterable[Frame | Message]) -> None:
        """Take what was heard, in order. Nothing it may hold raises."""
        beat = self._beat
        now_s = beat.now_s
        take_frame, take_message = self.router.frame, self.router.message
        for item in batch:
            at_s = item[0]
            if now_s is None or at_s >= beat.judge_at_s or at_s < now_s - BACK_S:
                beat.advance(at_s)
            now_s = at_s if now_s is None or at_s > now_s or at_s < now_s - BACK_S else now_s
            if type(item) is Frame:
                self.frames += 1
                take_frame(item)
            else:
                self.messages += 1
                take_message(item)  # type: ignore[arg-type]
        beat.now_s = now_s

    def tick(self, at_s: float) -> None:
        """Let time pass although nothing was heard."""
        self._beat.tick(at_s)

    def began(self, at_s: float) -> None:
        self._forecast_at_s = at_s
        if self._recorded and self._trusted_recording:
            self._clockwork.told(at_s, at_s, "recording", 0.0)
        self._line_at_s = at_s

    def begin_anew(self, at_s: float) -> None:
        self._captures += 1
        number = self._writer.begin_boot(f"capture {self._captures}")
        self._clockwork = Clockwork(Boot(number), self._anchored)
        self.router.forget_times()
        self.energy.new_boot(at_s)
        self.water.new_boot(at_s)
        self.watchers.new_boot()

    def silence(self, from_s: float, to_s: float) -> None:
        self._event(Event(EventKind.GAP, "watch", self.boot, from_s, to_s))
        self.energy.gap(from_s, to_s)
        self._forecast_at_s = to_s

    # ---- remembering and estimating, once a minute

    @property
    def boot(self) -> int:
        return self._clockwork.boot.number

    @property
    def now_s(self) -> float:
        """The newest elapsed time that the data have shown."""
        return self._beat.now_s or 0.0

    def minute_over(self, start_s: float, end_s: float) -> None:
        self.covered_s += MINUTE_S
        columns = {slot.name: slot.drain() for slot in list(self.router.slots.values()) if slot.times}
        found: dict[str, Column] = {}
        try:
            self._assess(columns, start_s, end_s)
            found = self._computed(end_s)
        finally:
            # Whatever stumbles over them, the readings are kept.
            columns = columns | found | self._healths.columns(end_s, self.now_s)
            state = {"energy": self.energy.state()} | self.watchers.state()
            self._writer.minute(Minute(self.boot, int(start_s // MINUTE_S), columns, state))
        for key, value in self.water.to_remember():
            self._writer.remember(key, value)
        if self._lines is not None:
            self._write_lines(end_s)

    def _assess(self, columns: Mapping[str, Column], start_s: float, end_s: float) -> None:
        """Have every estimator take a minute."""
        utc_s = self._clockwork.utc_s(start_s)
        if self.first_utc_s is None:
            self.first_utc_s = utc_s
        moved = self.mode.minute(start_s, utc_s, columns)
        if moved is not None:
            self._event(Event(EventKind.MODE, "boat", self.boot, start_s, None, moved))
            self._writer.remember("mode", self.mode.state())
            self._forecast_at_s = min(self._forecast_at_s, end_s)
        mode = self.mode.mode
        self.water.minute(columns, start_s, utc_s, mode)
        for event in self.energy.minute(
            columns, self.router.slots, start_s, utc_s, mode, self._clockwork.boot
        ):
            self._event(event)
            self._forecast_at_s = min(self._forecast_at_s, end_s)
        minute = Heard(
            start_s,
            utc_s,
            self.boot,
            columns,
            self.router.slots.readings(end_s),
            mode,
            {(e.name, e.subject): e for e in self.energy.charge_estimates()},
            *self.energy.sums(),
            self.water.heard(),
        )
        for event in self.watchers.minute(minute):
            self._event(event)
        if end_s >= self._forecast_at_s and utc_s is not None:
            self._forecast_at_s = end_s + FORECAST_EVERY_S
            self._forecast(utc_s + MINUTE_S, end_s)
        night = self.energy.night_over(utc_s, self._clockwork.boot, self.water)
        if night is not None:
            self._event(night)
        if self.energy.naming.changed:
            self._writer.remember("loads", self.energy.naming.state())
        before = self._due.state()
        lines = list(self._due.lines(utc_s, self.settings, lambda: self.snapshot(end_s), mode))
        if self._due.state() != before:  # Remembered before it is told: never twice.
            self._writer.remember("lines", self._due.state())
        for kind, line in lines:
            self._judgement.hand(kind, line, end_s, self._clockwork.utc_s)

    def _computed(self, end_s: float) -> dict[str, Column]:
        """What was estimated, kept beside what was measured, so that every page can draw its past."""
        found: dict[str, Column] = {}
        told = (*self.energy.amounts(), *self.water.amounts(), *self.watchers.amounts())
        for name, quantity, amount in told:
            if amount is not None:
                found[f"{name} {quantity}"] = Column(array("d", [end_s - 1.0]), array("d", [amount]))
        return found

    def _forecast(self, utc_s: float, at_s: float) -> None:
        mode = self.mode.mode
        for event in (
            *self.energy.forecast(utc_s, at_s, mode, self.boot),
            *self.water.forecast(utc_s, at_s, mode, self.boot),
        ):
            self._event(event)
        charging = self.energy.charging
        self.watchers.forecast_drawn(charging.course if charging else None, self.energy.darkness(utc_s))
        self._writer.remember("utc_s", utc_s)

    def estimates(self) -> list[Estimate]:
        """Every estimate that stands."""
        return [*self.energy.estimates(), *self.watchers.estimates(), *self.water.estimates()]

    # ---- alerts

    def judge(self, at_s: float) -> None:
        running_s, fallen_L = self.water.running_s(at_s), self.water.fallen_L()
        readings = self.router.slots.readings(at_s)
        self.watchers.relimit(self._judgement.rulebook, self.mode.mode, self.water.ahead.use.heads)
        self.watchers.look(Look(at_s, self.boot, readings, self.mode.mode, running_s, fallen_L))
        self.water.moving_nothing(self.watchers.idle_pumps(), at_s)
        filling = bool(self.watchers.pictures.water().fillings)
        facts = self._facts(at_s, readings, running_s, fallen_L)
        self._judgement.judge(self.boot, facts, filling, self._clockwork.utc_s)

    def _facts(
        self,
        at_s: float,
        readings: Mapping[str, Reading],
        running_s: Mapping[str, float | None],
        fallen_L: Mapping[str, float | None],
    ) -> Facts:
        return Facts(
            settings=self.settings,
            at_s=at_s,
            started_s=self._beat.started_s,
            heads=self.water.ahead.use.heads,
            values=readings,
            estimates={(e.name, e.subject): e for e in self.estimates()},
            sources=self._healths.all(self.now_s),
            clock_trusted=self._clockwork.trusted,
            last_full_s=self.energy.last_full_s(),
            running_s=running_s,
            fallen_L=fallen_L,
            verdicts=self.water.verdicts(),
            troubles=self._writer.troubles(),
            found=self.watchers.findings(),
            mode=self.mode.mode,
            ways=self._judgement.teller.ways(),
            rulebook=self._judgement.rulebook,
        )

    # ---- the outside

    def hear_of(self, healths: Iterable[SourceHealth], dropped: Mapping[str, int]) -> None:
        """How the live sources are, told by whoever runs them."""
        self._healths.hear_of(healths, dropped, self.now_s)

    def network_time(self, at_s: float, utc_s: float) -> None:
        """The computer's wall clock is synchronised with the network's."""
        believed = self._clockwork.utc_s(at_s)
        if believed is None or abs(believed - utc_s) > 0.5:
            self._clockwork.told(at_s, utc_s, "network time", 0.05)

    def stumbled(self) -> None:
        self._stumbles += 1

    def command(self, command: Command, at_s: float) -> None:
        """Do what the crew asked for. Raises CommandError, saying why, where it cannot be done."""
        if command.kind in self._judgement.wishes:
            for event in self._judgement.wish(command, self.boot, at_s, self._clockwork.utc_s):
                self._event(event)
        elif command.kind == "mode":
            self.mode.by_hand(command.facts)
            facts = {"place": self.mode.mode.place, "people": self.mode.mode.people, "by_hand": True}
            self._event(Event(EventKind.MODE, "boat", self.boot, at_s, None, facts))
            self._writer.remember("mode", self.mode.state())
            self._forecast_at_s = min(self._forecast_at_s, at_s)
        elif command.kind == "note":
            text = str(command.facts.get("text", "")).strip()
            if not text:
                raise CommandError("the note is empty")
            about_s = self._noted_at_s(command, at_s)
            self._event(Event(EventKind.NOTE, "crew", self.boot, about_s, None, {"text": text[:2000]}))
        elif command.kind == "clock":
            utc_s = float(command.facts["utc_s"])
            self._clockwork.told(at_s, utc_s, "crew", 2.0)
        elif command.kind in self.energy.naming.wishes:
            self.energy.naming.wish(command)
            self._writer.remember("loads", self.energy.naming.state())
        elif command.kind in self.water.wishes:
            self.water.wish(command, at_s, self._clockwork.utc_s(at_s))
        elif command.kind == "calibration back":
            what = str(command.facts.get("what"))
            told = take_back(what, command.subject, self.boot, at_s, self._calibrations, self.energy)
            self._recalibrated(told, at_s)
        else:
            now_utc_s = self._clockwork.utc_s(at_s)
            for event in self.watchers.wish(command, at_s, now_utc_s):
                if event.kind is EventKind.CALIBRATION:
                    self.put_in_force(event, at_s)
                else:
                    self._event(event)

    def put_in_force(self, event: Event, at_s: float) -> None:
        """What the crew has measured and taken."""
        taken = put_in_force(event, self._clockwork.utc_s(at_s), self._calibrations, self.energy)
        self._recalibrated(taken, at_s)

    def _noted_at_s(self, command: Command, at_s: float) -> float:
        """What a note is of: its own time, where it has one, in elapsed seconds of this boot; else now."""
        said_s, now_s = command.facts.get("utc_s"), self._clockwork.utc_s(at_s)
        return at_s if said_s is None or now_s is None else at_s - max(0.0, now_s - float(said_s))

    def _recalibrated(self, event: Event, at_s: float) -> None:
        """A figure was measured, or taken back: whoever reckons with it begins anew from what it has learned,
        as after a restart."""
        self._writer.remember("calibrations", self._calibrations.state())
        self._event(event)
        if self._calibrations.settings != self.settings:
            self.settings = self._calibrations.settings
            self.water.put_right(self.settings)
            self.watchers = Watchers(self.settings, Memory(self.watchers.state()), self.water.ahead)
        self._forecast_at_s = min(self._forecast_at_s, at_s)

    def prefill(self, history: History, at_s: float) -> None:
        """What the estimators need of the past and do not carry in their state."""
        self._boots = {boot.number: boot for boot in history.boots()}
        self._clockwork.boot = self._boots.get(self.boot, self._clockwork.boot)
        until_utc_s = self._clockwork.utc_s(at_s) or self._saved_utc_s
        if not until_utc_s:
            return
        self.energy.prefill(history, until_utc_s)
        self.energy.prefill_minutes(self._clockwork.boot, history, until_utc_s)
        self.water.prefill(history, until_utc_s)
        self.water.prefill_runs(self._clockwork.boot, history, until_utc_s)

    def watch_estimates(self, every_s: float, told: Callable[[float, list[Estimate]], None]) -> None:
        """Have every estimate told each `every_s` of the data's time."""
        self._lines = (every_s, told)

    def _write_lines(self, end_s: float) -> None:
        assert self._lines is not None
        every_s, told = self._lines
        utc_s = self._clockwork.utc_s(end_s)
        if utc_s is not None and end_s >= self._line_at_s + every_s:
            self._line_at_s += (end_s - self._line_at_s) // every_s * every_s
            told(utc_s, self.estimates())

    def snapshot(self, at_s: float) -> Snapshot:
        """All that the screens show of now."""
        self._serial += 1
        utc_s = self._clockwork.utc_s(at_s)
        return Snapshot(
            serial=self._serial,
            at_s=at_s,
            utc_s=utc_s,
            clock_trusted=self._clockwork.trusted,
            values=self.router.slots.readings(at_s),
            estimates={(e.name, e.subject): e for e in self.estimates()},
            ebbs=tuple(e for e in (self.energy.ebb(), self.water.ebb()) if e is not None),
            alerts=self._judgement.open(self._clockwork.boot, self._boots, self._beat.started_s),
            sources=self._healths.all(self.now_s),
            mode=self.mode.mode,
            nights=self.nights(utc_s),
            darkness=self.energy.darkness(utc_s) if utc_s is not None else (),
            troubles=self._troubles(),
            demo=self._simulated,
            power=self.watchers.pictures.power(),
            water=self.watchers.pictures.water(),
            loads=self.energy.naming.kinds,
            calls=self._judgement.calls(at_s),
            fit_out=self._fit_out(at_s),
        )

    def _fit_out(self, at_s: float) -> FitOutPicture:
        readings, running_s = self.router.slots.readings(at_s), self.water.running_s(at_s)
        fulls = {
            bank: utc_s
            for bank, full_s in self.energy.last_full_s().items()
            if full_s is not None and (utc_s := self._clockwork.utc_s(full_s)) is not None
        }
        return FitOutPicture(
            self.watchers.calibration.wizard(Now(at_s, readings, self.mode.mode, running_s)),
            tuple(learned(self.settings, self._calibrations, self.energy, self.water, fulls)),
            self._calibrations.taken(),
        )

    def nights(self, utc_s: float | None) -> tuple[NightLedger, ...]:
        return self.energy.nights(utc_s, self._clockwork.boot, self.water)

    def _troubles(self) -> tuple[Reason, ...]:
        found = [*self._writer.troubles(), *self._memory.troubles]
        if self._clockwork.disputed is not None:
            found.append(Reason("clock disputed", {"source": self._clockwork.disputed}))
        if self._stumbles:
            found.append(Reason("the watch stumbled", {"times": self._stumbles}))
        return tuple(found)

    def finish(self, at_s: float | None) -> None:
        """Close the minute under way and remember what is due."""
        if self._beat.now_s is None:
            return
        if at_s is not None:
            self.tick(at_s)
        self._beat.finish()
        for key, value in self.water.to_remember(everything=True):
            self._writer.remember(key, value)

    # ---- small helpers

    def _event(self, event: Event) -> None:
        if event.boot < 0:
            event = replace(event, boot=self.boot)
        if event.kind is EventKind.PUMP_RUN:
            self.watchers.calibration.ran(event)
        self._writer.event(event)

    def _anchored(self, anchor: Anchor) -> None:
        self._writer.anchor(self.boot, anchor)
        self._forecast_at_s = min(self._forecast_at_s, anchor.elapsed_s)

    def _clock_heard(self, at_s: float, utc_s: float, source: str) -> None:
        if not (self._recorded and self._trusted_recording):
            self._clockwork.heard(at_s, utc_s, source)
