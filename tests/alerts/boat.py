"""A small boat and her facts, for the tests of the alerts."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.records import Estimate, Finding, Reading, Reason, SourceHealth
from monitor.settings_file import parse_settings

NOW_S = 10_000.0

SETTINGS = parse_settings(
    """
    [boat]
    name = "Test"
    crew = 2
    [limits]
    low_charge_pct = 30
    low_water_L = 60
    energy_days = 1
    water_days = 3
    pump_run_on_min = 8
    leak_L_a_day = 2
    [[sources]]
    kind = "can"
    name = "bus"
    interface = "virtual"
    channel = "a"
    [[sources]]
    kind = "mqtt"
    name = "broker"
    [[sources]]
    kind = "recording"
    name = "tape"
    [[banks]]
    name = "house"
    capacity_Ah = 400
    feeds = [{ source = "bus", instance = 0 }]
    [[banks]]
    name = "navigation"
    role = "buffer"
    chemistry = "lead"
    nominal_V = 12
    capacity_Ah = 100
    feeds = [{ source = "bus", instance = 1 }]
    [[tanks]]
    name = "forward"
    capacity_L = 150
    unusable_L = 10
    feeds = [{ source = "bus", instance = 0 }]
    [[tanks]]
    name = "aft"
    capacity_L = 100
    feeds = [{ source = "bus", instance = 1 }]
    [[tanks]]
    name = "rain"
    capacity_L = 50
    doubtful = true
    [[pumps]]
    name = "pump"
    flow_L_per_min = 10
    feeds = [{ source = "bus", instance = 0, indicator = 1, quantity = "running" }]
    [[heaters]]
    name = "heater"
    volume_L = 40
    feeds = [
      { source = "broker", topic = "heater", quantity = "temperature" },
      { source = "bus", message = "temperature", code = 5 },
    ]
    [[engines]]
    name = "engine"
    feeds = [{ source = "bus", instance = 0 }]
    """,
    Path("."),
)


def estimate(name: str, subject: str, value: float | None, low: float | None) -> Estimate:
    return Estimate(name, subject, NOW_S, value, low, value, Reason("test"))


def reading(value: float | None, *, silent: bool = False, age_s: float = 1.0) -> Reading:
    return Reading(NOW_S - age_s, value, silent)


WELL = Facts(
    settings=SETTINGS,
    at_s=NOW_S,
    started_s=0.0,
    heads=2,
    values={
        "house voltage": reading(13.2),
        "house current": reading(-5.0),
        "navigation voltage": reading(12.7),
        "forward level": reading(80.0),
        "aft level": reading(80.0),
        "pump running": reading(0.0),
        "heater temperature": reading(55.0),
        "engine speed": reading(None),
    },
    estimates={
        ("charge_pct", "house"): estimate("charge_pct", "house", 80, 76),
        ("energy_days", "house"): estimate("energy_days", "house", 4, 3),
        ("tank_L", "forward"): estimate("tank_L", "forward", 100, 95),
        ("tank_L", "aft"): estimate("tank_L", "aft", 80, 75),
        ("left_L", "water"): estimate("left_L", "water", 180, 170),
        ("water_days", "water"): estimate("water_days", "water", 9, 7),
        ("leak_L_per_h", "pump"): estimate("leak_L_per_h", "pump", 0, 0),
    },
    sources=(
        SourceHealth("bus", "can", True, NOW_S - 1),
        SourceHealth("broker", "mqtt", True, NOW_S - 5),
        SourceHealth("tape", "recording", False, None),
    ),
    last_full_s={"house": 1000.0},
    running_s={"pump": 0.0},
    verdicts={"pump": ("tight", Reason("test"))},
)
"""All is well aboard."""


def found(facts: Facts, rule: str, subject: str) -> Finding:
    """The one finding of this rule about this subject."""
    (finding,) = [f for f in findings(facts) if (f.rule, f.subject) == (rule, subject)]
    return finding


def but(**changes: Any) -> Facts:
    """All is well but for these: mappings are laid over, everything else is replaced."""
    merged: dict[str, Any] = {
        name: {**getattr(WELL, name), **value} if isinstance(value, dict) else value
        for name, value in changes.items()
    }
    return replace(WELL, **merged)
