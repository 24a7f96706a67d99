"""Canned boats that a page must bear: a bank that has fallen silent, tanks without a sender, names as long
as the settings let them be. The figures are made up and plausible."""

from dataclasses import replace
from typing import Any

from monitor.clock import HOUR_S
from monitor.records import ChargePlan, Course, Estimate, PowerPicture, Reading, Reason, Snapshot

SILENT_S = 3 * HOUR_S
UNSENT = """
[boat]
name = "Marram"

[[tanks]]
name = "forward"
capacity_L = 165
unusable_L = 8

[[tanks]]
name = "midship"
capacity_L = 260

[[tanks]]
name = "aft"
capacity_L = 90
doubtful = true
"""
LONG = {
    "house": "four hundred ampere-hour lithium under the saloon settee",
    "navigation": "sealed lead battery of the navigation instruments aft",
    "forward": "flexible tank under the forward berth on the starboard side",
    "midship": "stainless steel between the frames under the saloon table",
    "pressure pump": "pressure pump behind the companionway steps on the port side",
    "panels": "three flexible panels on the doghouse and the arch astern",
    "shore charger": "battery charger in the locker beneath the chart table",
    "Marram": "Marram of the long sandy beaches beyond the river mouth",
}
"""Within the sixty letters that a name may have."""


def silent_bank(s: Snapshot) -> Snapshot:
    """Nothing has been heard of the house bank for three hours."""
    gone = {
        name: Reading(s.at_s - SILENT_S, r.value, True) if name.startswith("house ") else r
        for name, r in s.values.items()
    }
    told = Reason("charge not heard", {"since_s": 93_000.0, "silent_s": SILENT_S})
    nothing = Course((), (), (), ())
    e = {key: one for key, one in s.estimates.items() if key[1] != "house"}
    e["charge_pct", "house"] = Estimate("charge_pct", "house", s.at_s - 20, 64.0, 48.0, 75.0, told)
    e["left_Wh", "house"] = Estimate("left_Wh", "house", s.at_s - 20, 3770.0, 2830.0, 4420.0, told)
    ebbs = tuple(replace(b, ahead=nothing) if b.what == "energy" else b for b in s.ebbs)
    plan = ChargePlan(None, None, None, None, (), Reason("charge: no forecast", {}))
    power = replace(s.power, plan=plan, flows=tuple(replace(f, watts=None) for f in s.power.flows))
    return replace(s, values=gone, estimates=e, ebbs=ebbs, power=power)


def no_senders(s: Snapshot) -> Snapshot:
    """Three tanks, none with a sender, no pump, no bank."""
    never = Reason("tank never heard", {})
    e = {("tank_L", name): Estimate("tank_L", name, s.at_s, None, None, None, never)
         for name in ("forward", "midship", "aft")}  # fmt: skip
    e["left_L", "water"] = Estimate("left_L", "water", s.at_s, None, None, None, never)
    return replace(
        s, values={}, estimates=e, ebbs=(), alerts=(), sources=(), nights=(), loads=(),
        power=PowerPicture(), water=replace(s.water, verdicts=(), ages=(), plan=None, counters=()),
    )  # fmt: skip


def long_settings(sample: str) -> str:
    """The sample with every name in it as long as it may be."""
    for short, long in LONG.items():
        sample = sample.replace(f'"{short}"', f'"{long}"')
    return sample.replace(f'role = "{LONG["house"]}"', 'role = "house"')


def long_names(s: Snapshot) -> Snapshot:
    """The same boat by those names."""
    found: Snapshot = _renamed(s)
    return found


def _renamed(thing: Any) -> Any:
    """With each short name replaced, however deep it stands."""
    if isinstance(thing, str):
        found = LONG.get(thing)
        if found is not None:
            return found
        head = next((name for name in LONG if thing.startswith(f"{name} ")), None)
        return thing if head is None else LONG[head] + thing[len(head) :]
    if isinstance(thing, Reading | float | int | None):
        return thing
    if isinstance(thing, dict):
        return {_renamed(k): _renamed(v) for k, v in thing.items()}
    if isinstance(thing, tuple):
        parts = [_renamed(x) for x in thing]
        return type(thing)(*parts) if hasattr(thing, "_fields") else tuple(parts)
    if hasattr(thing, "__dataclass_fields__"):
        return replace(thing, **{name: _renamed(getattr(thing, name)) for name in thing.__dataclass_fields__})
    return thing
