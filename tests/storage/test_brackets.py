"""Boots that were never placed: the truth lies inside their brackets, in its order.

The authority is the timeline that each test makes up: it knows when every row was really written.
"""

import contextlib
import sqlite3
import tempfile
from itertools import accumulate, pairwise
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from monitor.clock import HOUR_S, MINUTE_S, Anchor
from monitor.records import Event, EventKind
from monitor.storage.brackets import Bracket, Lived, bracketed
from monitor.storage.history import History
from monitor.storage.writer import Writer
from tests.storage.minutes import NOON_S, minute


def test_neighbours_bound_and_lengths_narrow() -> None:
    # By hand: after 1000 and before 2000, lengths 100, 200, 300. The second cannot begin before
    # 1000 + 100, the third not before 1000 + 100 + 200; the second must leave 300 before 2000.
    boots = [Lived(1, 50, 950, 1000), Lived(2, 100), Lived(3, 200), Lived(4, 300), Lived(5, 9, 2000, 2009)]

    assert bracketed(boots) == [
        Bracket(2, 1000, 1500, 100),
        Bracket(3, 1100, 1700, 200),
        Bracket(4, 1300, 2000, 300),
    ]


def test_one_neighbour_bounds_one_side_and_none_bounds_nothing() -> None:
    placed = Lived(9, 50, 950, 1000)

    assert bracketed([Lived(1, 10), Lived(2, 20), placed]) == [
        Bracket(1, None, 930, 10),
        Bracket(2, None, 950, 20),
    ]
    assert bracketed([placed, Lived(10, 10), Lived(11, 20)]) == [
        Bracket(10, 1000, None, 10),
        Bracket(11, 1010, None, 20),
    ]
    assert bracketed([Lived(1, 10)]) == [Bracket(1, None, None, 10)]
    assert bracketed([placed]) == []


def test_neighbours_that_leave_no_room_bound_nothing() -> None:
    # A crew's date of the wrong year: boot 1 would end after boot 3 begins.
    assert bracketed([Lived(1, 5, 8000, 8005), Lived(2, 10), Lived(3, 5, 100, 105)]) == [
        Bracket(2, None, None, 10)
    ]


class Life(NamedTuple):
    """A boot as it was: how long the computer was off before, its rows, whether it learned the time."""

    off_s: int
    first_s: int
    minutes: int
    placed: bool
    late_s: int = 0
    """How much of its ends the stored rows do not tell."""


LIVES = some.lists(
    some.builds(
        Life,
        some.integers(0, 10**6),
        some.integers(0, 10**5),
        some.integers(1, 10_000),
        some.booleans(),
        some.integers(0, 59),
    ),
    min_size=1,
    max_size=12,
)


def holds(found: list[Bracket], lives: list[Life], first_utc_s: list[float], last_utc_s: list[float]) -> None:
    """Every unplaced boot has its bracket; the truth is inside; the order is the boots'."""
    pending = [number for number, life in enumerate(lives, 1) if not life.placed]
    assert [bracket.boot for bracket in found] == pending
    placed = [number for number, life in enumerate(lives, 1) if life.placed]
    for bracket in found:
        at = bracket.boot - 1
        assert (bracket.earliest_utc_s is None) == (not placed or placed[0] > bracket.boot)
        assert (bracket.latest_utc_s is None) == (not placed or placed[-1] < bracket.boot)
        if bracket.earliest_utc_s is not None:
            assert bracket.earliest_utc_s <= first_utc_s[at]
        if bracket.latest_utc_s is not None:
            assert bracket.latest_utc_s >= last_utc_s[at]
        assert 0 <= bracket.seconds <= last_utc_s[at] - first_utc_s[at]
    for before, after in pairwise(found):
        for one, two in (
            (before.earliest_utc_s, after.earliest_utc_s),
            (before.latest_utc_s, after.latest_utc_s),
        ):
            assert one is None or two is None or one <= two


@given(LIVES)
def test_the_truth_lies_inside_whatever_happened(lives: list[Life]) -> None:
    ends = list(accumulate(life.off_s + life.minutes * MINUTE_S for life in lives))
    starts = [end - life.minutes * MINUTE_S for end, life in zip(ends, lives, strict=True)]
    told = []
    for number, (life, start, end) in enumerate(zip(lives, starts, ends, strict=True), 1):
        first, last = start + life.late_s, end - life.late_s
        seconds = max(0, last - first)
        told.append(Lived(number, seconds, first, last) if life.placed else Lived(number, seconds))

    found = bracketed(told)

    holds(found, lives, list(map(float, starts)), list(map(float, ends)))


