"""Pump runs from a signal that is exact, or bounces, repeats itself, or goes missing."""

from array import array

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.pump import BOUNCE_S, LOST_S, PumpRuns, RefillTime
from monitor.records import Column, Event, EventKind
from monitor.settings import Accumulator, Pump

PUMP = Pump(
    name="pump",
    flow_L_per_min=12,
    accumulator=Accumulator(volume_L=1.0, precharge_bar=1.2, cut_in_bar=1.4, cut_out_bar=2.8),
)
NAN = float("nan")


def heard(*samples: tuple[float, float]) -> list[Event]:
    times, values = zip(*samples, strict=True)
    runs = PumpRuns(PUMP)
    return runs.take(Column(array("d", times), array("d", values)))


def spans(events: list[Event]) -> list[tuple[float, float | None]]:
    return [(event.start_s, event.end_s) for event in events]


def test_a_run_keeps_its_exact_times_and_litres() -> None:
    """By hand: 12 L/min for 2.5 s are 0.5 L."""
    (event,) = heard((0, 0), (10.25, 1), (12.75, 0), (20, 0))

    assert (event.kind, event.subject) == (EventKind.PUMP_RUN, "pump")
    assert (event.start_s, event.end_s) == (10.25, 12.75)
    assert event.facts == {"litres": 0.5}


def test_repeated_states_and_a_bouncing_contact_are_one_run() -> None:
    events = heard((0, 1), (1, 1), (1.5, 0), (1.55, 1), (2, 1), (4, 0), (4.05, 1), (4.1, 0), (9, 0))

    assert spans(events) == [(0, 4.1)]


def test_a_pump_that_stops_for_longer_than_a_bounce_has_stopped() -> None:
    assert spans(heard((0, 1), (2, 0), (2.5, 1), (4, 0), (9, 0))) == [(0, 2), (2.5, 4)]


def test_a_stop_that_was_never_heard_cuts_the_run() -> None:
    """What is not heard for two minutes is not known: the run ends where it was last heard."""
    (event,) = heard((0, 1), (30, 1), (30 + LOST_S + 1, 0))

    assert (event.start_s, event.end_s) == (0, 30)
    assert event.facts["cut"]


def test_not_available_is_neither_on_nor_off() -> None:
    assert spans(heard((0, 1), (1, NAN), (2, 0), (5, NAN))) == [(0, 2)]


def test_the_run_under_way_is_timed_until_its_signal_is_lost() -> None:
    runs = PumpRuns(PUMP)
    assert runs.running_for_s(0) is None

    runs.edge(0, True)
    assert runs.running_for_s(100) == 100
    assert runs.running_for_s(LOST_S + 1) is None

    runs.edge(110, False)
    assert runs.running_for_s(111) == 0.0


@given(st.lists(st.tuples(st.floats(0.02, 50), st.booleans()), max_size=80))
def test_runs_are_in_order_and_apart_whatever_is_heard(steps: list[tuple[float, bool]]) -> None:
    runs, at_s, events = PumpRuns(PUMP), 0.0, []
    for gap_s, running in steps:
        at_s += gap_s
        event = runs.edge(at_s, running)
        events += [event] if event else []

    ends = [event.end_s or 0.0 for event in events]
    assert all(event.start_s < end for event, end in zip(events, ends, strict=True))
    assert all(end + BOUNCE_S <= later.start_s + 1e-6 for end, later in zip(ends, events[1:], strict=False))


def test_a_refill_takes_at_first_what_the_settings_promise() -> None:
    """By hand: 0.3367 L (Boyle) at 12 L/min: 1.684 s."""
    assert RefillTime(PUMP).seconds == pytest.approx(1.684, abs=0.001)


def test_lone_runs_that_crowd_below_the_promise_teach_the_refill_time() -> None:
    """An accumulator that has lost air: every lone run lasts 1.3 s, within the switch's 3 %."""
    refill = RefillTime(PUMP)

    for n in range(20):
        refill.add(1.3 * (1 + 0.03 * ((n % 3) - 1)))

    assert refill.learned
    assert refill.seconds == pytest.approx(1.3, rel=0.02)


@pytest.mark.parametrize("shape", ["spread", "longer", "few"])
def test_runs_that_are_no_refills_teach_nothing(shape: str) -> None:
    """Draws are spread out; a flush of a fixed volume is longer; a handful says nothing."""
    refill = RefillTime(PUMP)
    seconds = {
        "spread": [1.7 + 0.1 * n for n in range(16)] * 2,
        "longer": [2.2 + 0.01 * (n % 3) for n in range(40)],
        "few": [1.3] * 8,
    }

    for run_s in seconds[shape]:
        refill.add(run_s)

    assert not refill.learned
    assert refill.seconds == refill.promised_s


def test_what_was_learned_outlives_a_restart() -> None:
    refill, again = RefillTime(PUMP), RefillTime(PUMP)
    for _ in range(20):
        refill.add(1.4)

    again.restore(refill.state())

    assert again.learned
    assert again.seconds == refill.seconds
