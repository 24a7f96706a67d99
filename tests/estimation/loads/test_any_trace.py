"""Whatever a sensor says, a night is shared out exactly: loads, what stands and what is unexplained are what
was used, at every step; nothing is negative and nothing fails."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import Interval
from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import Named, name_loads
from monitor.estimation.loads.trace import Trace
from monitor.records import LoadKind

_KINDS = (
    LoadKind("1", 55.0, 50.0, 0.8, 600.0, 0.2, "cycles", 0.99, 60, 3, 0.0),
    LoadKind("2", 80.0, 80.0, 1.5, 9.0, 0.5, "pulses", 0.95, 60, 3, 0.0),
    LoadKind("3", 8.0, 8.0, 0.5, 40_000.0, 0.2, "runs", 0.9, 3, 3, 0.0),
    LoadKind("4", 20.0, 20.0, 0.5, 2000.0, 0.7, "runs", 0.83, 6, 3, 0.0),
    LoadKind("5", 40.0, 40.0, 5.0, 6000.0, 1.0, "varies", 0.85, 3, 3, 0.0),
)
_POWER = st.one_of(
    st.sampled_from([0.0, 8.0, 20.0, 50.0, 55.0, 80.0, -60.0, 1e5, 1e300, float("nan"), float("inf")]),
    st.floats(),
    st.floats(-50, 200),
)
_STRETCHES = st.lists(st.tuples(_POWER, st.integers(1, 900), st.sampled_from([0.0, 0.9, 8.0])), max_size=25)


@settings(max_examples=60, deadline=None)
@given(_STRETCHES, st.integers(0, 9), st.sampled_from([1.0, 1.5, 10.0]), st.integers(0, 7000))
def test_what_is_told_is_what_was_used(
    stretches: list[tuple[float, int, float]], seed: int, step_s: float, begin_s: int
) -> None:
    rng = np.random.default_rng(seed)
    told = [np.full(count, watts) + rng.normal(0, 1, count) * noise for watts, count, noise in stretches]
    trace = Trace(0.0, step_s, np.concatenate([np.empty(0), *told]))
    during = Interval(float(begin_s), float(begin_s) + 6000.0)
    book = LoadBook()
    for _ in range(2):
        book.learn(trace, during)

    for kinds in ((), _KINDS, book.kinds):
        _is_exact(name_loads(trace, kinds, during), trace, during)


def _is_exact(named: Named, trace: Trace, during: Interval) -> None:
    said = trace.part(during.start_s, during.end_s).watts
    sane = np.isfinite(said) & (np.abs(said) <= 1e6)
    used = np.where(sane, np.maximum(np.where(sane, said, 0.0), 0.0), 0.0)
    parts = [*named.watts.values(), named.standing_W, named.unexplained_W]
    assert all((part >= 0).all() and part.shape == used.shape for part in parts)
    assert np.allclose(np.sum(parts, axis=0), used, rtol=1e-9, atol=1e-6)
    assert (np.isnan(named.used_W) == ~sane).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 99), st.integers(60, 3000), st.integers(1, 40))
def test_no_run_lies_across_a_gap(seed: int, at: int, long: int) -> None:
    """The gap may begin and end at any time while the loads of the example run."""
    rng = np.random.default_rng(seed)
    watts = 10 + rng.normal(0, 0.9, 4000)
    for first, last, more in ((300, 900, 50.0), (1500, 2100, 50.0), (1000, 3000, 20.0), (2500, 2509, 80.0)):
        watts[first:last] += more
    watts[at : at + long] = np.nan

    named = name_loads(Trace(0.0, 1.0, watts), _KINDS, Interval(0.0, 4000.0))

    for runs in named.runs.values():
        assert not [run for run in runs if run[0] < at and run[1] > at + long]
