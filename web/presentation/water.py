"""The page of water: what is left and for how long, what the pump tells of the plumbing, what is due."""

from dataclasses import dataclass

from monitor.words.units import known, moment
from web.presentation.ahead import lasts
from web.presentation.ebb import whole_hour
from web.presentation.figures import Figure, Reader, from_estimate
from web.presentation.pump_card import CALM, PumpCard, pump_card, uncapped, verdict_name
from web.presentation.pump_runs import RunsKept
from web.presentation.tanks import FillingCard, TankCard, Vessel, cards, filling_cards, vessels
from web.presentation.water_days import Plan, days_of_water
from web.presentation.water_work import (
    CounterRow,
    FillRow,
    MakingRow,
    Test,
    counters,
    fills,
    guided,
    making,
)
from web.watch import Record


@dataclass(frozen=True, slots=True)
class Water:
    first: tuple[str, ...]
    unit: str
    """What volumes are asked for in."""
    left: Figure
    test: Test | None
    fillings: tuple[FillingCard, ...]
    vessels: tuple[Vessel, ...]
    tanks: tuple[TankCard, ...]
    plan: Plan | None
    pumps: tuple[PumpCard, ...]
    no_pumps: str
    fills: tuple[FillRow, ...]
    making: tuple[MakingRow, ...]
    counters: tuple[CounterRow, ...]
    frost: Figure | None


def water(
    reader: Reader, record: Record | None, kept: RunsKept, asked: tuple[float, float] | None = None
) -> Water:
    """The whole page; what is asked for is a stretch of time for the pump's strip."""
    tanks, pumps = reader.settings.tanks, reader.settings.pumps
    return Water(
        first=_first(reader),
        unit=reader.dress.volume.symbol,
        left=from_estimate(reader, "left_L", "water"),
        test=guided(reader),
        fillings=filling_cards(reader),
        vessels=vessels(reader),
        tanks=cards(reader),
        plan=days_of_water(reader) if tanks else None,
        pumps=tuple(pump_card(reader, record, kept, p, asked) for p in pumps),
        no_pumps="" if pumps else reader.say("no pump named"),
        fills=fills(reader, record),
        making=making(reader),
        counters=counters(reader),
        frost=_frost(reader),
    )


# ---- the first sentences


def _first(reader: Reader) -> tuple[str, ...]:
    if not reader.settings.tanks:
        return (reader.say("no tank named"),)
    return (_left(reader), *lasts(reader, "water"), *_leave(reader), *_pumps_first(reader))


def _left(reader: Reader) -> str:
    e = reader.estimate("left_L", "water")
    if e is None or e.value is None or not known(e.value):
        return reader.say("water left unknown")
    if e.low is None or e.high is None:
        return reader.say("water left", left=e.value)
    low, high = (f"{v * reader.dress.volume.per:.0f}" for v in (e.low, e.high))
    return reader.say("water left with its band", left=e.value, low=low, high=high)


def _leave(reader: Reader) -> list[str]:
    plan, now_s = reader.snapshot.water.plan, reader.snapshot.utc_s
    if plan is None or plan.leave_by_s is None or now_s is None:
        return []
    if plan.leave_by_s <= now_s:
        return [reader.say("leave for water now")]
    by = moment(whole_hour(plan.leave_by_s), now_s, reader.dress)
    return [reader.say("leave for water by", by=by)]


def _pumps_first(reader: Reader) -> list[str]:
    said = []
    for v in reader.snapshot.water.verdicts:
        if v.verdict not in CALM:
            said.append(
                reader.say("pump found", pump=v.pump, verdict=uncapped(reader.word(verdict_name(v.verdict))))
            )
    return said


def _frost(reader: Reader) -> Figure | None:
    """The coldest place near the plumbing, where a thermometer is heard there."""
    found = from_estimate(reader, "coldest_C", "water")
    return found if found.state != "unknown" else None
