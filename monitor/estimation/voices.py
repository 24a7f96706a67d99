"""Two devices that speak as one: readings of one channel that go to and fro between two levels."""

import numpy as np

from monitor.estimation.readings import Floats, standing_at

LEAST_READINGS = 8
APART_V = 0.2
"""Of a 12 V bank, in proportion above."""
CLOSE = 0.2
"""The spread of each level, as a share of what lies between them."""
OFTEN = 0.25
"""So often, of all readings, it goes from one level to the other."""
PULSE_OHM = 0.05
"""A load that pulses pulls the voltage down by no more than this for each ampere. Common practice."""
PULSE_A = 2.0


def two_voices(
    volts: tuple[Floats, Floats], amps: tuple[Floats, Floats], twelves: float
) -> tuple[float, float] | None:
    """The two levels of a minute's voltage. [V] None where it is one voice.

    A load that pulses moves the current too, and the voltage by R I with a small R: that is no second
    device.

    Args:
        volts: Times and values of a minute's voltage. [s, V]
        amps: The same of the current; empty where there is none. [s, A]
        twelves: The nominal voltage over 12 V.
    """
    times, values = volts
    if values.size < LEAST_READINGS:
        return None
    upper = values > (values.max() + values.min()) / 2
    if not upper.any() or upper.all() or (np.diff(upper.astype(np.int8)) != 0).sum() < OFTEN * values.size:
        return None
    low, high = values[~upper], values[upper]
    apart = float(high.mean() - low.mean())
    if apart < APART_V * twelves or max(low.std(), high.std()) > CLOSE * apart:
        return None
    flows = standing_at(times, *amps)
    if flows.size:
        pulse_A = float(flows[upper].mean() - flows[~upper].mean())
        if pulse_A > PULSE_A and apart / pulse_A < PULSE_OHM * twelves:
            return None
    return float(low.mean()), float(high.mean())
