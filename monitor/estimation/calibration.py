"""The guided calibrations: one at a time, begun, answered, taken or left by the crew.

What is found changes nothing by itself: the event of what was taken does (`monitor.pipeline.calibration`).
A restart ends what was under way, because nobody knows what flowed meanwhile, and says so.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from monitor.clock import HOUR_S, MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.bands import BAND_90
from monitor.estimation.calibration_repeats import Drawdown, Flow
from monitor.estimation.calibration_sounding import REFUSED as SENDER_UNHEARD
from monitor.estimation.calibration_sounding import SoundingByPouring
from monitor.estimation.calibration_steps import LEAVE, OVER, RESULT, TAKE, Now, Procedure
from monitor.estimation.calibration_zero import Zero
from monitor.estimation.sounding import Table, table_of
from monitor.estimation.watcher import Heard, Look
from monitor.records import Command, Estimate, Event, EventKind, Finding, Mode, Reason, Wizard
from monitor.settings import Settings
from monitor.words.tongues import N_

WHATS = (N_("sounding"), N_("flow"), N_("drawdown"), N_("zero"))
KEPT_S = 12 * HOUR_S
"""What nobody goes on with ends by itself; but for a bank that waits to be connected again."""
UNHEARD = N_("nothing is heard of {subject:text}: it could not be watched")
NOTHING = Now(0.0, {}, Mode("at anchor", "awake"), {})


class CalibrationWatch:
    """Watches one calibration at a time."""

    name = "calibration"
    wishes = frozenset({"calibration"})

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._procedure: Procedure | None = None
        self._now = NOTHING
        self._boot = -1
        self._age_s = 0.0
        self._refill_s: Mapping[str, float] = {}
        self._estimates: Mapping[tuple[str, str], Estimate] = {}
        self._interrupted: tuple[str, str] | None = None
        self._events: list[Event] = []

    # ---- what the crew does

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """`action`: "start" of a `what`, "stop", "take", "leave", or an `answer` with perhaps `litres`.
        Raises CommandError, saying why, where it cannot be."""
        self._now = self._now._replace(at_s=max(self._now.at_s, at_s))
        facts, action = command.facts, str(command.facts.get("action"))
        if action == "start":
            self._start(str(facts.get("what")), command.subject)
            return
        procedure = self._procedure
        if action == "stop" and procedure is None:
            self._interrupted = None
            return
        if procedure is None or procedure.subject != command.subject:
            raise CommandError("no calibration of {subject} is under way", subject=command.subject)
        if action == "stop":
            self._stop(procedure)
        elif action in (TAKE, LEAVE) and procedure.step == RESULT:
            if action == TAKE and procedure.found is not None:
                told = {k: v for k, v in asdict(procedure.found).items() if k not in ("subject", "utc_s")}
                self._events.append(
                    Event(EventKind.CALIBRATION, procedure.subject, self._boot, at_s, None, told)
                )
            self._procedure = None
        elif action in procedure.answers:
            litres = facts.get("litres")
            procedure.answer(action, None if litres is None else float(litres), self._now)
            self._age_s = 0.0
        else:
            can = ", ".join(("stop", *procedure.answers))
            raise CommandError(
                "the calibration waits for one of: {can}; got {action!r}", can=can, action=action
            )

    def _start(self, what: str, subject: str) -> None:
        if self._procedure is not None and self._procedure.step != OVER:
            under_way = self._procedure.subject
            raise CommandError("a calibration of {subject} is under way: stop it first", subject=under_way)
        self._procedure = self._made(what, subject)
        self._age_s, self._interrupted = 0.0, None

    def _made(self, what: str, subject: str) -> Procedure:
        settings, now = self._settings, self._now
        pump = next((p for p in settings.pumps if p.name == subject), None)
        tank = next((t for t in settings.tanks if t.name == subject), None)
        bank = next((b for b in settings.banks if b.name == subject and b.role == "house"), None)
        if what in ("flow", "drawdown") and pump is not None:
            if now.running_s.get(subject) is None:
                raise CommandError(UNHEARD, subject=subject)
            return Flow(pump) if what == "flow" else Drawdown(pump, self._believed_L(subject))
        if what == "sounding" and tank is not None:
            if now.newest(f"{subject} level") is None:
                raise CommandError(SENDER_UNHEARD, tank=subject)
            return SoundingByPouring(tank, settings, self._table(subject))
        if what == "zero" and bank is not None:
            zero = Zero(bank, settings, self._offset(subject))
            refused = zero.refused(now)
            if refused is not None:
                raise refused
            return zero
        raise CommandError("there is no calibration {what!r} of {subject!r}", what=what, subject=subject)

    def _stop(self, procedure: Procedure) -> None:
        """What was isolated is told to be connected again."""
        if isinstance(procedure, Zero) and procedure.connect_again():
            return
        if procedure.step == "back":
            raise CommandError("first say that the bank is connected again")
        self._procedure = None

    # ---- what is believed until now

    def _believed_L(self, pump: str) -> float | None:
        settings = next(p for p in self._settings.pumps if p.name == pump)
        seconds = self._refill_s.get(pump)
        if settings.drawdown_L is not None or seconds is None:
            return settings.drawdown_L
        return seconds * settings.flow_L_per_min / 60

    def _table(self, tank: str) -> Table:
        told = self._estimates.get(("tank_table_off_L", tank))
        table = None if told is None else told.reason.facts.get("table")
        if table is not None:
            return [(float(r), float(v)) for r, v in table]
        return table_of(next(t for t in self._settings.tanks if t.name == tank))

    def _offset(self, bank: str) -> tuple[float, float | None]:
        told = self._estimates.get(("charge_pct", bank))
        facts = {} if told is None else told.reason.facts
        sd_A = facts.get("offset_sd_A")
        return float(facts.get("offset_A") or 0.0), None if sd_A is None else BAND_90 * float(sd_A)

    # ---- what is watched

    def take(self, minute: Heard) -> None:
        self._boot = minute.boot
        self._refill_s = minute.water.refill_s
        self._estimates = {**minute.estimates, **minute.water.estimates}
        self._now = Now(minute.end_s, minute.readings, minute.mode, minute.water.running_s)
        if self._procedure is None:
            return
        self._procedure.minute(minute)
        self._age_s += MINUTE_S
        if self._age_s > KEPT_S and self._procedure.step != "back":
            self._procedure = None

    def look(self, now: Look) -> None:
        self._boot = now.boot
        self._now = Now(now.at_s, now.readings, now.mode, now.running_s)
        if self._procedure is not None:
            self._procedure.look(self._now)

    def ran(self, run: Event) -> None:
        """At once, when a run of a pump is over: the crew stands there with the bucket."""
        if self._procedure is not None:
            self._now = self._now._replace(running_s={**self._now.running_s, run.subject: 0.0})
            self._procedure.ran(run)

    # ---- what is told

    def wizard(self, now: Now) -> Wizard | None:
        """The one under way, as it stands now; after a restart, that it has ended."""
        p = self._procedure
        if p is None:
            if self._interrupted is None:
                return None
            what, subject = self._interrupted
            return Wizard(what, subject, OVER, Reason(f"calibration over: {what} interrupted"), done=True)
        id = f"calibration {p.what}: {p.step}"
        if p.step == OVER:
            id = f"calibration over: {p.outcome}"
        note = None
        if p.note:
            note = Reason(f"calibration note: {p.note}", {**p.told(), **p.facts})
        return Wizard(
            p.what, p.subject, p.step, Reason(id, {**p.told(), **p.facts}), note,
            () if p.step in (RESULT, OVER) else tuple(p.live(now)), p.answers, p.asks_litres,
            tuple(p.noted()), p.found if p.step == RESULT else None, p.step == OVER,
        )  # fmt: skip

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        return []

    def events(self) -> Iterator[Event]:
        """What was taken since this was last asked."""
        found, self._events = self._events, []
        return iter(found)

    # ---- restarts

    def new_boot(self) -> None:
        """Elapsed time began anew: what happened meanwhile nobody saw."""
        self._now, self._boot = NOTHING, -1
        self._interrupt()

    def _interrupt(self) -> None:
        if self._procedure is not None and self._procedure.step != OVER:
            self._interrupted = (self._procedure.what, self._procedure.subject)
        self._procedure = None

    def state(self) -> dict[str, Any]:
        p = self._procedure
        if p is not None and p.step != OVER:
            return {"under_way": [p.what, p.subject]}
        return {} if self._interrupted is None else {"under_way": list(self._interrupted)}

    def restore(self, state: Mapping[str, Any]) -> None:
        kept = state.get("under_way")
        if kept is not None and kept[0] in WHATS:
            self._interrupted = (str(kept[0]), str(kept[1]))
