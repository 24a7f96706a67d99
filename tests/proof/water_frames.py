"""Every water scenario through frames, routing and the pipeline: what is found, and how soon.

One row a scenario: how many days, the event of the truth that begins it, the rule that must be raised and
within how many hours, and what else may be raised because it is true as well. Nothing else of water's may
be. The limits are those of the leak judge and of the plumbing's own proofs, with a day for what only nights
show.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from tests.pipeline.boat import Lived, live
from tests.proof.harness import Case, Row

WATER_RULES = frozenset({
    "low water", "few water days", "pump running on", "leak suspected", "burst", "pump dry",
    "pump switch stuck", "leak above the pump", "check valve leaks back", "accumulator flat",
    "relief valve weeps", "tap left open", "strainer clogging", "pump silent", "tank nearly full",
    "tank sender wrong", "water does not add up", "plumbing may freeze",
})  # fmt: skip
SHORT = frozenset({"low water", "few water days", "tank nearly full"})
"""Said of how much there is, or of a tank that the crew is filling: not of what is wrong."""


class Expected(NamedTuple):
    """`rule` within `hours` of `event`; None where nothing is wrong."""

    days: float
    event: str
    rule: str | None
    hours: float
    beside: frozenset[str] = frozenset()


def _beside(*rules: str) -> frozenset[str]:
    return frozenset(rules)


EXPECTED: dict[str, Expected] = {
    "weeping-fitting": Expected(6, "leak begins", "leak suspected", 84),
    "dripping-tap": Expected(3, "tap drips", "leak suspected", 12),
    "tap-left-open": Expected(
        3, "tap left open", "tap left open", 1, _beside("pump running on", "leak suspected")
    ),
    "leak-above-pump": Expected(
        6, "leak begins", "leak above the pump", 36, _beside("water does not add up")
    ),
    # Until the tank has been seen to stay where it is, its refills are those of a leak.
    "leaking-check-valve": Expected(
        4, "check valve leaks back", "check valve leaks back", 36, _beside("leak suspected")
    ),
    "flat-accumulator": Expected(8, "accumulator loses air", "accumulator flat", 144),
    "waterlogged-accumulator": Expected(4, "accumulator loses air", "accumulator flat", 24),
    # It loses some 0.3 L a day, too little to be told from a heater that cools; no leak may be told either.
    "weeping-relief-valve": Expected(5, "relief valve weeps", None, 0, _beside("relief valve weeps")),
    "cooling-heater": Expected(6, "", None, 0),
    "heater-and-drip": Expected(6, "leak begins", "leak suspected", 36),
    "leak-and-guests": Expected(7, "leak begins", "leak suspected", 36),
    "leak-under-sail": Expected(4, "leak begins", "leak suspected", 36, _beside("tank sender wrong")),
    "air-lock": Expected(3, "air lock", "pump dry", 3, _beside("pump running on", "pump silent")),
    "stuck-pressure-switch": Expected(
        3, "pressure switch sticks", "pump switch stuck", 6, _beside("pump running on")
    ),
    "clamp-off-under-way": Expected(3, "hose off", "burst", 0.25, _beside("pump dry", "pump silent")),
    "heater-hose": Expected(5, "hot hose drips", "leak suspected", 72, _beside("relief valve weeps")),
    "filling-forgotten": Expected(7, "hose left running", "tank nearly full", 8),
    "winter-laid-up": Expected(8, "", "plumbing may freeze", 192),
    "watermaker": Expected(4, "", None, 0),
}
EVERY_S = 10.0


def run(seed: int) -> Row:
    scenario = list(EXPECTED)[seed % len(EXPECTED)]
    expected = EXPECTED[scenario]
    lived = live(scenario, expected.days, seed=300 + seed, every_s=EVERY_S)
    active = [(c.rule, c.at_s) for c in lived.shelf.changes if c.state == "active" and c.rule in WATER_RULES]
    row: Row = {"scenario": scenario, "days": expected.days, "after_h": None}
    begins_s = _begins_s(lived, expected)
    told_s = next((at_s for rule, at_s in active if rule == expected.rule and at_s >= begins_s), None)
    if told_s is not None:
        row["after_h"] = round((told_s - begins_s) / 3600, 2)
    allowed = SHORT | expected.beside | {expected.rule}
    early = {rule for rule, at_s in active if at_s < begins_s - 60} - SHORT
    row["beside"] = sorted(early | {rule for rule, _ in active} - allowed)
    return row


def _begins_s(lived: Lived, expected: Expected) -> float:
    """Elapsed time of the scenario's event; the voyage's own begin where it has none."""
    first_s = min(datetime.fromisoformat(t["time"]).timestamp() for t in lived.truth if "charge_pct" in t)
    anchor = lived.shelf.anchors[0][1]
    told = [t for t in lived.truth if t.get("event") == expected.event]
    begin = next((t for t in told if "L_per_h" in t), told[0]) if told else None
    begin_s = first_s if begin is None else datetime.fromisoformat(begin["time"]).timestamp()
    return anchor.elapsed_s + begin_s - anchor.utc_s


def figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {"days through frames": float(sum(row["days"] for row in rows))}
    for scenario, expected in EXPECTED.items():
        some = [row for row in rows if row["scenario"] == scenario]
        if not some:
            continue
        if expected.rule is not None:
            hours = [float("inf") if row["after_h"] is None else row["after_h"] for row in some]
            found[f"{scenario}: {expected.rule} after, worst h"] = max(hours)
        found[f"{scenario}: other rules"] = float(sum(len(row["beside"]) for row in some))
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    said = []
    for scenario, expected in EXPECTED.items():
        after_h = found.get(f"{scenario}: {expected.rule} after, worst h")
        if after_h is not None and after_h > expected.hours:
            said.append(f"{scenario}: {expected.rule} after {after_h:g} h, wanted {expected.hours:g} or less")
        if found.get(f"{scenario}: other rules"):
            said.append(f"{scenario}: {found[f'{scenario}: other rules']:g} rules that nothing speaks for")
    return said


CASES = [
    Case(
        name="water-frames",
        claim="every water scenario through frames: the right rule in time, and no other",
        code=(
            "monitor/routing/*.py",
            "monitor/pipeline/*.py",
            "monitor/estimation/*.py",
            "tests/proof/water_frames.py",
        ),
        seeds=range(len(EXPECTED)),
        run=run,
        figures=figures,
        misses=misses,
        slice=(12,),
    )
]
