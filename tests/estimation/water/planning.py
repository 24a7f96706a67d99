"""A boat whose water is planned: what she lived, what was heard, what is left."""

from array import array
from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.estimation.water_ahead import WaterAhead
from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_plan import WaterPlanWatch
from monitor.records import Column, Estimate, Mode, Reason, WaterPlan
from monitor.settings import Settings

NOW_S = 1_780_272_000.0
"""A midnight of UTC."""
ANCHOR = Mode("at anchor", "awake")


def boat(**more: Any) -> Settings:
    """Two aboard, 300 L, of which 20 L are kept back."""
    tables: dict[str, Any] = {
        "boat": {"name": "Test", "crew": 2},
        "tanks": [{"name": "tank", "capacity_L": 400.0}],
        "reserves": {"water_L": 20.0},
        "usual": {"water_L_a_head_a_day": 15.0},
    }
    return Settings.model_validate(tables | more)


def lived(
    use: WaterUse,
    L_a_day: float,
    days: int = 40,
    *,
    until_s: float = NOW_S,
    heads: int = 2,
    air_C: float = 20.0,
) -> None:
    """So many days on end of the same use, an hour like the other, the leak of `use` on top."""
    for n in range(days * 24):
        at_s = until_s - (days * 24 - n) * HOUR_S
        litres = L_a_day / 24 + use.leak_L_per_h
        use.used(at_s, ANCHOR.place, ANCHOR.people, litres, HOUR_S, heads)
        use.air(at_s, air_C, HOUR_S)


def left(litres: float, sd_L: float = 0.0) -> Estimate:
    band = 1.645 * sd_L
    return Estimate(
        "left_L", "water", 0.0, litres, litres - band, litres + band, Reason("water in the tanks")
    )


def minute(
    utc_s: float | None = NOW_S, leak_L_per_h: float | None = None, air_C: float | None = None
) -> Heard:
    leak = Estimate("leak_L_per_h", "pump", 0.0, leak_L_per_h, None, None, Reason("leak suspected"))
    columns = {} if air_C is None else {"cabin temperature": Column(array("d", [1.0]), array("d", [air_C]))}
    water = WaterHeard(estimates={("leak_L_per_h", "pump"): leak})
    return Heard(0.0, utc_s, 1, columns, {}, ANCHOR, {}, water=water)


def planned(
    settings: Settings, L_a_day: float = 30.0, litres: float = 300.0, leak_L_per_h: float | None = None
) -> tuple[WaterPlan, WaterAhead, WaterPlanWatch]:
    """A boat that has lived so, with so much left: her plan."""
    ahead = WaterAhead(settings)
    watch = WaterPlanWatch(settings, ahead)
    watch.take(minute(leak_L_per_h=leak_L_per_h))
    lived(ahead.use, L_a_day)
    list(ahead.draw(NOW_S, 0.0, left(litres), 400.0, ANCHOR, 1))
    watch.take(minute(leak_L_per_h=leak_L_per_h))
    plan = watch.plan()
    assert plan is not None
    return plan, ahead, watch
