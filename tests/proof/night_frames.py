"""The scenarios of nights through frames and the pipeline, every two seconds: 36 days.

After three nights the crew names what truly made most of a load's runs, at most five of them; every night
after that is held against what each appliance truly took (`simulators.took`).
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any, NamedTuple

from monitor.pipeline.nights import from_facts
from monitor.pipeline.watch import Pipeline
from monitor.records import Command, Event, EventKind, Frame, LoadKind, Message, NightLedger
from simulators.took import Took
from simulators.voyage import Voyage
from tests.pipeline.boat import START_UTC_S, Shelf, settings_of
from tests.proof.harness import Case, Row, outside

EVERY_S = 2.0
LEARNED, LABELS, MAJORITY = 3, 5, 0.6
DC_POINT, SHORE_CHARGER = 0x1F307, 3
"""The message (127751) and instance of the shore charger's instrument: not said, what is made alongside is an
estimate."""
COLD = ("fridge", "freezer")


class Expected(NamedTuple):
    """How long it lasts, and one of what must stand in a night of it: a reason's id."""

    days: float
    told: tuple[str, ...] = ()
    silent_charger: bool = False


EXPECTED: dict[str, Expected] = {
    "first-night": Expected(5),
    "new-freezer": Expected(10, ("changed: new", "changed: missing")),
    "inverter-left-on": Expected(8, ("changed: standing more", "health: left on", "changed: new")),
    "busy-evening": Expected(6),
    "alongside-night": Expected(7, (), silent_charger=True),
}


def run(seed: int) -> Row:
    """One scenario: its nights against the truth."""
    scenario = list(EXPECTED)[seed]
    expected = EXPECTED[scenario]
    voyage = Voyage(scenario, 500 + seed, START_UTC_S, expected.days, EVERY_S)
    took = voyage.took()
    shelf = Shelf()
    pipeline = Pipeline(settings_of(voyage), shelf, shelf.begin_boot("test"), recorded=True)
    named: dict[str, str] = {}
    batch: list[Frame | Message] = []
    for item in voyage:
        if not (expected.silent_charger and _charger(item)):
            batch.append(item)
        if len(batch) >= 5000:
            pipeline.intake(batch)
            batch = []
            if not named and len(_nights(shelf)) >= LEARNED:
                named = label(pipeline, took, _nights(shelf))
    pipeline.intake(batch)
    pipeline.finish(None)
    nights = _nights(shelf)
    return {"scenario": scenario, "days": expected.days, "names": sorted(named.values())} | judged(
        nights, took, pipeline.energy.naming.kinds
    )


def label(pipeline: Pipeline, took: Took, nights: Sequence[NightLedger]) -> dict[str, str]:
    """The crew names the loads that took most, where one appliance made most of their runs."""
    heavy = Counter[str]()
    runs: dict[str, list[tuple[float, float]]] = {}
    for share in (share for night in nights for share in night.by if share.load):
        heavy[share.load] += round(share.Wh)
        runs.setdefault(share.load, []).extend(share.runs or ())
    named = {}
    kinds = {kind.id: kind for kind in pipeline.energy.naming.kinds}
    for load, _ in heavy.most_common(LABELS):
        owner = owned(runs[load], took, kinds[load].watts) if load in kinds else ""
        if owner:
            pipeline.command(Command("load", load, {"name": owner}), pipeline.now_s)
            named[load] = owner
    return named


def owned(runs: Sequence[tuple[float, float]], took: Took, watts: float) -> str:
    """The appliance that made most of these runs; none where none did."""
    whose = Counter[str]()
    for start_s, end_s in runs:
        middle = {what: took.Wh_by(what, start_s, end_s) * 3600 / (end_s - start_s) for what in took.whats}
        before = {what: took.Wh_by(what, start_s - 20, start_s - 5) * 240 for what in took.whats}
        rose = {what: middle[what] - before[what] for what in took.whats}
        best = max(rose, key=lambda what: rose[what])
        whose[best if rose[best] > 0.5 * watts else ""] += 1
    name, times = whose.most_common(1)[0] if whose else ("", 0)
    return name if times >= MAJORITY * len(runs) else ""


