"""A small diesel set of 3.2 kW: its fuel, frequency and voltage follow its load. [W, at the terminals]

The rotor turns once a cycle (two poles) and its governor droops. The figures are common practice
for its size; such a set lives long between 50 and 75 % of its rating.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RATED_W = 3200.0
LIMIT_A = 14.0
IDLE_L_PER_H = 0.35
L_PER_KWH = 0.30
UNLOADED_HZ, DROOP_HZ = 52.0, 2.0
UNLOADED_V, DROOP_V = 236.0, 6.0
"""At the rated load 50 Hz and 230 V: a droop of 4 % and 2.6 %."""


def fuel_L_per_h(watts: Floats) -> Floats:
    """A Willans line: what it burns without a load, and so much for each kilowatt. [L/h]"""
    return IDLE_L_PER_H + L_PER_KWH * watts / 1000


def frequency_Hz(watts: Floats) -> Floats:
    """Falls straight with the load, as a governor without memory has it. [Hz]"""
    return UNLOADED_HZ - DROOP_HZ * watts / RATED_W


def voltage_V(watts: Floats) -> Floats:
    """At the terminals, falling straight with the load. [V]"""
    return UNLOADED_V - DROOP_V * watts / RATED_W


def speed_rpm(watts: Floats) -> Floats:
    """Synchronous: 120 f / poles with two poles. [rpm]"""
    return 60 * frequency_Hz(watts)
