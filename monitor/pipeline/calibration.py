"""What was measured and taken: it goes before the settings until it is taken back, or they are changed.

Each taken figure keeps what the settings said at the time. Where their file says something else since, the
crew has decided anew, and the file counts.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, fields, replace
from typing import Any

from monitor.errors import CommandError
from monitor.estimation.bands import BAND_90
from monitor.pipeline.energy import EnergyDesk
from monitor.pipeline.memory import Memory
from monitor.pipeline.water import WaterDesk
from monitor.records import Event, EventKind, Learned, Measured
from monitor.settings import Pump, Settings, Tank

KEPT = 5
"""So many of one figure are kept to be taken back, one after the other."""


class Calibrations:
    """The figures taken, by what and subject, the latest last."""

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._given = settings
        self._taken: dict[tuple[str, str], list[tuple[Measured, Any, float]]] = {}
        """With each what the settings said when it was taken, and by how much it moved a count [Ah]."""
        memory.restore("calibrations", self._restore)

    @property
    def settings(self) -> Settings:
        """The settings with what was measured in place of what they say."""
        pumps = [self._pump(p) for p in self._given.pumps]
        tanks = [self._tank(t) for t in self._given.tanks]
        if pumps == self._given.pumps and tanks == self._given.tanks:
            return self._given
        return self._given.model_copy(update={"pumps": pumps, "tanks": tanks})

    def _pump(self, pump: Pump) -> Pump:
        flow, drawdown = self._in_force("flow", pump.name), self._in_force("drawdown", pump.name)
        found = {} if flow is None else {"flow_L_per_min": flow.value}
        return pump.model_copy(update=found | ({} if drawdown is None else {"drawdown_L": drawdown.value}))

    def _tank(self, tank: Tank) -> Tank:
        table = self._in_force("sounding", tank.name)
        return tank if table is None else tank.model_copy(update={"sounding": list(table.table)})

    def _in_force(self, what: str, subject: str) -> Measured | None:
        """The latest taken, unless the settings were changed since."""
        taken = self._taken.get((what, subject))
        if not taken or taken[-1][1] != _said(self._given, what, subject):
            return None
        return taken[-1][0]

    def take(self, found: Measured, moved_Ah: float = 0.0) -> None:
        said = _said(self._given, found.what, found.subject)
        kept = self._taken.setdefault((found.what, found.subject), [])
        kept[:] = [*kept, (found, said, moved_Ah)][-KEPT:]

    def back(self, what: str, subject: str) -> tuple[Measured, float]:
        """The latest is taken back: it, and by how much it had moved a count. Raises CommandError."""
        kept = self._taken.get((what, subject))
        if not kept:
            raise CommandError("nothing was measured of {subject} that could be taken back", subject=subject)
        found, _, moved_Ah = kept.pop()
        return found, moved_Ah

    def taken(self) -> tuple[Measured, ...]:
        """What is in force, the newest first."""
        found = [m for what, subject in self._taken if (m := self._in_force(what, subject)) is not None]
        return tuple(sorted(found, key=lambda m: -(m.utc_s or 0.0)))

    def state(self) -> list[Any]:
        return [
            [asdict(found), said, moved_Ah] for kept in self._taken.values() for found, said, moved_Ah in kept
        ]

    def _restore(self, state: Sequence[Any]) -> None:
        for told, said, moved_Ah in state:
            found = measured(told)
            was = [tuple(pair) for pair in said] if isinstance(said, list) else said
            self._taken.setdefault((found.what, found.subject), []).append((found, was, float(moved_Ah)))


def measured(told: Mapping[str, Any]) -> Measured:
    """The inverse of `asdict`, from JSON values."""
    known = {f.name for f in fields(Measured)}
    facts = {k: v for k, v in told.items() if k in known}
    for name in ("table", "before_table"):
        facts[name] = tuple((float(r), float(v)) for r, v in facts.get(name) or ())
    covers = facts.get("covers")
    facts["covers"] = None if covers is None else (float(covers[0]), float(covers[1]))
    return Measured(**facts)


def _said(settings: Settings, what: str, subject: str) -> Any:
    """What the settings' file says of it."""
    pump = next((p for p in settings.pumps if p.name == subject), None)
    tank = next((t for t in settings.tanks if t.name == subject), None)
    if what == "flow" and pump is not None:
        return pump.flow_L_per_min
    if what == "drawdown" and pump is not None:
        return pump.drawdown_L
    if what == "sounding" and tank is not None:
        return [*tank.sounding]
    return None


