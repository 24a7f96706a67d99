"""What a pump's plumbing is found to have: one verdict a pump, its evidence, and the findings of its faults.

What cannot wait for the minute - a burst, a dry pump, a stuck switch - is looked at every quarter of one
(`plumbing_run`). The rest is judged once a minute from the leak judge, the tanks' balance, the heaters and
the lengths of refills.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.plumbing_pump import PumpPlumbing
from monitor.estimation.plumbing_verdicts import TIGHT
from monitor.estimation.plumbing_verdicts import VERDICTS as VERDICTS
from monitor.estimation.watcher import Heard, Look
from monitor.records import Estimate, Event, EventKind, Finding, WaterVerdict
from monitor.settings import Settings

SURE = 0.8
"""A verdict so likely is worth a line in the log when it changes."""


class PlumbingWatch:
    """Watches the plumbing of every pump of the settings."""

    name = "plumbing"

    def __init__(self, settings: Settings) -> None:
        self._pumps = [PumpPlumbing(settings, pump) for pump in settings.pumps]
        self._told: dict[str, str] = {}
        self._events: list[Event] = []

    def take(self, minute: Heard) -> None:
        for pump in self._pumps:
            pump.take(minute)
            self._log(pump, minute)

    def look(self, now: Look) -> None:
        for pump in self._pumps:
            pump.look(now)

    def _log(self, pump: PumpPlumbing, minute: Heard) -> None:
        """A verdict that has come to be sure is worth a line in the log."""
        found, before = pump.signs.likeliest(), self._told.get(pump.name)
        chance = pump.signs.chances.get(found, 0.0)
        if found == before or chance < SURE:
            return
        self._told[pump.name] = found
        if before is not None or found != TIGHT:
            facts = {"verdict": found, "probability": round(chance, 3)}
            self._events.append(Event(EventKind.VERDICT, pump.name, minute.boot, minute.end_s, None, facts))

    def verdicts(self) -> tuple[WaterVerdict, ...]:
        """What each pump's plumbing is found to be now."""
        return tuple(pump.verdict() for pump in self._pumps)

    def estimates(self) -> list[Estimate]:
        """leak_explained_pct: how likely it is that lone refills have another cause than a leak. [%]"""
        return [pump.explained() for pump in self._pumps]

    def findings(self) -> list[Finding]:
        return [finding for pump in self._pumps for finding in pump.findings()]

    def events(self) -> Iterator[Event]:
        events, self._events = self._events, []
        return iter(events)

    def new_boot(self) -> None:
        """How long it was off nobody knows: what is learned stays, what was under way is forgotten."""
        for pump in self._pumps:
            pump.new_boot()

    def state(self) -> dict[str, Any]:
        return {pump.name: pump.state() for pump in self._pumps} | {"told": dict(self._told)}

    def restore(self, state: Mapping[str, Any]) -> None:
        for pump in self._pumps:
            if pump.name in state:
                pump.restore(state[pump.name])
        self._told = dict(state["told"])
