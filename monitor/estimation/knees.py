"""What the rested voltage of a lithium iron phosphate cell says about its charge: at the lower knee
something, on the plateau only what it cannot be.

Open-circuit voltage per cell at 25 °C, mean of charge and discharge, of two cells: the measured one
of G. Plett's ESC toolbox data (A123, C/27; MIT licence), whose charging and discharging branches lie 24
to 60 mV apart between 10 and 95 %, and the modelled one of PyBaMM's Prada2013 parameter set. They
differ by up to 200 mV at the knee, so a voltage there is worth what their disagreement leaves of it.
Between 20 and 98 % a rested voltage is no measurement: the plateau rises by some 1.3 mV a percent.
There it only bounds the charge, by the branch of either cell that reaches furthest.
"""

from typing import NamedTuple

import numpy as np

KNEE_V = 3.20
"""A rested cell below this is under the plateau."""
_LEAST_SD_PCT = 2.0
_READING_V = 0.010
"""Of a rested cell: what half an hour leaves, and the meter. Common practice."""
_COLD_C, _COOL_C, _HOT_C = 0.0, 10.0, 45.0
_DOUBT_PCT = 5.0
"""In the cool half an hour is no rest. Common practice; the same where no temperature is told."""

_MEASURED_V = (2.00, 3.025, 3.178, 3.245, 3.280, 3.301, 3.308, 3.317, 3.330, 3.345)
_MEASURED_PCT = (0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0)
_MODELLED_V = (2.00, 2.978, 3.169, 3.206, 3.266, 3.274, 3.310)
_MODELLED_PCT = (0.0, 10.0, 20.0, 30.0, 50.0, 70.0, 80.0)
"""Volts, and the charge at them [%]. That 2.00 V is empty is both makers' limit. From 80 % on the curves are
flat, and a full cell that has given a little back rests there too: nothing is told apart."""
_HALF_GAP_V = 0.030
_ABOVE_V, _BELOW_V = 0.020, 0.040
"""A resting cell may stand so much above its curve after charging (half a per cent of the meter), and so
much below it under a load of C/50 soon after a greater one. Common practice."""
_HIGHEST_V = 3.45
"""Above this a charger holds it."""


class Rested(NamedTuple):
    """Charge read from a rested voltage, its standard deviation, and the part of that which the same
    bank has every time. [%]"""

    pct: float
    sd_pct: float
    table_sd_pct: float


def rested_charge(cell_V: float, temperature_C: float | None) -> Rested | None:
    """The charge of a cell that has rested at `cell_V`; None on the plateau, above it and in frost.

    Valid for lithium iron phosphate from 10 to 45 °C after half an hour at less than C/50; outside, and
    where the temperature is not known, with more doubt.
    """
    if not cell_V < KNEE_V or (temperature_C is not None and temperature_C < _COLD_C):
        return None
    one, other = _both(cell_V)
    steep = min(b - a for a, b in zip(_both(cell_V - 0.005), _both(cell_V + 0.005), strict=True))
    reading = max(_LEAST_SD_PCT, _READING_V * steep / 0.01)
    doubt = 0.0 if valid(temperature_C) else _DOUBT_PCT
    table = abs(one - other) / 2
    return Rested((one + other) / 2, float(np.hypot(np.hypot(reading, doubt), table)), table)


def valid(temperature_C: float | None) -> bool:
    """Whether it is known to be as warm as the curves were taken in."""
    return temperature_C is not None and _COOL_C <= temperature_C <= _HOT_C


def bounds(cell_V: float, temperature_C: float | None) -> tuple[float, float] | None:
    """The least and the most charge that a cell resting at `cell_V` can have. [%] None where it tells
    nothing: in the cold, held by a charger, or not a plateau at all."""
    cold = temperature_C is not None and temperature_C < _COOL_C
    if cold or not KNEE_V <= cell_V <= _HIGHEST_V:
        return None
    doubt = 1.0 if temperature_C is not None else 1.5
    lowest_V, highest_V = cell_V - doubt * _ABOVE_V, cell_V + doubt * _BELOW_V
    measured, modelled = (_MEASURED_V, _MEASURED_PCT), (_MODELLED_V, _MODELLED_PCT)
    least = min(_pct(lowest_V - _HALF_GAP_V, *measured), _pct(lowest_V, *modelled))
    most = max(_pct(highest_V + _HALF_GAP_V, *measured, 100.0), _pct(highest_V, *modelled, 100.0))
    return least, most


def cold_doubt(temperature_C: float | None) -> float:
    """How much of its capacity a bank may keep to itself in the cold, as a share: half a per cent a kelvin
    below 15 °C. Common practice. Nothing is known of it where no temperature is told."""
    return 0.005 * max(0.0, 15.0 - temperature_C) if temperature_C is not None else 0.02


def _both(cell_V: float) -> tuple[float, float]:
    return _pct(cell_V, _MEASURED_V, _MEASURED_PCT), _pct(cell_V, _MODELLED_V, _MODELLED_PCT)


def _pct(
    cell_V: float, volts: tuple[float, ...], pct: tuple[float, ...], beyond: float | None = None
) -> float:
    """By one curve; `beyond` its last row, or the last row's."""
    return float(np.interp(cell_V, volts, pct, right=beyond))
