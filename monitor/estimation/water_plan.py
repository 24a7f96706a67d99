"""When water must be fetched, and what saving it would give.

Sealed emergency water is told apart and never counted; nor is water that a watermaker or the rain has yet
to make. The latest day to leave is the cautious day less the time it takes to fetch water.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.bands import BAND_90
from monitor.estimation.watcher import Heard
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_reach import REACH_DAYS, Reach
from monitor.records import (
    Command,
    Estimate,
    Event,
    EventKind,
    Finding,
    Mode,
    RationStep,
    Reason,
    WaterPlan,
)
from monitor.settings import Settings

MOST_HEADS = 50


class Ration(NamedTuple):
    """A way of using water, and what it takes by the head and day. What to do is a sentence of its own."""

    name: str
    L_a_head: float


RATIONS = (
    Ration("normal", 20.0),  # WHO: 20 L with hygiene.
    Ration("modest", 15.0),  # Sphere, water supply standard 1: 15 L.
    Ration(
        "careful", 10.0
    ),  # Between Sphere's 7.5 and 15 L for basic needs. Common practice: wet, soap, rinse.
    Ration("miserly", 5.0),  # Common practice: 3.8 L at the least, 6 L on passage without a watermaker.
    Ration("survival", 2.5),  # Sphere: 2.5 to 3 L for drinking and food.
)
AIR_NAMES = ("outside", "air", "deck", "cabin", "saloon")
"""What an instrument is called whose temperature is that of the air people live in, the best first."""


class WaterPlanWatch:
    """Plans whenever the reach of water is drawn, which `ahead` holds for the desk of water, too."""

    name = "water plan"
    wishes = frozenset({"crew"})

    def __init__(self, settings: Settings, ahead: WaterAhead | None = None) -> None:
        self._settings = settings
        self._ahead = WaterAhead(settings) if ahead is None else ahead
        self._air = air_channel(settings)
        self._drawn: Reach | None = None
        self._plan: WaterPlan | None = None
        self._heat_pct: tuple[float, float, float] | None = None
        self._mode: Mode | None = None
        self._at_s = 0.0
        self._events: list[Event] = []

    @property
    def heads(self) -> int:
        """How many are aboard, as the crew said last."""
        return self._ahead.use.heads

    def take(self, minute: Heard) -> None:
        self._at_s, self._mode = minute.end_s, minute.mode
        use = self._ahead.use
        use.leak_L_per_h = _leak_L_per_h(minute)
        air_C = minute.mean(self._air) if self._air is not None else None
        if minute.utc_s is not None and air_C is not None:
            use.air(minute.utc_s, air_C, MINUTE_S)
        self._look()

    def _look(self) -> None:
        """Plan anew where the reach was drawn anew."""
        if not self._settings.tanks or (self._plan is not None and self._drawn is self._ahead.reach):
            return
        self._drawn = self._ahead.reach
        self._plan = self._unknown() if self._drawn is None else self._made(self._drawn)
        self._heat_pct = None if self._drawn is None else self._heat(float(self._drawn.utc_s[0]))

    # ---- the plan

    def plan(self) -> WaterPlan | None:
        """The plan as it stands; None before the first minute, and where there is no tank."""
        return self._plan

    def _unknown(self) -> WaterPlan:
        return WaterPlan(
            None, (), None, None, self._settings.reserves.sealed_L, Reason("water plan: unknown")
        )  # fmt: skip

    def _made(self, far: Reach) -> WaterPlan:
        above_L, run_h = self._ahead.above_L, self._settings.limits.run_for_water_h
        cautious = far.days(above_L, far.cautious)
        now_s = float(far.utc_s[0])
        leave_s = None if cautious > REACH_DAYS else max(now_s, now_s + cautious * DAY_S - run_h * HOUR_S)
        facts: dict[str, Any] = {
            "leave_s": leave_s,
            "cautious_days": cautious,
            "refill_L": self._ahead.free_L,
            "run_s": run_h * HOUR_S,
            "heads": far.heads,
        }
        if leave_s is None:
            id = "water plan: no need to leave"
            facts["cautious_days"] = float(REACH_DAYS)
        else:
            id = "water plan: leave now" if leave_s <= now_s else "water plan: leave by"
        if far.leak_L_per_h > 0:
            id += ", leaking"
            tight, leaking = (far.days(above_L, far.likely, leak=leak) for leak in (False, True))
            facts["leak_L"] = 24 * far.leak_L_per_h
            facts["cost_s"] = (min(tight, REACH_DAYS) - min(leaking, REACH_DAYS)) * DAY_S
        return WaterPlan(
            far.pace_L_a_head,
            tuple(self._steps(far, cautious)),
            leave_s,
            self._ahead.free_L,
            self._settings.reserves.sealed_L,
            Reason(id, facts),
        )

    def _steps(self, far: Reach, cautious: float) -> Iterator[RationStep]:
        """Each way of using less than now: days as the crew's own days are, drawn in to that pace."""
        pace_L, above_L = far.pace_L_a_head, self._ahead.above_L
        for name, L_a_head in RATIONS:
            if L_a_head < pace_L:
                share = L_a_head / pace_L
                likely, low = (far.days(above_L, u, share=share) for u in (far.likely, far.cautious))
                yield RationStep(name, L_a_head, likely, low, low - cautious)

    def _heat(self, utc_s: float) -> tuple[float, float, float] | None:
        """How much more is used for each degree, in per cent, with its 90 % band; None without a reading."""
        use = self._ahead.use
        if use.coming_C(utc_s) != use.coming_C(utc_s):
            return None
        found = use.heat(utc_s)
        band = BAND_90 * found.sd_per_C
        return 100 * found.per_C, 100 * max(0.0, found.per_C - band), 100 * (found.per_C + band)

    # ---- what the crew says

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """So many are aboard from now on."""
        said = command.facts.get("heads")
        try:
            heads = int(str(said))
        except ValueError:
            heads = 0
        if not 1 <= heads <= MOST_HEADS:
            raise CommandError(
                "heads: expected a whole number from 1 to {most:count}, got {got!r}",
                most=MOST_HEADS,
                got=said,
            )
        if self._mode is None:
            raise CommandError("heads: the watch has heard nothing yet; try again in a minute")
        before, self._ahead.use.heads = self.heads, heads
        if heads == before:
            return
        if utc_s is not None:
            self._ahead.again(utc_s)
            self._look()
        facts = {
            "place": self._mode.place,
            "people": self._mode.people,
            "by_hand": self._mode.by_hand,
            "heads": heads,
            "heads_before": before,
        }
        self._events.append(Event(EventKind.MODE, "boat", -1, at_s, None, facts))

    def events(self) -> Iterator[Event]:
        events, self._events = self._events, []
        return iter(events)

    # ---- what is told

    def estimates(self) -> list[Estimate]:
        """How use goes with the heat, and how often earlier forecasts held."""
        if not self._settings.tanks:
            return []
        at_s, hits = self._at_s, self._ahead.hits()
        heat, low, high = self._heat_pct or (None, None, None)
        counted = {"n": hits.forecasts, "held": hits.held}
        why = "water hits" if hits.share is not None else "water hits too few"
        warmth = Reason("water heat" if self._heat_pct else "water heat unknown")
        return [
            Estimate("water_heat_pct", "water", at_s, heat, low, high, warmth),
            Estimate("water_hits", "water", at_s, hits.share, hits.low, hits.high, Reason(why, counted)),
        ]

    def findings(self) -> list[Finding]:
        """Few days of water are found where all alerts of days are."""
        return []

    # ---- restarts

    def new_boot(self) -> None:
        """Nothing here is counted in elapsed time."""

    def state(self) -> dict[str, Any]:
        return self._ahead.state() | {"crew": self._settings.boat.crew}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`. A crew that was changed in the settings since counts as said later."""
        crew = self._settings.boat.crew
        self._ahead.restore(state)
        if state["crew"] != crew:
            self._ahead.use.heads = crew


def air_channel(settings: Settings) -> str | None:
    """The channel of the air's temperature; None where no instrument is called so."""
    names = [i.name for i in settings.instruments]
    found = (n for word in AIR_NAMES for n in names if word in n.lower().split())
    name = next(found, None)
    return None if name is None else f"{name} temperature"


def _leak_L_per_h(minute: Heard) -> float:
    """What is lost beyond doubt: the leaks that are suspected."""
    leaks = (e.value for (name, _), e in minute.water.estimates.items() if name == "leak_L_per_h")
    return sum(v for v in leaks if v is not None and v > 0)
