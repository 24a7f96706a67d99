"""How long a step of a guided test must wait, and which runs of the pump are no evidence."""

from collections.abc import Mapping, Sequence

from monitor.clock import HOUR_S
from monitor.estimation.density import shrinkage_L
from monitor.estimation.guided_state import LEAST_WAIT_S
from monitor.estimation.guided_steps import usable
from monitor.settings import Heater, Pump

USUAL_LEAK_L_PER_H = 0.2
"""Looked for where no leak is suspected yet: 10 drips a minute (US Geological Survey, drip calculator)."""
MARGIN = 1.3
NO_USE_S = 2 * HOUR_S
"""Where no cock is named: two hours without use (US EPA WaterSense, "Fix a Leak Week")."""
LONG_RUN = 1.25


def wait_s(pump: Pump, drawdown_L: float, suspected_L_per_h: float | None, shown_L_per_h: float) -> float:
    """How long the pump must stay still so that a leak of the suspected size is excluded.

    1.3 V_d / q: a leak of q empties a full accumulator, which gives V_d, in V_d / q. Not suspected by
    anybody, q is the usual leak, or the larger one that a first wait has shown, with twice the interval
    that it showed. [s]
    """
    q = suspected_L_per_h or max(USUAL_LEAK_L_PER_H, shown_L_per_h * MARGIN / 2)
    return max(LEAST_WAIT_S if usable(pump) else NO_USE_S, MARGIN * drawdown_L / q * HOUR_S)


def long_run_s(pump: Pump, drawdown_L: float) -> float:
    """A run longer than this was a draw: a quarter more than one refill, timing allowed for. [s]"""
    return LONG_RUN * 60 * drawdown_L / pump.flow_L_per_min + 2 * pump.timing_s


def shrunk_L(heaters: Sequence[Heater], from_C: Mapping[str, float], to_C: Mapping[str, float]) -> float:
    """Water that cooling heaters took, of those whose temperature is known at both times. [L]"""
    known = [h for h in heaters if h.name in from_C and h.name in to_C]
    return sum(shrinkage_L(h.volume_L, from_C[h.name], to_C[h.name]) for h in known)
