"""What is known of lead batteries in general: the voltage at rest, and what a greater current costs.

Voltages are a cell's times the number of cells; a 12 V battery has six.
"""

import numpy as np

from monitor.estimation.readings import Floats

RATED_H = 20.0
"""The label of a lead battery is what it gives in 20 hours."""
PEUKERT = 1.2
"""The exponent of an ordinary lead battery. Common practice."""
REST_PCT = np.array([0.0, 25.0, 50.0, 75.0, 100.0])
REST_CELL_V = np.array([11.6, 12.0, 12.2, 12.4, 12.6]) / 6
"""Flooded, rested for some hours: a common table. Another puts the empty battery at 11.89 V."""
REST_BAND_PCT = 15.0
"""A meter that is 1 % off is 15 % off in charge, and kinds of lead differ by as much."""


def charge_at_rest_pct(volts: float, cells: int = 6) -> float:
    """The charge of a rested lead battery by its voltage, between the table's rows a straight line. [%]

    Valid only after hours without charge or load to speak of: after a charge the voltage stands too
    high, on float it says nothing. Good to `REST_BAND_PCT` at best.
    """
    return float(np.interp(volts / cells, REST_CELL_V, REST_PCT))


def at_rest_V(charge_pct: Floats | float, cells: int = 6) -> Floats:
    """The inverse of `charge_at_rest_pct`. [V]"""
    return np.asarray(cells * np.interp(charge_pct, REST_PCT, REST_CELL_V))


def peukert_hours(
    capacity_Ah: float, amperes: float, rated_h: float = RATED_H, exponent: float = PEUKERT
) -> float:
    """How long a battery carries a steady current, by Peukert's law with the hours of its rating. [h]

    T = H (C / (I H))^n. Without the rating's hours (T = C / I^n) a battery rated for 20 h would not
    last them at its own rated current. Below the rated current nothing beyond C / I is promised: the
    law was never meant for it.

    Args:
        capacity_Ah: What it gives in `rated_h`. [Ah]
        amperes: The current drawn. [A]
        rated_h: The hours of that rating, H. [h]
        exponent: n; 1.05 to 1.4, greater for old and for flooded ones.

    Raises:
        ValueError: if any of them is not positive.
    """
    if min(capacity_Ah, amperes, rated_h, exponent) <= 0:
        raise ValueError(f"expected positive figures, got {capacity_Ah}, {amperes}, {rated_h}, {exponent}")
    return capacity_Ah / amperes / float(over_rated(amperes, capacity_Ah, rated_h, exponent))


def over_rated(
    amperes: Floats | float, capacity_Ah: Floats | float, rated_h: float, exponent: Floats | float
) -> Floats:
    """How much faster than the current itself it runs down: (I H / C)^(n - 1), never below 1."""
    return np.asarray(
        np.maximum(1.0, np.asarray(amperes) * rated_h / capacity_Ah) ** (np.asarray(exponent) - 1)
    )
