"""The watchers of `monitor.estimation`, handed a minute at a time."""

from collections.abc import Iterator, Sequence
from typing import Any

from monitor.alerts.rulebook import Rulebook
from monitor.errors import CommandError
from monitor.estimation.buffer import BufferWatch
from monitor.estimation.calibration import CalibrationWatch
from monitor.estimation.cells import CellWatch
from monitor.estimation.counters import CounterWatch
from monitor.estimation.filling import FillingWatch
from monitor.estimation.flows import FlowWatch
from monitor.estimation.freezing import FreezeWatch
from monitor.estimation.guided import GuidedWatch
from monitor.estimation.making import MakerWatch
from monitor.estimation.opinions import OpinionWatch
from monitor.estimation.plan_watch import PlanWatch
from monitor.estimation.plumbing import PlumbingWatch
from monitor.estimation.supplies import SupplyWatch
from monitor.estimation.surplus import SurplusWatch
from monitor.estimation.tank_watch import TankWatch
from monitor.estimation.watcher import Heard, Limited, Look, Quick, Watcher, Wished
from monitor.estimation.water_age import WaterAgeWatch
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_plan import WaterPlanWatch
from monitor.pipeline.memory import Memory
from monitor.pipeline.pictures import Pictures
from monitor.records import Command, Course, Estimate, Event, Finding, Mode
from monitor.settings import Settings


def watchers(settings: Settings, ahead: WaterAhead) -> list[Watcher]:
    """Every watcher there is, one line each."""
    flows = FlowWatch(settings)
    return [
        BufferWatch(settings),
        CalibrationWatch(settings),
        CellWatch(settings),
        CounterWatch(settings),
        FillingWatch(settings),
        flows,
        FreezeWatch(settings),
        GuidedWatch(settings),
        MakerWatch(settings),
        OpinionWatch(settings),
        PlanWatch(settings, flows.flows),
        PlumbingWatch(settings),
        SupplyWatch(settings),
        SurplusWatch(settings),
        TankWatch(settings),
        WaterAgeWatch(settings),
        WaterPlanWatch(settings, ahead),
    ]


class Watchers:
    """Has each of them look at every minute. Between minutes nothing of theirs changes: it is asked once."""

    def __init__(self, settings: Settings, memory: Memory, ahead: WaterAhead) -> None:
        self._all = watchers(settings, ahead)
        self._quick = [w for w in self._all if isinstance(w, Quick)]
        self._wished = [w for w in self._all if isinstance(w, Wished)]
        self._limited = [w for w in self._all if isinstance(w, Limited)]
        self._estimates: list[Estimate] | None = None
        self._findings: dict[str, list[Finding]] = {}
        """By the watcher's name, of those that were asked since they last looked."""
        self.pictures = Pictures(self._all)
        self.calibration = next(w for w in self._all if isinstance(w, CalibrationWatch))
        self._plan = next(w for w in self._all if isinstance(w, PlanWatch))
        for watcher in self._all:
            memory.restore(f"watcher {watcher.name}", watcher.restore)

    def minute(self, minute: Heard) -> Iterator[Event]:
        self._estimates = None
        self._findings.clear()
        for watcher in self._all:
            watcher.take(minute)
            yield from watcher.events()

    def estimates(self) -> list[Estimate]:
        if self._estimates is None:
            self._estimates = [e for watcher in self._all for e in watcher.estimates()]
        return self._estimates

    def amounts(self) -> Iterator[tuple[str, str, float | None]]:
        """What is kept beside the measurements: subject, quantity, value."""
        for age in self.pictures.water_ages():
            yield age.tank, "water age", 0.0 if age.treated else age.mean_days

    def findings(self) -> tuple[Finding, ...]:
        for watcher in self._all:
            if watcher.name not in self._findings:
                self._findings[watcher.name] = watcher.findings()
        return tuple(f for watcher in self._all for f in self._findings[watcher.name])

    def idle_pumps(self) -> set[str]:
        """The pumps that are found to run and to move no water."""
        return {f.subject for f in self.findings() if f.holds and f.rule in ("pump dry", "pump switch stuck")}

    def look(self, now: Look) -> None:
        """Have those who cannot wait for the minute look at how things stand."""
        for watcher in self._quick:
            watcher.look(now)
            self._findings.pop(watcher.name, None)

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> Iterator[Event]:
        """What the crew asked for. Raises CommandError where nobody can do it."""
        for watcher in self._wished:
            if command.kind in watcher.wishes:
                watcher.wish(command, at_s, utc_s)
                self._estimates = None
                self._findings.pop(watcher.name, None)
                return watcher.events()
        raise CommandError("{wish!r} is not something the watch can do", wish=command.kind)

    def relimit(self, rulebook: Rulebook, mode: Mode, heads: int) -> None:
        """The limits in force, for those who hold one themselves."""
        for watcher in self._limited:
            limit = rulebook.limit(watcher.limited, "", mode, heads)
            if limit is not None:
                watcher.relimit(limit)

    def forecast_drawn(self, course: Course | None, darkness: Sequence[tuple[float, float]]) -> None:
        """A forecast with the usual charging (None: it could not be drawn), and the nights."""
        self._plan.course(course, darkness)

    def new_boot(self) -> None:
        """Elapsed time began anew after an unknown time off."""
        self._estimates = None
        self._findings.clear()
        for watcher in self._all:
            watcher.new_boot()

    def state(self) -> dict[str, Any]:
        """By the key each is kept under, with every minute."""
        return {f"watcher {watcher.name}": watcher.state() for watcher in self._all}
