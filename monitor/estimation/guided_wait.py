"""How long a step of a guided test must wait, and which runs of the pump are evidence meanwhile."""

from collections.abc import Mapping, Sequence

from monitor.clock import HOUR_S
from monitor.estimation.density import shrinkage_L
from monitor.estimation.guided_state import LEAST_WAIT_S, GuidedTest
from monitor.estimation.guided_steps import WAIT, usable
from monitor.records import Event
from monitor.settings import Heater, Pump

USUAL_LEAK_L_PER_H = 0.2
"""Looked for where no leak is suspected yet: 10 drips a minute (US Geological Survey, drip calculator)."""
MARGIN = 1.3
NO_USE_S = 2 * HOUR_S
"""Where no cock is named: two hours without use (US EPA WaterSense, "Fix a Leak Week")."""
LONG_RUN = 1.25
APART_S = 120.0
"""Runs closer together than this belong to one draw, unless they go on for longer than anybody draws:"""
STEADY_S = 20 * 60.0


def wait_s(pump: Pump, drawdown_L: float, suspected_L_per_h: float | None, rests_h: Sequence[float]) -> float:
    """How long the pump must stay still so that a leak of the suspected size is excluded.

    1.3 V_d / q: a leak of q empties a full accumulator, which gives V_d, in V_d / q. Where nobody suspects
    any, q is the usual leak, or it is twice the longest of several rests that the first wait has shown. [s]
    """
    hours = MARGIN * drawdown_L / (suspected_L_per_h or USUAL_LEAK_L_PER_H)
    if suspected_L_per_h is None and len(rests_h) > 1:
        hours = min(hours, 2 * max(rests_h))
    return max(LEAST_WAIT_S if usable(pump) else NO_USE_S, hours * HOUR_S)


def long_run_s(pump: Pump, drawdown_L: float) -> float:
    """A run longer than this was a draw: a quarter more than one refill, timing allowed for. [s]"""
    return LONG_RUN * 60 * drawdown_L / pump.flow_L_per_min + 2 * pump.timing_s


def shrunk_L(heaters: Sequence[Heater], from_C: Mapping[str, float], to_C: Mapping[str, float]) -> float:
    """Water that cooling heaters took, of those whose temperature is known at both times. [L]"""
    known = [h for h in heaters if h.name in from_C and h.name in to_C]
    return sum(shrinkage_L(h.volume_L, from_C[h.name], to_C[h.name]) for h in known)


def ran(test: GuidedTest, run: Event, long_s: float, cooled: bool) -> bool:
    """Weigh a run of the pump that is over. Whether it shows a leak by itself.

    A lone refill does so once it has stayed alone: until then it is kept in `lone_s`. Whatever else is
    no evidence makes the wait begin again. `cooled`: heaters have taken enough water to explain a start.
    """
    began_s, end_s, before_s = run.start_s, run.end_s or run.start_s, test.full_s
    cut = bool(run.facts.get("cut"))
    test.full_s = None if cut else end_s
    if test.step != WAIT:
        return False
    follows = before_s is not None and began_s - before_s < APART_S
    test.bout_s = (test.bout_s or before_s) if follows else None
    if cut:
        test.again("lost", None)
    elif test.since_s is None or began_s < test.since_s:
        test.again(test.note, max(test.since_s or end_s, end_s), end_s)
    elif end_s - began_s > long_s:
        test.again("drew", end_s, end_s)
    elif test.bout_s is not None and began_s - test.bout_s >= STEADY_S:
        return True
    elif follows:
        test.again("drew", end_s, end_s)
    elif cooled:
        test.again("heater cools", end_s, end_s)
    else:
        test.lone_s = began_s
    return False
