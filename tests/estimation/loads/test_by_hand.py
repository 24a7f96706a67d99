"""Traces that are drawn by hand, and what they must give: all figures here are worked out on paper."""

import numpy as np
import pytest

from monitor.clock import Interval
from monitor.estimation.loads.clusters import crowds
from monitor.estimation.loads.floor import floor
from monitor.estimation.loads.following import follow
from monitor.estimation.loads.naming import name_loads
from monitor.estimation.loads.pairs import pairs
from monitor.estimation.loads.steps import steps
from monitor.estimation.loads.switching import switched
from monitor.estimation.loads.trace import Trace, together, trace_of
from monitor.records import LoadKind

_FRIDGE = LoadKind("fridge", 50.0, 50.0, 0.5, 600.0, 0.2, "cycles", 0.99, 60, 3, 0.0)
_LAMP = LoadKind("lamp", 20.0, 20.0, 0.5, 3600.0, 0.7, "runs", 0.83, 6, 3, 0.0)
_LIGHT = LoadKind("light", 8.0, 8.0, 0.5, 36_000.0, 0.2, "runs", 0.9, 3, 3, 0.0)


def _drawn(seconds: int, *loads: tuple[int, int, float], stands: float = 10.0, noise: float = 0.0) -> Trace:
    watts = stands + noise * np.random.default_rng(1).normal(0, 1, seconds)
    for first, last, more in loads:
        watts[first:last] += more
    return Trace(0.0, 1.0, watts)


def test_steps_are_where_they_were_drawn() -> None:
    found = steps(_drawn(2000, (300, 900, 50.0), (600, 1500, 20.0), noise=0.9))

    assert found.where.tolist() == [300, 600, 900, 1500]
    assert found.watts == pytest.approx([50, 20, -50, -20], abs=1.5)  # 4 * 0.9 * sqrt(2 / 12)
    assert found.levels == pytest.approx([10, 60, 80, 30, 10], abs=0.3)


def test_a_motor_s_start_is_part_of_its_step() -> None:
    """Two seconds at 150 W, then 50 W: one step of 50."""
    found = steps(_drawn(1000, (300, 700, 50.0), (300, 302, 100.0), noise=0.9))

    assert found.where.tolist() == [300, 700]
    assert found.watts == pytest.approx([50, -50], abs=1.5)


def test_no_step_where_nothing_changes() -> None:
    assert not steps(_drawn(5000, noise=0.9)).where.size
    assert not steps(Trace(0.0, 1.0, np.full(100, np.nan))).where.size


def test_nested_steps_are_paired_by_their_size() -> None:
    found = steps(_drawn(4000, (300, 3000, 20.0), (600, 1200, 50.0), (1800, 2400, 50.0)))

    runs = [(round(r.up_W, 6), round(r.down_W, 6), r.seconds) for r in pairs(found, 1.0)]

    assert runs == [(20, 20, 2700), (50, 50, 600), (50, 50, 600)]


def test_no_pair_across_a_gap() -> None:
    trace = _drawn(3000, (300, 900, 50.0))
    trace.watts[500:520] = np.nan

    assert not pairs(steps(trace), 1.0)


def test_two_switched_in_one_second_are_two_runs() -> None:
    """The fridge ends in the second in which the lamp is lit: a step of 20 - 50 = -30 W."""
    trace = _drawn(4000, (300, 900, 50.0), (900, 2500, 20.0), noise=0.5)

    runs, _ = follow(steps(trace), 1.0, [_FRIDGE], others=[_LAMP])

    assert [(r.first, r.last) for r in runs] == [(300, 900)]


def test_what_runs_at_both_ends_of_what_was_heard() -> None:
    trace = _drawn(3000, (0, 250, 50.0), (2800, 3000, 50.0), noise=0.5)

    runs, _ = follow(steps(trace), 1.0, [_FRIDGE])

    assert [(r.first, r.last, r.up < 0, r.down < 0) for r in runs] == [
        (0, 250, True, False),
        (2800, 3000, False, True),
    ]


