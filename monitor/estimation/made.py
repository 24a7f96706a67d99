"""What a watermaker made and took in one minute."""

from collections.abc import Callable
from typing import NamedTuple

from monitor.estimation.watcher import Heard
from monitor.settings import Watermaker

MAKES = (2.0, 7.0)
"""The states in which its water goes to the tanks: running, and run by hand."""
FLUSHES = (4.0, 5.0)
"""Flushing and rinsing: it takes fresh water, and what leaves it is not for drinking."""
FLOWS_L_PER_H = 1.0
"""Product flow below this is a meter's noise. Common practice."""
TOO_MUCH = 2.0
"""More than so many times its rating no membrane makes: the meter is not believed."""


class Made(NamedTuple):
    """Of one minute; unknown is None."""

    makes: float | None
    """Which share of the minute it made water."""
    litres: float | None
    measured: bool
    """The litres come from a meter, not from the rating."""
    Wh: float | None
    flushes: bool | None


def made(minute: Heard, maker: Watermaker, bank_V: float) -> Made:
    """Litres by the product flow, else by the rating while it runs; watt-hours by its power, else its
    current, else the rating. What flows while it starts, rinses or flushes goes overboard. `bank_V`: of
    the bank it hangs on, where it tells no voltage."""
    state = f"{maker.name} watermaker state"
    makes = _share(minute, state, lambda v: v in MAKES)
    if makes is None:
        both = [_share(minute, f"{maker.name} {q}", lambda v: v > 0.5) for q in ("running", "on")]
        makes = next((share for share in both if share is not None), None)
    flow = _now(minute, f"{maker.name} flow")
    if flow is not None and maker.rated_L_per_h is not None and flow > TOO_MUCH * maker.rated_L_per_h:
        flow = None
    if makes is None and flow is not None:
        makes = 1.0 if flow >= FLOWS_L_PER_H else 0.0
    litres, measured = _litres(flow, makes, maker.rated_L_per_h)
    flushes = _share(minute, state, lambda v: v in FLUSHES)
    told_W = _watts(minute, maker, bank_V)
    by_rating_W = None if makes is None or maker.rated_W is None else makes * maker.rated_W
    watts = by_rating_W if told_W is None else told_W
    Wh = None if watts is None else watts / 60
    return Made(makes, litres, measured, Wh, None if flushes is None else flushes > 0.0)


def _litres(flow: float | None, makes: float | None, rated: float | None) -> tuple[float | None, bool]:
    if makes == 0.0:
        return 0.0, True
    if flow is not None:
        return (0.0 if flow < FLOWS_L_PER_H else flow / 60), True
    return (None if makes is None or rated is None else makes * rated / 60), False


def _watts(minute: Heard, maker: Watermaker, bank_V: float) -> float | None:
    for quantity in ("power", "ac power"):
        watts = _now(minute, f"{maker.name} {quantity}")
        if watts is not None:
            return abs(watts)
    amps = _now(minute, f"{maker.name} current")
    volts = _now(minute, f"{maker.name} voltage") or bank_V
    return None if amps is None else abs(amps) * volts


def _now(minute: Heard, name: str) -> float | None:
    """The minute's mean, else what still stands."""
    mean = minute.mean(name)
    return minute.newest(name) if mean is None else mean


def _share(minute: Heard, name: str, holds: Callable[[float], bool]) -> float | None:
    """Which share of the minute a state held; None where it is unheard."""
    values = minute.values(name)
    if not values.size:
        newest = minute.newest(name)
        return None if newest is None else float(holds(newest))
    return sum(holds(float(v)) for v in values) / values.size
