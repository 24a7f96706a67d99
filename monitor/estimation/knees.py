"""What the rested voltage of a lithium iron phosphate cell says about its charge: at the lower knee
something, on the plateau nothing.

Open-circuit voltage per cell at 25 °C, mean of charge and discharge, of two cells: the measured one
of G. Plett's ESC toolbox data (A123, C/27; MIT licence) and the modelled one of PyBaMM's Prada2013
parameter set. They differ by up to 200 mV at the knee, so a voltage there is worth what their
disagreement leaves of it. Between 20 and 98 % a rested voltage is no measurement: the plateau rises
by some 1.3 mV a percent and charging and discharging lie 24 to 60 mV apart.
"""

from typing import NamedTuple

import numpy as np

KNEE_V = 3.20
"""A rested cell below this is under the plateau."""
_LEAST_SD_PCT = 2.0

_MEASURED = ((2.00, 3.025, 3.178, 3.245), (0.0, 5.0, 10.0, 20.0))
_MODELLED = ((2.00, 2.978, 3.169, 3.206), (0.0, 10.0, 20.0, 30.0))
"""Volts, and the charge at them [%]. That 2.00 V is empty is both makers' limit."""


class Rested(NamedTuple):
    """Charge read from a rested voltage. [%]"""

    pct: float
    sd_pct: float


def rested_charge(cell_V: float) -> Rested | None:
    """The charge of a cell that has rested at `cell_V`; None on the plateau and above it.

    Valid for lithium iron phosphate near 25 °C after half an hour at less than C/50.
    """
    if not cell_V < KNEE_V:
        return None
    one, other = (float(np.interp(cell_V, volts, pct)) for volts, pct in (_MEASURED, _MODELLED))
    return Rested((one + other) / 2, max(_LEAST_SD_PCT, abs(one - other) / 2))