def test_levels_tell_what_steps_cannot() -> None:
    """A light of 8 W burns all night; in the hour of the lamp 8 W more go and come: the light, by its steps,
    but a light that burns 10 h is not switched off for minutes, and the level says what is still on."""
    trace = _drawn(40_000, (2000, 38_000, 8.0), (6000, 9600, 20.0), (12_000, 12_600, 8.2), noise=0.9)
    runs = switched(trace, steps(trace), [_LAMP, _LIGHT], np.zeros(40_000), 10.0)

    assert [(r.kind, r.first, r.last) for r in runs] == [(1, 2000, 38_000), (0, 6000, 9600)]


def test_what_stands_is_the_lower_edge_of_what_ripples() -> None:
    """10 W stand, loads of minutes lie above; a film of two hours does not lift it."""
    trace = _drawn(50_000, (5000, 12_200, 40.0), *((n, n + 300, 15.0) for n in range(0, 50_000, 900)))

    assert floor(trace) == pytest.approx(np.full(50_000, 10.0))


def test_duty_and_watt_hours_by_hand() -> None:
    """Two hours: every 1800 s the fridge runs 600 s with 50 W, a duty of 1/3: 2 h * 50 W / 3 = 33.3 Wh;
    the lamp burns for an hour: 20 Wh; 10 W stand: 20 Wh. Together 73.3 Wh."""
    fridge = [(n, n + 600, 50.0) for n in range(600, 7200, 1800)]
    trace = _drawn(7200, *fridge, (1000, 4600, 20.0), noise=0.5)

    named = name_loads(trace, [_FRIDGE, _LAMP], Interval(0.0, 7200.0))

    Wh = {load: watts.sum() / 3600 for load, watts in named.watts.items()}
    assert Wh["fridge"] == pytest.approx(33.3, rel=0.01)
    assert Wh["lamp"] == pytest.approx(20.0, rel=0.02)
    assert named.standing_W.sum() / 3600 == pytest.approx(20.0, rel=0.03)
    assert named.used_W.sum() / 3600 == pytest.approx(73.3, rel=0.01)
    assert sum(b - a for a, b in named.runs["fridge"]) / 7200 == pytest.approx(1 / 3, abs=0.001)


def test_crowds_are_numbered_by_size() -> None:
    assert crowds(np.array([50.0, 50.5, 49.8, 20.0, 20.3, 90.0])).tolist() == [0, 0, 0, 1, 1, 2]
    assert not crowds(np.empty(0)).size


def test_used_is_made_less_net() -> None:
    """5 A out at 12.5 V are 62.5 W; 8 A in at 12.5 V while 130 W are made leave 30 W used."""
    at_s = np.arange(10.0)
    out = trace_of(at_s, np.full(10, -5.0), at_s, np.full(10, 12.5))
    made = trace_of(at_s, np.full(10, 8.0), at_s, np.full(10, 12.5), (at_s, np.full(10, 130.0)))

    assert out.step_s == 1.0
    assert out.watts == pytest.approx(np.full(10, 62.5))
    assert made.watts == pytest.approx(np.full(10, 30.0))


def test_a_charger_s_meter_that_comes_late_is_shifted() -> None:
    """A load of 80 W for 10 s; the charger follows after 2 s, its meter tells of it 2 s later still. So the
    bank gives 80 W for 2 s and gets 80 W for 2 s; used were 80 W for 10 s."""
    at_s = np.arange(100.0)
    load, makes, told = (np.where((at_s >= begin) & (at_s < begin + 10), 80.0, 0.0) for begin in (40, 42, 44))
    trace = trace_of(at_s, (makes - load) / 12.5, at_s, np.full(100, 12.5), (at_s, told))

    assert trace.watts == pytest.approx(load)


def test_silence_is_a_gap_and_no_voltage_the_nominal_one() -> None:
    at_s = np.concatenate((np.arange(10.0), np.arange(20.0, 30.0)))
    none = np.full(20, np.nan)
    trace = trace_of(at_s, np.full(20, -1.0), at_s, none)

    assert np.isnan(trace.watts[13:19]).all()
    assert np.isfinite(trace.watts[:10]).all()
    assert trace.watts[0] == pytest.approx(12.8)


def test_two_banks_together_are_known_where_both_are() -> None:
    a, b = Trace(0.0, 1.0, np.array([1.0, 2.0, np.nan, 4.0])), Trace(1.0, 1.0, np.array([10.0, 20.0, 30.0]))

    both = together([a, b])

    assert both.start_s == 1.0
    assert both.watts.tolist()[::2] == [12.0, 34.0]
    assert np.isnan(both.watts[1])
