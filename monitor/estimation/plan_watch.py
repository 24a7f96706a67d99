"""Keeps the charging plan of the day, and says when we must charge."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.charge_plan import LOUD, Way, charge_plan
from monitor.estimation.charge_power import TAIL_SHARE
from monitor.estimation.house_left import house_left
from monitor.estimation.watcher import LIVE_V, Heard
from monitor.records import ChargePlan, Course, Estimate, Event, Finding, Flow, Reason
from monitor.settings import Settings

EVERY_MIN = 5
STALE_S = 3 * HOUR_S
"""A forecast older than that is none."""
CLEARS_PCT = 2.0
"""So far above the reserve there is no need any more."""


class PlanWatch:
    """Plans whenever a forecast was drawn, and every five minutes in between.

    `flows` tells what every source puts in, as `FlowWatch.flows` does; whoever draws the forecast hands
    it over with `course`.
    """

    name = "plan"

    def __init__(self, settings: Settings, flows: Callable[[], Sequence[Flow]]) -> None:
        self._settings, self._flows = settings, flows
        houses = [b for b in settings.banks if b.role == "house"]
        self._bank = houses[0].name if houses else None
        self._taper_share = min((TAIL_SHARE[b.chemistry] for b in houses), default=TAIL_SHARE["lifepo4"])
        engines = [e.name for e in settings.engines if e.drives == "propeller"]
        self._engine = engines[0] if engines else None
        self._course: Course | None = None
        self._darkness: tuple[tuple[float, float], ...] = ()
        self._plan: ChargePlan | None = None
        self._wait_min = 0

    def course(self, course: Course | None, darkness: Sequence[tuple[float, float]]) -> None:
        """A forecast with the usual charging was drawn (None: it could not be), with the nights, dusk to
        dawn in UTC seconds."""
        self._course, self._darkness, self._wait_min = course, tuple(darkness), 0

    def plan(self) -> ChargePlan | None:
        """The plan as it stands; None before the first minute, and where there is no house bank."""
        return self._plan

    def take(self, minute: Heard) -> None:
        if self._bank is None:
            return
        self._wait_min -= 1
        if self._wait_min < 0 or self._plan is None:
            self._plan = self._made(minute)
            self._wait_min = EVERY_MIN - 1

    def _made(self, minute: Heard) -> ChargePlan:
        left = house_left(self._settings, minute.estimates)
        if left is None:
            return _unknown("charge: charge unknown")
        course, now_s = self._course, None if minute.utc_s is None else minute.utc_s + 60.0
        if course is None or now_s is None or not -60.0 <= now_s - course.utc_s[0] <= STALE_S:
            return _unknown("charge: no forecast")
        ways = self._ways(minute)
        return charge_plan(now_s, left, course, self._darkness, ways, self._settings, self._taper_share)

    def _ways(self, minute: Heard) -> list[Way]:
        """Engine and generator always, the shore where the boat lies alongside or it is live."""
        ashore = minute.mode.place == "alongside" or any(
            s.kind == "shore" and (minute.newest(f"{s.name} ac voltage") or 0.0) > LIVE_V
            for s in self._settings.supplies
        )
        kinds = (*LOUD, "shore") if ashore else LOUD
        return [
            Way(f.name, f.kind, f.usual_W, f.learned, (f.kind == "alternator" and self._engine) or f.name)
            for f in self._flows()
            if f.kind in kinds and f.usual_W > 0
        ]

    def findings(self) -> list[Finding]:
        if self._bank is None:
            return []
        plan = self._plan or _unknown("charge: no forecast")
        reason = Reason(f"alert: {plan.reason.id}", plan.reason.facts)
        holds = clears = None
        if plan.needed is not None:
            holds, clears = plan.needed, plan.reason.facts["margin_pct"] >= CLEARS_PCT
        under = tuple((rule, self._bank) for rule in ("cut off", "low voltage", "low charge"))
        return [Finding("charge today", self._bank, holds, clears, reason, under=under)]

    def estimates(self) -> list[Estimate]:
        return []

    def events(self) -> Iterator[Event]:
        return iter(())

    def new_boot(self) -> None:
        """The forecast that was drawn may be hours old."""
        self._course, self._plan = None, None

    def state(self) -> dict[str, Any]:
        return {}

    def restore(self, state: Mapping[str, Any]) -> None:
        """There is nothing to keep: the next forecast brings it all."""


def _unknown(why: str) -> ChargePlan:
    return ChargePlan(None, None, None, None, (), Reason(why))
