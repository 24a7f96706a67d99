"""Elapsed time and wall time, and how a boot is placed."""

import ast
import inspect
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from monitor import clock
from monitor.clock import Anchor, Boot, Interval
from monitor.system_clock import SystemClock, network_time_synchronised

# 2026-03-29 01:00 UTC, when the clocks of Europe go forward (EU directive 2000/84/EC).
SPRING_UTC_S = 1_774_746_000.0


def placed(*pairs: tuple[float, float]) -> Boot:
    boot = Boot(1)
    for elapsed_s, utc_s in pairs:
        boot = boot.with_anchor(Anchor(elapsed_s, utc_s, "test", 0.5))
    return boot


def test_a_boot_nobody_has_placed_has_no_wall_time() -> None:
    """Unknown is None, never a guess."""
    assert not Boot(1).placed
    assert Boot(1).utc_s(100.0) is None
    assert Boot(1).elapsed_s(1e9) is None


def test_the_first_anchor_places_the_whole_boot() -> None:
    boot = placed((3600.0, SPRING_UTC_S))

    assert boot.utc_s(0.0) == SPRING_UTC_S - 3600
    assert boot.utc_s(7200.0) == SPRING_UTC_S + 3600


def test_an_oscillator_that_is_off_is_put_right_between_anchors() -> None:
    """50 ppm over a day is 4.3 s (0.00005 x 86,400 s)."""
    boot = placed((0.0, 0.0), (86_400.0, 86_404.32))

    assert boot.utc_s(43_200.0) == pytest.approx(43_202.16)


pairs = st.lists(
    st.tuples(st.floats(0, 1e6), st.floats(-3, 3)), min_size=2, max_size=6, unique_by=lambda p: round(p[0])
)


@given(pairs, st.floats(0, 1))
def test_between_anchors_it_is_numpys_interpolation(points: list[tuple[float, float]], part: float) -> None:
    """Against an independent library."""
    points = sorted(points)
    elapsed = [e for e, _ in points]
    utc = [SPRING_UTC_S + e + off for e, off in points]
    assume(all(b > a for a, b in pairwise(utc)))
    at_s = elapsed[0] + part * (elapsed[-1] - elapsed[0])

    assert placed(*zip(elapsed, utc, strict=True)).utc_s(at_s) == pytest.approx(
        float(np.interp(at_s, elapsed, utc)), abs=1e-5
    )


@given(pairs, st.floats(-1e5, 1e6 + 1e5))
def test_there_and_back(points: list[tuple[float, float]], at_s: float) -> None:
    points = sorted((e, SPRING_UTC_S + 1.001 * e + off) for e, off in points)
    assume(all(b[0] - a[0] > 10 for a, b in pairwise(points)))
    boot = placed(*points)
    utc_s = boot.utc_s(at_s)
    assert utc_s is not None

    assert boot.elapsed_s(utc_s) == pytest.approx(at_s, abs=1e-4)


def test_an_interval_is_cut_at_the_hours_of_utc() -> None:
    start_s, end_s = SPRING_UTC_S - 1800, SPRING_UTC_S + 3600 + 60

    hours = list(Interval(start_s, end_s).hours())

    assert [(h.start_s - SPRING_UTC_S, h.end_s - SPRING_UTC_S) for h in hours] == [
        (-1800, 0),
        (0, 3600),
        (3600, 3660),
    ]
    assert sum(h.seconds for h in hours) == Interval(start_s, end_s).seconds


def test_an_empty_interval_has_no_hours() -> None:
    assert list(Interval(10.0, 10.0).hours()) == []


def test_elapsed_time_is_the_kernels_uptime() -> None:
    """proc(5): /proc/uptime counts from boot, suspend included, in hundredths."""
    uptime_s = float(Path("/proc/uptime").read_text("ascii").split()[0])

    assert SystemClock().elapsed_s() == pytest.approx(uptime_s, abs=1.0)


def test_asking_for_network_time_sets_nothing() -> None:
    """adjtimex(2) with `modes` 0 only reads."""
    before_s = SystemClock().wall_s() - SystemClock().elapsed_s()

    assert network_time_synchronised() in (True, False)
    assert SystemClock().wall_s() - SystemClock().elapsed_s() == pytest.approx(before_s, abs=0.05)


def test_the_arithmetic_of_time_reads_no_clock() -> None:
    imported = {
        name.name
        for node in ast.walk(ast.parse(inspect.getsource(clock)))
        if isinstance(node, ast.Import)
        for name in node.names
    }

    assert not imported & {"time", "datetime", "ctypes"}
