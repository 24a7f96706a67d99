"""The sources of the house told apart: what each gives now, today and in a week, metered or by balance.

A charger on mains works for whatever feeds it: with the generator live and no shore, what it makes is the
generator's. What the banks take beyond every meter is given by whatever runs without one, and is at
least that much, since the loads of the house are not seen in it.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.charge_power import LEAST_W, ChargePower, in_tail, planned_W
from monitor.estimation.charge_runs import ChargeRun
from monitor.estimation.metering import charger_W
from monitor.estimation.ships_days import ShipsDays, position, ships_day
from monitor.estimation.sun import sine_of_elevation
from monitor.estimation.supply import now
from monitor.estimation.watcher import LIVE_V, RUNNING_RPM, Heard
from monitor.records import Estimate, Event, Finding, Flow
from monitor.settings import Charger, Settings

UNMETERED = "unmetered"
METER_ERROR_SHARE, METER_ERROR_W = 0.05, 30.0
"""What meters may differ by without anything being unmetered. Common practice."""
LOW_SUN = 0.05
"""Sine of 3 degrees: below it a sun meter that says nothing has nothing to tell."""
LOGGED = ("alternator", "generator", "shore")


class Source(NamedTuple):
    """One source and the chargers that make it into what the banks take."""

    name: str
    kind: str
    chargers: tuple[Charger, ...]


def sources_of(settings: Settings) -> tuple[Source, ...]:
    """Every source of the house banks; a generator that feeds the shore's charger is one of its own."""
    houses = {b.name for b in settings.banks if b.role == "house"}
    chargers = [c for c in settings.chargers if c.into in houses and c.kind != "converter"]
    found = [Source(c.name, c.kind, (c,)) for c in chargers]
    names = [e.name for e in settings.engines if e.drives == "generator"]
    names += [s.name for s in settings.supplies if s.kind == "generator"]
    shared = tuple(c for c in chargers if c.kind == "shore")
    if names and shared and not any(c.kind == "generator" for c in chargers):
        found.append(Source(names[0], "generator", shared))
    return tuple(found)


