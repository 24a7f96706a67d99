"""What is wrong with tank senders, and volumes that do not add up: told plainly, never as a leak."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, EventKind, Finding, Reason
from monitor.settings import Settings, Tank

ABSENT_MINUTES = 15
"""A sender is absent that has not been heard for so long."""
SURELY_MINUTES, PERHAPS_MINUTES = 60, 24 * 60
"""How long it must swing to be called noisy: while something else shows that the boat lies still, and
where nothing does."""
SAID_APART, SAID_LEAST = 1.3, 0.1
"""What the crew says of a fill is apart from what the tank rose by this factor, and by this share of the
capacity at least."""
SAID_MINUTES = 24 * 60
"""So long it is told."""


class Seen(NamedTuple):
    """What the latest minute had of one tank."""

    left: Estimate | None = None
    ratio: Estimate | None = None
    share: Estimate | None = None


class TankWatch:
    """Answers for "tank sender wrong" and "water does not add up"."""

    name = "tanks"

    def __init__(self, settings: Settings) -> None:
        self._tanks = {tank.name: tank for tank in settings.tanks}
        self._pumps = {
            name: [p.name for p in settings.pumps if name in (p.tanks or list(self._tanks))]
            for name in self._tanks
        }
        self._heel = [f"{i.name} heel" for i in settings.instruments]
        self._seen: dict[str, Seen] = {}
        self._swings = dict.fromkeys(self._tanks, 0)
        self._surely = dict.fromkeys(self._tanks, 0)
        self._unheard = dict.fromkeys(self._tanks, 0)
        self._said: dict[str, list[float]] = {}
        """By tank: what the crew said of a fill, what the tank rose, and for how many minutes it is told."""

    def take(self, minute: Heard) -> None:
        found = minute.water.estimates
        for name in self._tanks:
            kinds = ("tank_L", "tank_pump_ratio", "tank_share")
            self._seen[name] = Seen(*(found.get((kind, name)) for kind in kinds))
        reasons = {name: seen.left.reason.id if seen.left else "" for name, seen in self._seen.items()}
        still = "tank level" in reasons.values() or any(minute.values(h).size for h in self._heel)
        for name in self._tanks:
            swings = reasons[name] == "tank held for slosh"
            self._swings[name] = self._swings[name] + 1 if swings else 0
            self._surely[name] = self._surely[name] + 1 if swings and still else 0
            heard = minute.newest(f"{name} level") is not None
            self._unheard[name] = 0 if heard else self._unheard[name] + 1
        self._follow_said(minute)

    def _follow_said(self, minute: Heard) -> None:
        for said in self._said.values():
            said[2] -= 1
        self._said = {name: said for name, said in self._said.items() if said[2] > 0}
        for event in minute.water.events:
            tank = self._tanks.get(event.subject)
            if event.kind == EventKind.FILL and tank is not None and "measured_L" in event.facts:
                self._compare_said(tank, float(event.facts["litres"]), float(event.facts["measured_L"]))

    def _compare_said(self, tank: Tank, said_L: float, rose_L: float) -> None:
        self._said.pop(tank.name, None)
        more, less = max(said_L, rose_L), min(said_L, rose_L)
        if more > SAID_APART * less and more - less > SAID_LEAST * tank.capacity_L:
            self._said[tank.name] = [said_L, rose_L, SAID_MINUTES]

    # ---- what is told

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        senders = [self._sender(tank) for tank in self._tanks.values() if tank.feeds]
        return [*senders, *(self._sums(name) for name in self._tanks)]

    def _sender(self, tank: Tank) -> Finding:
        name = tank.name
        left = self._seen.get(name, Seen()).left
        told: dict[str, Any] = {"tank": name}
        why = self._why(name, left)
        under: tuple[tuple[str, str], ...] = ()
        if left is not None:
            told |= left.reason.facts
        if why == "absent":
            told["unheard_s"] = 60.0 * self._unheard[name]
            silent = {("source silent", feed.source) for feed in tank.feeds}
            under = (("instrument silent", name), *sorted(silent))
        if why is None:
            sure = left is not None and left.reason.id == "tank level"
            reason = Reason("alert: tank sender is well", told)
            return Finding("tank sender wrong", name, False if sure else None, True if sure else None, reason)
        return Finding(
            "tank sender wrong", name, True, False, Reason(f"alert: tank sender {why}", told), under=under
        )

    def _why(self, name: str, left: Estimate | None) -> str | None:
        """What is wrong with the sender; None where nothing is, or nothing is known."""
        if left is None:
            return None
        if left.reason.id == "tank sender stuck":
            return "stuck"
        if "reversed" in left.reason.id:
            return "reversed"
        if self._unheard[name] >= ABSENT_MINUTES:
            return "absent"
        if left.reason.facts.get("outside_pct") is not None:
            return "out of range"
        noisy = self._surely[name] >= SURELY_MINUTES or self._swings[name] >= PERHAPS_MINUTES
        return "noisy" if noisy else None

    def _sums(self, name: str) -> Finding:
        seen = self._seen.get(name, Seen())
        told: dict[str, Any] = {"tank": name}
        holds = clears = None
        reason = "alert: sums not compared"
        under: tuple[tuple[str, str], ...] = ()
        if seen.ratio is not None and seen.ratio.value is not None:
            told |= seen.ratio.reason.facts
            holds, clears = bool(told["apart"]), bool(told["together"])
            reason = f"alert: sums, {told['culprit']}" if holds else "alert: sums agree"
            if holds and told["culprit"] == "falls more":
                under = tuple(("leak above the pump", pump) for pump in self._pumps[name])
        if seen.share is not None and seen.share.reason.id == "tank: shut off, yet it falls":
            told |= seen.share.reason.facts
            return Finding("water does not add up", name, True, False, Reason("alert: shut tank falls", told))
        if name in self._said:
            told["said_L"], told["rose_L"], _ = self._said[name]
            return Finding("water does not add up", name, True, False, Reason("alert: sums, said", told))
        if seen.share is not None and holds is None:
            holds, clears = False, True
        return Finding("water does not add up", name, holds, clears, Reason(reason, told), under=under)

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        """Minutes of swinging and silence were not watched."""
        for counts in (self._swings, self._surely, self._unheard):
            counts.update(dict.fromkeys(self._tanks, 0))

    def state(self) -> dict[str, Any]:
        return {"said": {name: list(said) for name, said in self._said.items()}}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._said = {name: list(said) for name, said in state["said"].items() if name in self._tanks}
