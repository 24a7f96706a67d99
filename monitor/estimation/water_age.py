"""How old the water in each tank is. Time is UTC: it goes on while the watch is off."""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.clock import DAY_S, MINUTE_S
from monitor.estimation.parcels import (
    TRACE,
    Parcel,
    Parcels,
    all_treated,
    drawn,
    labelled,
    mean_age_s,
    poured,
    total_L,
)
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, EventKind, Finding, Reason, WaterAge
from monitor.settings import Settings, Tank

RISE_SHARE = 0.02
"""More than this share of the capacity above what was there is new water; less is the sender's noise."""
EMPTY_SHARE = 0.02
KNOWN_SHARE = 0.9
"""Of how much the day must be known, to tell a mean."""
BEFORE_S = 15 * MINUTE_S
"""A fill is seen so much after it began, at most."""
DEADBAND_DAYS = 1.0
BELIEVED = ("tank level", "tank by the pump", "tank by the pump, sender reversed")
"""What a tank's figure must rest on to be believed here."""


class WaterAgeWatch:
    """Answers for "water old"; `ages` are for the page."""

    name = "water age"
    limited = "water old"

    def __init__(self, settings: Settings) -> None:
        self._tanks = {tank.name: tank for tank in settings.tanks}
        self._limit_days = settings.limits.water_age_days
        self._parcels: dict[str, Parcels] = {}
        self._source: dict[str, str] = {}
        self._tables: dict[str, Any] = {}
        """By tank: the table its litres were last told by."""
        self._utc_s: float | None = None
        self._at_s = 0.0

    def relimit(self, limit: float) -> None:
        self._limit_days = limit

    def take(self, minute: Heard) -> None:
        self._at_s = minute.end_s
        self._utc_s = None if minute.utc_s is None else minute.utc_s + MINUTE_S
        if self._utc_s is None:
            return
        for tank in self._tanks.values():
            left = minute.water.estimates.get(("tank_L", tank.name))
            if left is not None and left.value is not None and left.reason.id in BELIEVED:
                table = minute.water.estimates.get(("tank_table_off_L", tank.name))
                self._adopt(tank.name, table, left.value + tank.unusable_L)
                self._level(tank, left.value + tank.unusable_L, self._utc_s)
        for event in minute.water.events:
            if event.kind == EventKind.FILL and event.subject in self._tanks:
                self._filled(event, self._utc_s - (minute.end_s - event.start_s))

    def _adopt(self, name: str, told: Estimate | None, litres: float) -> None:
        """Another table makes other litres of the same water."""
        table = None if told is None else told.reason.facts.get("table")
        if table is not None and table != self._tables.setdefault(name, table):
            self._tables[name] = table
            if name in self._parcels:
                self._parcels[name] = drawn(self._parcels[name], litres)

    def _level(self, tank: Tank, litres: float, utc_s: float) -> None:
        parcels = self._parcels.get(tank.name)
        if parcels is None:
            self._parcels[tank.name] = (Parcel(utc_s, litres, None, known=False),)
            return
        before_L = total_L(parcels)
        if litres < before_L:
            self._parcels[tank.name] = drawn(parcels, litres)
        elif litres - before_L > RISE_SHARE * tank.capacity_L:
            self._parcels[tank.name] = poured(parcels, Parcel(utc_s, litres - before_L, None, known=True))

    def _filled(self, event: Event, began_utc_s: float) -> None:
        confirmed = bool(event.facts.get("confirmed"))
        treated = event.facts.get("treated") if confirmed else None
        self._source[event.subject] = str(event.facts.get("source") or "") if confirmed else ""
        parcels = self._parcels.get(event.subject, ())
        self._parcels[event.subject] = labelled(parcels, began_utc_s - BEFORE_S, treated)

    # ---- what is told

    def ages(self) -> tuple[WaterAge, ...]:
        """Of every tank; None where it is not known."""
        return tuple(self._age(name) for name in self._tanks)

    def _age(self, name: str) -> WaterAge:
        parcels, utc_s = self._parcels.get(name, ()), self._utc_s
        whole = total_L(parcels)
        mean_days = oldest_days = None
        if utc_s is not None and whole > 0:
            there = [p for p in parcels if p.litres > TRACE * whole]
            if sum(p.litres for p in parcels if p.known) >= KNOWN_SHARE * whole:
                mean_days = (mean_age_s(parcels, utc_s) or 0.0) / DAY_S
            if all(p.known for p in there):
                oldest_days = max(utc_s - p.born_s for p in there) / DAY_S
        return WaterAge(name, mean_days, oldest_days, self._source.get(name, ""), all_treated(parcels))

    def estimates(self) -> list[Estimate]:
        return []

    def findings(self) -> list[Finding]:
        return [self._old(tank) for tank in self._tanks.values()]

    def _old(self, tank: Tank) -> Finding:
        """What is of unknown age is at least as old as it has been watched: that may be too old, too."""
        parcels = self._parcels.get(tank.name)
        holds = clears = None
        told = {"tank": tank.name, "limit_s": self._limit_days * DAY_S, "age_s": None}
        if parcels is not None and self._utc_s is not None:
            age_s = mean_age_s(parcels, self._utc_s)
            fine = all_treated(parcels) is True or total_L(parcels) < EMPTY_SHARE * tank.capacity_L
            told["age_s"] = age_s
            days = 0.0 if age_s is None or fine else age_s / DAY_S
            known = fine or self._age(tank.name).mean_days is not None
            holds, clears = days >= self._limit_days, known and days < self._limit_days - DEADBAND_DAYS
        untold = all_treated(parcels or ()) is None
        reason = "alert: water old, treatment not told" if untold else "alert: water old"
        return Finding("water old", tank.name, holds, clears, Reason(reason, told))

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        """Water ages by UTC, whatever the boot."""

    def state(self) -> dict[str, Any]:
        return {
            name: [
                self._source.get(name, ""),
                [[round(p.born_s), round(p.litres, 2), *p[2:]] for p in parcels],
            ]
            for name, parcels in self._parcels.items()
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        for name, (source, parcels) in state.items():
            if name in self._tanks:
                self._source[name] = source
                self._parcels[name] = tuple(Parcel(*parcel) for parcel in parcels)