class FlowWatch:
    """Watches what every source gives. See `flows`."""

    name = "flows"

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._banks = [b for b in settings.banks if b.role == "house"]
        bank_of = {b.name: b for b in self._banks}
        self._volts_of = {b.name: b.nominal_V for b in self._banks}
        self.sources = sources_of(settings)
        self._power = {
            s.name: ChargePower(sum(planned_W(c, bank_of[c.into], s.kind) for c in s.chargers))
            for s in self.sources
        }
        capacity_Wh = sum(b.nominal_Wh for b in self._banks)
        self._shared = any(s.kind != c.kind for s in self.sources for c in s.chargers)
        told = {"generator" if e.drives == "generator" else "alternator" for e in settings.engines}
        told |= {supply.kind for supply in settings.supplies}
        self._never_told = {"wind", "hydro", "alternator", "generator", "shore"} - told
        """Of these nothing aboard says whether they run."""
        self._runs = {
            s.name: ChargeRun(s.name, s.kind, capacity_Wh) for s in self.sources if s.kind in LOGGED
        }
        self._days = ShipsDays([*self._power, UNMETERED])
        self._watts: dict[str, float | None] = dict.fromkeys([*self._power, UNMETERED])
        self._metered: set[str] = set()
        self._dated = False
        self._events: list[Event] = []

    # ---- a minute

    def take(self, minute: Heard) -> None:
        chargers = {c.name: c for s in self.sources for c in s.chargers}
        metered = {name: charger_W(minute, c, self._volts_of[c.into]) for name, c in chargers.items()}
        self._metered |= {name for name, watts in metered.items() if watts is not None}
        running = self._running(minute)
        watts = {s.name: self._of(s, metered, running) for s in self.sources}
        net_W = None if minute.net_Wh is None else minute.net_Wh * 60
        watts[UNMETERED] = self._balance(watts, net_W, running)
        self._watts = watts
        self._learn(minute, watts, net_W)
        self._sum(minute, watts)
        for name, run in self._runs.items():
            self._events += run.take(minute.start_s, watts[name], LEAST_W, minute.boot)

    def _running(self, minute: Heard) -> set[str]:
        """The kinds of sources that are seen to run; the sun by its height."""
        found = set()
        for engine in self._settings.engines:
            if (minute.newest(f"{engine.name} speed") or 0.0) > RUNNING_RPM:
                found.add("generator" if engine.drives == "generator" else "alternator")
        for supply in self._settings.supplies:
            if (minute.newest(f"{supply.name} ac voltage") or 0.0) > LIVE_V:
                found.add(supply.kind)
        if minute.utc_s is None:
            found.add("sun")
        elif any(s.kind == "sun" for s in self.sources):
            here = position(self._settings, minute.readings)
            if float(sine_of_elevation(*here, np.array([minute.utc_s]))[0]) > LOW_SUN:
                found.add("sun")
        return found

    def _of(self, source: Source, metered: Mapping[str, float | None], running: set[str]) -> float | None:
        by_generator = "generator" in running and "shore" not in running
        shares = self._shared and source.chargers[0].kind == "shore"
        if shares and by_generator != (source.kind == "generator"):
            return 0.0
        told = [metered[c.name] for c in source.chargers]
        if None not in told:
            return sum(watts for watts in told if watts is not None)
        return None if source.kind in running | self._never_told else 0.0

    def _balance(
        self, watts: dict[str, float | None], net_W: float | None, running: set[str]
    ) -> float | None:
        """What the banks took beyond the meters, given to whatever runs without one; the rest of it."""
        if net_W is None:
            return None
        known_W = sum(w for w in watts.values() if w is not None)
        beyond_W = net_W - known_W
        if beyond_W <= METER_ERROR_SHARE * known_W + METER_ERROR_W:
            return 0.0
        order = ("alternator", "sun", "generator", "shore", "wind", "hydro")
        silent = [s for s in self.sources if watts[s.name] is None]
        if not silent:
            return beyond_W
        likeliest = min(silent, key=lambda s: (s.kind not in running, order.index(s.kind)))
        watts[likeliest.name] = beyond_W
        return 0.0

    def _learn(self, minute: Heard, watts: Mapping[str, float | None], net_W: float | None) -> None:
        if net_W is None or None in watts.values() or self._in_tail(minute) is not False:
            return
        total_W = sum(w for w in watts.values() if w is not None)
        for source in self.sources:
            gives_W = watts[source.name] or 0.0
            self._power[source.name].take(gives_W, net_W - (total_W - gives_W))

    def _in_tail(self, minute: Heard) -> bool | None:
        found = []
        for bank in self._banks:
            charge = minute.estimates.get(("charge_pct", bank.name))
            volts = now(minute, f"{bank.name} voltage")
            found.append(in_tail(bank, volts, None if charge is None else charge.value))
        return True if True in found else None if None in found or not found else False

    def _sum(self, minute: Heard, watts: Mapping[str, float | None]) -> None:
        self._dated = minute.utc_s is not None
        if minute.utc_s is None:
            return
        self._days.turn_to(ships_day(minute.utc_s, self._settings.boat.zone))
        for name, gives_W in watts.items():
            if gives_W is not None:
                self._days.add(name, gives_W / 60)

    # ---- what is told

    def flows(self) -> tuple[Flow, ...]:
        """Every source as it stands; "unmetered" comes last, where there is any in a week.

        Today and week are the ship's days, today and six before it, as far as they were heard; None
        while the clock is not trusted.
        """
        found = [
            self._flow(s.name, s.kind, all(c.name in self._metered for c in s.chargers)) for s in self.sources
        ]
        beyond = self._flow(UNMETERED, UNMETERED, False)
        return (*found, beyond) if beyond.week_Wh or beyond.watts else tuple(found)

    def _flow(self, name: str, kind: str, metered: bool) -> Flow:
        power = self._power.get(name)
        today_Wh, week_Wh = (self._days.today(name), self._days.week(name)) if self._dated else (None, None)
        usual_W, learned = (power.usual_W, power.learned) if power is not None else (0.0, False)
        return Flow(name, kind, self._watts[name], today_Wh, week_Wh, usual_W, learned, metered)

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        return []

    def events(self) -> Iterator[Event]:
        """The runs that ended since this was last asked."""
        found, self._events = self._events, []
        return iter(found)

    # ---- restarts

    def new_boot(self) -> None:
        self._watts = dict.fromkeys(self._watts)
        for run in self._runs.values():
            run.new_boot()

    def state(self) -> dict[str, Any]:
        return {"days": self._days.state(), "power": {n: p.state() for n, p in self._power.items()}}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._days.restore(state["days"])
        for name, tens in state["power"].items():
            if name in self._power:
                self._power[name].restore(tens)
