"""Power of a load whose running is known, against powers made by hand."""

import numpy as np
import pytest

from monitor.estimation.known_runs import power_of_runs
from monitor.estimation.loads.trace import Trace

START_S = 1_000.0
RUNS = [(START_S + at, START_S + at + long) for at, long in ((50.0, 8.0), (200.0, 5.0), (400.0, 12.5))]


def a_trace(watts: float, other: float = 60.0) -> Trace:
    power = np.full(600, other)
    for start_s, end_s in RUNS:
        first, last = start_s - START_S, end_s - START_S
        at = np.arange(600)
        power += watts * np.clip(np.minimum(at + 1, last) - np.maximum(at, first), 0, 1)
    return Trace(START_S, 1.0, power)


def test_a_pump_of_78_watts_takes_them_while_it_runs() -> None:
    """By hand: 78 W for 8 + 5 + 12.5 s are 0.5525 Wh."""
    power = power_of_runs(a_trace(78.0), RUNS)

    assert power is not None
    assert power.max() == pytest.approx(78.0)
    assert power.sum() / 3600 == pytest.approx(0.5525)
    assert power[49] == power[58] == 0.0


def test_what_another_load_does_meanwhile_is_not_taken_for_it() -> None:
    trace = a_trace(78.0)
    trace.watts[204:300] += 500.0

    power = power_of_runs(trace, RUNS)

    assert power is not None
    assert power.max() == pytest.approx(78.0)


def test_nothing_is_claimed_where_nothing_shows_or_too_little_is_known() -> None:
    assert power_of_runs(a_trace(0.0), RUNS) is None
    assert power_of_runs(a_trace(78.0), RUNS[:2]) is None
    assert power_of_runs(a_trace(78.0), [(0.0, 5.0)]) is None
    assert power_of_runs(a_trace(78.0)._replace(watts=np.full(600, np.nan)), RUNS) is None