def written(path: Path, lives: list[Life]) -> tuple[list[float], list[float]]:
    """A store in which these lives were lived; the true UTC of each one's first and last row."""
    store = Writer(path, patient=True)
    store.open()
    first_utc_s, last_utc_s = [], []
    now_s = NOON_S
    for number, life in enumerate(lives, 1):
        boot = store.begin_boot(f"life {number}")
        began_s = now_s + life.off_s
        first = life.first_s // MINUTE_S
        for index in range(first, first + life.minutes):
            store.minute(minute(boot, index, {"house current": lambda t: 1.0}, every_s=20))
        store.event(Event(EventKind.NIGHT, "boat", boot, -50_000.0, first * 60.0))
        if life.placed:
            # The clock is learned at the end; the anchor is exact.
            at_s = (first + life.minutes - 1) * 60.0 + 30.0
            store.anchor(boot, Anchor(at_s, began_s + at_s - first * 60.0, "bus", 0.0))
        first_utc_s.append(began_s)
        last_utc_s.append(now_s := began_s + life.minutes * 60.0 - 20.0)
    store.close()
    return first_utc_s, last_utc_s


SHORT_LIVES = some.lists(
    some.builds(
        Life, some.integers(0, 10**6), some.integers(0, 10**5), some.integers(1, 150), some.booleans()
    ),
    min_size=2,
    max_size=5,
)


@settings(max_examples=15)
@given(SHORT_LIVES)
def test_the_truth_lies_inside_what_the_store_tells(lives: list[Life]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "boat.db"
        first_utc_s, last_utc_s = written(path, lives)
        with contextlib.closing(History(path)) as history:
            found = history.brackets()

    holds(found, lives, first_utc_s, last_utc_s)
    for bracket in found:
        # The rows tell the length to the two minutes at their ends.
        length_s = last_utc_s[bracket.boot - 1] - first_utc_s[bracket.boot - 1]
        assert bracket.seconds >= length_s - 2 * MINUTE_S


@pytest.fixture
def three_lives(tmp_path: Path) -> Path:
    """Three hours placed, three not, three placed; an hour off between them."""
    written(tmp_path / "boat.db", [Life(HOUR_S, 0, 180, at != 1) for at in range(3)])
    return tmp_path / "boat.db"


def test_bounds_are_good_to_the_minute(three_lives: Path) -> None:
    with contextlib.closing(History(three_lives)) as history:
        (bracket,) = history.brackets()

    # By hand: boot 1 lives from 1 h to 4 h, boot 3 from 9 h less the 2 x 20 s that rows end early.
    assert bracket.earliest_utc_s == pytest.approx(NOON_S + 4 * HOUR_S, abs=60)
    assert bracket.latest_utc_s == pytest.approx(NOON_S + 9 * HOUR_S - 40, abs=60)
    assert bracket.seconds == pytest.approx(3 * HOUR_S, abs=120)


def test_where_minutes_are_no_longer_kept_hours_bound_more_widely(three_lives: Path) -> None:
    with contextlib.closing(sqlite3.connect(three_lives)) as connection:
        connection.execute("DELETE FROM minutes")
        connection.execute("DELETE FROM chunks")
        connection.execute("DELETE FROM hot")
        connection.execute("DELETE FROM anchors WHERE boot = 1")
        connection.execute("INSERT INTO anchors VALUES (1, 1800.0, ?, 'bus', 0.0)", (NOON_S + 5400.0,))
        connection.commit()

    with contextlib.closing(History(three_lives)) as history:
        (bracket,) = history.brackets()

    # Boot 1 has rows in its hours 0 to 2: it was alive 2 h after it began, at 3 h.
    assert bracket.earliest_utc_s == NOON_S + 3 * HOUR_S
    assert bracket.seconds == HOUR_S


def test_when_the_time_comes_the_bracket_goes(three_lives: Path) -> None:
    store = Writer(three_lives)
    store.open()
    store.anchor(2, Anchor(0.0, NOON_S + 5 * HOUR_S, "crew", 60.0))
    store.close()

    with contextlib.closing(History(three_lives)) as history:
        assert history.brackets() == []
