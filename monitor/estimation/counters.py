"""Hours, litres and days since something was last done, and when it falls due."""

from collections import Counter as Tally
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from monitor.clock import DAY_S, MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.counted import Counted, HourMeter
from monitor.estimation.made import made
from monitor.estimation.making import USUAL_BANK_V
from monitor.estimation.watcher import RUNNING_RPM, Heard
from monitor.records import Command, Counter, Estimate, Event, EventKind, Finding, Reason
from monitor.settings import Service, Settings

RULE = "service due"


class Measure(NamedTuple):
    """One thing by which a service falls due. `used` None where it is not known."""

    unit: str
    used: float | None
    limit: float
    a_day: float | None

    @property
    def due_in_days(self) -> float | None:
        if self.used is None or not self.a_day:
            return None
        return (self.limit - self.used) / self.a_day


class Since:
    """When a service was last done: sums and UTC of then; None: not known yet."""

    def __init__(self, h: float = 0.0, L: float = 0.0, utc_s: float | None = None) -> None:
        self.h, self.L, self.utc_s = h, L, utc_s


class CounterWatch:
    """Counts what pumps, engines and watermakers do. See `counters`."""

    name = "counters"
    wishes = frozenset({"service done"})

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        names = Tally(service.name for service in settings.services)
        self._services = {_key(s, names[s.name] > 1): s for s in settings.services}
        pumped = [f"{p.name} {unit}" for p in settings.pumps for unit in ("h", "L", "starts")]
        made_by = [f"{m.name} {unit}" for m in settings.watermakers for unit in ("h", "L")]
        self._sums = Counted([*pumped, *made_by, *(f"{e.name} h" for e in settings.engines)])
        self._meters = {x.name: HourMeter() for x in (*settings.engines, *settings.watermakers)}
        self._since = {key: Since() for key in self._services}
        self._bank_V = next((b.nominal_V for b in settings.banks if b.role == "house"), USUAL_BANK_V)
        self._utc_s: float | None = None
        """Of the newest minute that had one."""
        self._dated = False
        self._at_s = 0.0
        self._boot = -1
        self._events: list[Event] = []

    # ---- a minute

    def take(self, minute: Heard) -> None:
        self._at_s, self._boot, self._dated = minute.end_s, minute.boot, minute.utc_s is not None
        if minute.utc_s is not None:
            self._utc_s = minute.utc_s + MINUTE_S
            for since in self._since.values():
                since.utc_s = self._utc_s if since.utc_s is None else since.utc_s
        self._sums.minute(minute.utc_s)
        self._pumps(minute)
        for engine in self._settings.engines:
            self._hours(engine.name, _running_h(minute, engine.name), minute)
        for maker in self._settings.watermakers:
            now = made(minute, maker, self._bank_V)
            self._hours(maker.name, None if now.makes is None else now.makes / 60, minute)
            self._sums.add(f"{maker.name} L", now.litres or 0.0)

    def _pumps(self, minute: Heard) -> None:
        """A run moves no more than its tanks hold, however long a broken wire says that it lasts."""
        for event in minute.water.events:
            if event.kind != EventKind.PUMP_RUN or event.end_s is None:
                continue
            pump = next((p for p in self._settings.pumps if p.name == event.subject), None)
            if pump is None:
                continue
            tanks = [t for t in self._settings.tanks if t.name in pump.tanks or not pump.tanks]
            most_L = sum(t.capacity_L for t in tanks) or float("inf")
            hours, litres = (event.end_s - event.start_s) / 3600, float(event.facts.get("litres") or 0.0)
            share = min(1.0, most_L / litres) if litres > 0.0 else 1.0
            self._sums.add(f"{pump.name} h", max(0.0, hours) * share)
            self._sums.add(f"{pump.name} L", max(0.0, litres) * share)
            self._sums.add(f"{pump.name} starts", 1)

    def _hours(self, name: str, ran_h: float | None, minute: Heard) -> None:
        told_h = minute.values(f"{name} hours")
        newest = float(told_h[-1]) if told_h.size else None
        self._sums.add(f"{name} h", self._meters[name].take(newest, ran_h, minute.utc_s))

    # ---- what the crew does

    def wish(self, command: Command, at_s: float, utc_s: float | None) -> None:
        """A service was done: its counters begin anew. Raises CommandError where none is called so."""
        service = self._services.get(command.subject)
        if service is None:
            known = ", ".join(self._services) or "none"
            raise CommandError(
                "no service is called {service!r}; there are: {known}", service=command.subject, known=known
            )
        facts: dict[str, Any] = {"service": command.subject, "subject": service.subject}
        facts |= {f"used_{m.unit}": m.used for m in self._measures(command.subject)}
        self._events.append(Event(EventKind.SERVICE, command.subject, self._boot, at_s, None, facts))
        now = self._utc_s if utc_s is None and self._dated else utc_s
        self._since[command.subject] = Since(self._sum(service, "h"), self._sum(service, "L"), now)

    # ---- what is told

    def counters(self) -> tuple[Counter, ...]:
        """Every service by each of its measures, those that are not known left out."""
        return tuple(
            Counter(key, service.subject or "", m.used, m.limit, m.unit, m.due_in_days)
            for key, service in self._services.items()
            for m in self._measures(key)
            if m.used is not None
        )

    def _measures(self, key: str) -> list[Measure]:
        service, since = self._services[key], self._since[key]
        found = []
        for unit, limit, then in (("h", service.every_h, since.h), ("L", service.every_L, since.L)):
            name = f"{service.subject} {unit}"
            if limit is not None:
                used = max(0.0, self._sum(service, unit) - then)
                a_day = self._sums.a_day(name) if name in self._sums.names else None
                found.append(Measure(unit, used if name in self._sums.names else None, limit, a_day))
        if service.every_days is not None:
            known = since.utc_s is not None and self._utc_s is not None
            days = max(0.0, (self._utc_s or 0.0) - (since.utc_s or 0.0)) / DAY_S if known else None
            found.append(Measure("days", days, service.every_days, 1.0))
        return found

    def _sum(self, service: Service, unit: str) -> float:
        name = f"{service.subject} {unit}"
        return self._sums.total(name) if name in self._sums.names else 0.0

    def findings(self) -> list[Finding]:
        return [self._finding(key) for key in self._services]

    def _finding(self, key: str) -> Finding:
        measures = self._measures(key)
        known = [m for m in measures if m.used is not None]
        due = [m for m in known if m.used is not None and m.used >= m.limit]
        facts: dict[str, Any] = {"service": key, "subject": self._services[key].subject}
        if due:
            worst = max(due, key=lambda m: (m.used or 0.0) / m.limit)
            facts |= {"used": worst.used, "limit": worst.limit}
            return Finding(RULE, key, True, False, Reason(f"alert: service due by {worst.unit}", facts))
        if len(known) < len(measures):
            return Finding(RULE, key, None, None, Reason("alert: service not known", facts))
        soonest = min((m.due_in_days for m in known if m.due_in_days is not None), default=None)
        facts["due_s"] = None if soonest is None else soonest * DAY_S
        id = "alert: service not due" if soonest is not None else "alert: service not due, no pace"
        return Finding(RULE, key, False, True, Reason(id, facts))

    def estimates(self) -> list[Estimate]:
        """`run_hours`, `run_litres` and `run_starts` of pumps, engines and watermakers."""
        told = {"h": "run_hours", "L": "run_litres", "starts": "run_starts"}
        found = []
        for name in self._sums.names:
            subject, _, unit = name.rpartition(" ")
            total = self._sums.total(name)
            reason = Reason("counted since the watch began", {"subject": subject})
            found.append(Estimate(told[unit], subject, self._at_s, total, total, total, reason))
        return found

    def events(self) -> Iterator[Event]:
        """The services that were done since this was last asked."""
        found, self._events = self._events, []
        return iter(found)

    # ---- restarts

    def new_boot(self) -> None:
        self._dated, self._boot = False, -1
        for meter in self._meters.values():
            meter.interrupted()

    def state(self) -> dict[str, Any]:
        since = {
            key: [round(s.h, 4), round(s.L, 2), None if s.utc_s is None else round(s.utc_s)]
            for key, s in self._since.items()
        }
        meters = {name: meter.state() for name, meter in self._meters.items()}
        return {"sums": self._sums.state(), "since": since, "meters": meters, "utc_s": self._utc_s}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._sums.restore(state["sums"])
        self._utc_s = state["utc_s"]
        for key, (h, litres, utc_s) in state["since"].items():
            if key in self._since:
                self._since[key] = Since(float(h), float(litres), utc_s)
        for key in self._services.keys() - state["since"].keys():
            service = self._services[key]
            self._since[key] = Since(self._sum(service, "h"), self._sum(service, "L"))
        for name, kept in state["meters"].items():
            if name in self._meters:
                self._meters[name].restore(kept)


def _key(service: Service, shared: bool) -> str:
    """Its name, and whose it is where two are called the same."""
    return f"{service.name}, {service.subject}" if shared and service.subject else service.name


def _running_h(minute: Heard, engine: str) -> float | None:
    """How much of the minute it turned. [h]"""
    rpm = minute.values(f"{engine} speed")
    if rpm.size:
        return float((rpm > RUNNING_RPM).mean()) / 60
    newest = minute.newest(f"{engine} speed")
    return None if newest is None else float(newest > RUNNING_RPM) / 60