def judged(nights: Sequence[NightLedger], took: Took, kinds: Sequence[LoadKind]) -> Row:
    """Sums of every night; names and energies of those after the names were given."""
    off = 0.0
    errors: dict[str, list[float]] = {name: [] for name in COLD}
    wrongly: list[float] = []
    told = Counter[str]()
    for number, night in enumerate(nights):
        off = max(off, abs(_sum(night)))
        told.update(reason.id for reason in (*night.changed, *night.health))
        if number <= LEARNED or night.missing_s > 1800 or not night.used_Wh:
            continue
        wrong = 0.0
        for share in (share for share in night.by if share.what and share.load):
            true_Wh = took.Wh_by(share.what, night.start_s, night.end_s)
            wrong += max(0.0, share.Wh - true_Wh)
            if share.what in errors and true_Wh > 20:
                errors[share.what].append(share.Wh / true_Wh - 1)
        wrongly.append(wrong / night.used_Wh)
    return {
        "nights": len(nights),
        "judged": len(wrongly),
        "off_Wh": off,
        "wrongly": [round(w, 4) for w in wrongly],
        "errors": {name: [round(e, 4) for e in found] for name, found in errors.items()},
        "told": dict(sorted(told.items())),
        "estimated": sum(night.made_estimated for night in nights),
        "kinds": len(kinds),
    }


def _sum(night: NightLedger) -> float:
    """By how much a night's lines differ from what the shunt counted. [Wh]"""
    if night.used_Wh is None or night.made_Wh is None or night.net_Wh is None:
        return 0.0
    named = sum(share.Wh for share in night.by if share.what)
    return night.made_Wh - (named + (night.unexplained_Wh or 0.0)) - night.net_Wh


def _nights(shelf: Shelf) -> list[NightLedger]:
    events: list[Event] = [e for e in shelf.happened if e.kind is EventKind.NIGHT]
    return [from_facts(event.facts) for event in events]


def _charger(item: Frame | Message) -> bool:
    if not isinstance(item, Frame) or (item.can_id >> 8) & 0x1FFFF != DC_POINT:
        return False
    return len(item.data) > 1 and item.data[1] == SHORE_CHARGER


def figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {
        "days through frames": float(sum(row["days"] for row in rows)),
        "most that a night's lines are off [Wh]": max(row["off_Wh"] for row in rows),
    }
    for name in COLD:
        errors = [abs(e) for row in rows for e in row["errors"][name]]
        if errors:
            found[f"{name}: nights named"] = float(len(errors))
            found[f"{name}: energy error, median"] = median(errors)
    wrongly = [w for row in rows for w in row["wrongly"]]
    if wrongly:
        found["wrongly named, median of nights"] = median(wrongly)
        found["wrongly named, worst night"] = max(wrongly)
    for row in rows:
        expected: Any = EXPECTED[row["scenario"]]
        if expected.told:
            times = sum(row["told"].get(reason, 0) for reason in expected.told)
            found[f"{row['scenario']}: nights that tell of it"] = float(times)
        if expected.silent_charger:
            found[f"{row['scenario']}: nights whose make is an estimate"] = float(row["estimated"])
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {name: (1.0, float("inf")) for name in found if name.endswith(("tell of it", "is an estimate"))}
    bars["most that a night's lines are off [Wh]"] = (0.0, 0.0)
    for name in COLD:
        if f"{name}: nights named" in found:
            bars[f"{name}: energy error, median"] = (0.0, 0.10)
    if "wrongly named, median of nights" in found:
        bars["wrongly named, median of nights"] = (0.0, 0.05)
    return outside(found, bars)


CASES = [
    Case(
        name="night-frames",
        claim="every scenario of nights through frames: sums exact, cold boxes named, what is new told",
        code=(
            "monitor/routing/*.py",
            "monitor/pipeline/*.py",
            "monitor/estimation/loads/*.py",
            "monitor/estimation/ledger.py",
            "monitor/estimation/unusual.py",
            "tests/proof/night_frames.py",
        ),
        seeds=range(len(EXPECTED)),
        run=run,
        figures=figures,
        misses=misses,
        slice=(),
    )
]
