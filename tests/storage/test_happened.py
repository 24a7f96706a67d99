"""Events by a span of UTC: the right ones, whatever their clocks did, and hardly any other is read."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S, Anchor, Interval
from monitor.records import Event, EventKind
from monitor.storage.database import open_store
from monitor.storage.happened import near
from monitor.storage.history import Dated, History
from monitor.storage.writer import Writer
from tests.storage.minutes import NOON_S

KINDS = (EventKind.PUMP_RUN, EventKind.NIGHT, EventKind.NOTE)
ANCHORS = {
    1: [Anchor(0.0, NOON_S, "a test", 0.1)],
    # Set back by half an hour within a minute: there UTC runs against the boot's own time.
    2: [Anchor(1000.0, NOON_S + DAY_S, "a test", 0.1), Anchor(1060.0, NOON_S + DAY_S - 1740, "a test", 0.1)],
    3: [],
}
# By hand: straight between the anchors, as far ahead as the nearest one before and after them.
UTC: dict[int, Callable[[float], float]] = {
    1: lambda at_s: NOON_S + at_s,
    2: lambda at_s: NOON_S + DAY_S - 1000 + at_s - 1800 * min(1.0, max(0.0, (at_s - 1000) / 60)),
}


@pytest.fixture(scope="module")
def told() -> list[Event]:
    """Of every kind, three boots and all lengths: none, seconds, just an hour, days, and one not over."""
    rng = np.random.default_rng(11)
    found = []
    for n in range(900):
        start_s = round(float(rng.choice([rng.uniform(0, 2000), rng.uniform(0, 3 * DAY_S)])), 2)
        length_s = rng.choice([0.0, rng.exponential(20), HOUR_S, HOUR_S + 0.5, rng.exponential(DAY_S)])
        event = Event(KINDS[n % 3], f"number {n}", 1 + n // 300, start_s, start_s + float(length_s), {"n": n})
        found.append(event if n % 5 else replace(event, end_s=None))
    return found


@pytest.fixture(scope="module")
def path(told: list[Event], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("events") / "boat.db"
    writer = Writer(path, patient=True)
    writer.open()
    for number, anchors in ANCHORS.items():
        assert writer.begin_boot(f"kernel {number}") == number
        for anchor in anchors:
            writer.anchor(number, anchor)
    for event in told:
        writer.event(event)
    writer.close()
    return path


def touching(told: list[Event], kind: EventKind | None, during: Interval) -> list[Event]:
    def touches(event: Event) -> bool:
        if event.boot not in UTC:
            return True
        start_s = UTC[event.boot](event.start_s)
        last_s = start_s if event.end_s is None else UTC[event.boot](event.end_s)
        return start_s < during.end_s and last_s >= during.start_s

    wanted = [e for e in told if (kind is None or e.kind is kind) and touches(e)]
    return sorted(wanted, key=lambda e: (e.boot, e.start_s))


@pytest.mark.parametrize("kind", [None, *KINDS])
def test_all_that_touch_a_span_are_found_and_no_other(
    path: Path, told: list[Event], kind: EventKind | None
) -> None:
    history = History(path)
    rng = np.random.default_rng(12)
    spans = [Interval(-np.inf, np.inf), Interval(NOON_S + DAY_S - 60, NOON_S + DAY_S)]
    for start_s in (NOON_S + rng.uniform(-HOUR_S, 4 * DAY_S, 40)).tolist():
        spans.append(Interval(start_s, start_s + rng.exponential(HOUR_S)))

    counts = set()
    for during in spans:
        found = [dated.event for dated in history.events(kind, during)]
        assert found == touching(told, kind, during)
        counts.add(sum(event.boot < 3 for event in found))
    history.close()

    assert len(counts) > 10


def test_events_of_a_boot_of_which_nothing_else_is_known_are_kept(path: Path) -> None:
    """As after a damage that took the table of boots."""
    event = Event(EventKind.NOTE, "boat", 7, 5.0, None, {})
    writer = Writer(path.with_name("other.db"))
    writer.open()
    writer.begin_boot("a kernel")
    writer.event(event)
    writer.close()

    assert History(path.with_name("other.db")).events(None, Interval(0.0, 1.0)) == [Dated(event, None, None)]


@pytest.mark.parametrize("day", [1, 40, 79])
def test_a_day_is_found_without_reading_the_rest(tmp_path: Path, day: int) -> None:
    """Counted in the steps of SQLite's own machine; a day is an eightieth of what is there."""
    writer = Writer(tmp_path / "boat.db", patient=True)
    writer.open()
    boot = writer.begin_boot("a kernel")
    writer.anchor(boot, Anchor(0.0, NOON_S, "a test", 0.1))
    for n in range(80 * 50):
        start_s = n * DAY_S / 50
        writer.event(Event(EventKind.PUMP_RUN, "fresh water", boot, start_s, start_s + 9.0, {}))
        if n % 50 == 0:
            writer.event(Event(EventKind.NIGHT, "boat", boot, start_s, start_s + DAY_S / 2, {}))
    writer.close()
    history = History(tmp_path / "boat.db")
    places = {boot.number: boot for boot in history.boots()}
    history.close()
    connection = open_store(tmp_path / "boat.db")
    steps = [0]

    def step() -> int:
        steps[0] += 10
        return 0

    def reading(during: Interval) -> tuple[int, int]:
        steps[0] = 0
        rows = len(list(near(connection, places, EventKind.PUMP_RUN, during)))
        return rows, steps[0]

    connection.set_progress_handler(step, 10)
    rows, all_steps = reading(Interval(NOON_S, NOON_S + 80 * DAY_S))
    some, day_steps = reading(Interval(NOON_S + day * DAY_S, NOON_S + (day + 1) * DAY_S))
    connection.close()

    assert rows == 4000
    assert 50 <= some <= 55
    # The one-in-fifty long events are looked at by their end, all that came after the day.
    assert day_steps < all_steps / 20
