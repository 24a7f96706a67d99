"""What the pages of energy and water show of the watchers' work, put together."""

from collections.abc import Sequence
from typing import TypeVar

from monitor.estimation.buffer import BufferWatch
from monitor.estimation.counters import CounterWatch
from monitor.estimation.filling import FillingWatch
from monitor.estimation.flows import FlowWatch
from monitor.estimation.guided import GuidedWatch
from monitor.estimation.making import MakerWatch
from monitor.estimation.plan_watch import PlanWatch
from monitor.estimation.plumbing import PlumbingWatch
from monitor.estimation.watcher import Watcher
from monitor.estimation.water_age import WaterAgeWatch
from monitor.estimation.water_plan import WaterPlanWatch
from monitor.records import PowerPicture, WaterAge, WaterPicture

W = TypeVar("W")


class Pictures:
    """Asks those of the watchers that have more to show than estimates and findings."""

    def __init__(self, watchers: Sequence[Watcher]) -> None:
        self._buffer = _one(watchers, BufferWatch)
        self._flows = _one(watchers, FlowWatch)
        self._plan = _one(watchers, PlanWatch)
        self._plumbing = _one(watchers, PlumbingWatch)
        self._guided = _one(watchers, GuidedWatch)
        self._filling = _one(watchers, FillingWatch)
        self._age = _one(watchers, WaterAgeWatch)
        self._water_plan = _one(watchers, WaterPlanWatch)
        self._maker = _one(watchers, MakerWatch)
        self._counters = _one(watchers, CounterWatch)

    def power(self) -> PowerPicture:
        return PowerPicture(self._flows.flows(), self._buffer.rehearsals(), self._plan.plan())

    def water(self) -> WaterPicture:
        return WaterPicture(
            self._plumbing.verdicts(),
            self._guided.guided(),
            self._filling.fillings(),
            self.water_ages(),
            self._water_plan.plan(),
            self._maker.making(),
            self._counters.counters(),
        )

    def water_ages(self) -> tuple[WaterAge, ...]:
        return self._age.ages()


def _one(watchers: Sequence[Watcher], kind: type[W]) -> W:
    """The watcher of that kind."""
    return next(w for w in watchers if isinstance(w, kind))