def put_in_force(event: Event, utc_s: float | None, taken: Calibrations, energy: EnergyDesk) -> Event:
    """What the crew has taken: the settings are to be asked anew. The event as it is kept."""
    found = measured({**event.facts, "subject": event.subject, "utc_s": utc_s})
    moved_Ah = 0.0
    if found.what == "zero":
        tracker, value, half = energy.trackers[event.subject], found.value or 0.0, found.half or 0.0
        found = replace(found, before=tracker.offset_A, before_half=BAND_90 * tracker.offset_sd_A)
        moved_Ah = tracker.zeroed(value, half / BAND_90)
    taken.take(found, moved_Ah)
    told = {k: v for k, v in asdict(found).items() if k not in ("subject", "utc_s") and v not in (None, ())}
    return replace(event, facts=told)


def take_back(
    what: str, subject: str, boot: int, at_s: float, taken: Calibrations, energy: EnergyDesk
) -> Event:
    """As it was. Raises CommandError where nothing was measured."""
    found, moved_Ah = taken.back(what, subject)
    if what == "zero" and found.before is not None and found.before_half is not None:
        energy.trackers[subject].unzeroed(found.before, found.before_half / BAND_90, moved_Ah)
    facts = {"what": what, "as it was": True, "value": found.before, "before": found.value}
    told = {k: v for k, v in facts.items() if v is not None}
    return Event(EventKind.CALIBRATION, subject, boot, at_s, None, told)


def learned(
    settings: Settings, taken: Calibrations, energy: EnergyDesk, water: WaterDesk, fulls: Mapping[str, float]
) -> Iterator[Learned]:
    """The figures that the watch reckons with. `fulls`: when each bank was last full, in UTC."""
    measured_ones = {(m.what, m.subject): m for m in taken.taken()}
    for pump in settings.pumps:
        for what, value in (("flow", pump.flow_L_per_min), ("drawdown", water.judges[pump.name].drawdown_L)):
            m = measured_ones.get((what, pump.name))
            if m is not None:
                yield Learned(what, pump.name, "measured", m.value, m.half, m.count, m.utc_s)
                continue
            refill = water.judges[pump.name].refill
            how = "learned" if what == "drawdown" and refill.learned else "set"
            yield Learned(what, pump.name, how, value, None, refill.kept if how == "learned" else 0)
    for tank in settings.tanks:
        m, (pieces, used) = measured_ones.get(("sounding", tank.name)), water.tanks[tank.name].taught
        if used or m is None:
            yield Learned("sounding", tank.name, "learned" if used else "set", None, None, pieces)
        else:
            yield Learned("sounding", tank.name, "measured", None, None, m.count, m.utc_s)
    for bank in (b for b in settings.banks if b.role == "house"):
        tracker = energy.trackers[bank.name]
        m, full_s = measured_ones.get(("zero", bank.name)), fulls.get(bank.name)
        half_A, (capacity_Ah, sd_Ah) = BAND_90 * tracker.offset_sd_A, tracker.capacity_Ah
        if m is not None and (full_s is None or m.utc_s is None or full_s <= m.utc_s):
            yield Learned("zero", bank.name, "measured", tracker.offset_A, half_A, m.count, m.utc_s)
        else:
            how = "set" if full_s is None else "learned"
            yield Learned("zero", bank.name, how, tracker.offset_A, half_A, 0, full_s)
        how = "learned" if tracker.low_ends else "set"
        yield Learned("capacity", bank.name, how, capacity_Ah, BAND_90 * sd_Ah, tracker.low_ends)
