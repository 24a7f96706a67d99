"""The one time axis: past, now to noon, ten days, each on its own scale."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import DAY_S
from monitor.records import Course
from web.drawing.axis import SHORTEST_NEAR_S, ahead_axis, next_noon
from web.drawing.lines import area, at, path, thinned

MADRID = ZoneInfo("Europe/Madrid")
MOMENTS = st.floats(1_700_000_000, 1_900_000_000)


def test_noon_is_the_ships_noon_across_the_change_of_clocks() -> None:
    """The tz database: noon of 25 Oct 2026 in Spain is 11:00 UTC, the day before it is 10:00 UTC."""
    noon_s = next_noon(datetime(2026, 10, 24, 20, tzinfo=UTC).timestamp(), MADRID)
    assert datetime.fromtimestamp(noon_s, UTC) == datetime(2026, 10, 25, 11, tzinfo=UTC)
    noon_s = next_noon(datetime(2026, 10, 24, 1, tzinfo=UTC).timestamp(), MADRID)
    assert datetime.fromtimestamp(noon_s, UTC) == datetime(2026, 10, 24, 10, tzinfo=UTC)


@given(MOMENTS)
def test_the_near_part_always_holds_some_hours(now_s: float) -> None:
    """Never a sliver, never more than a day and those hours (25 h where clocks go back)."""
    assert SHORTEST_NEAR_S <= next_noon(now_s, MADRID) - now_s <= SHORTEST_NEAR_S + 25 * 3600


@given(MOMENTS, st.lists(st.floats(-1, 11), min_size=2, max_size=8))
def test_later_is_never_drawn_to_the_left(now_s: float, in_days: list[float]) -> None:
    axis = ahead_axis(now_s, MADRID)
    drawn = [axis.x(now_s + d * DAY_S) for d in sorted(in_days)]
    assert drawn == sorted(drawn)
    assert all(0 <= x <= 1 for x in drawn)


@given(MOMENTS)
def test_a_third_of_what_lies_ahead_is_the_time_to_noon(now_s: float) -> None:
    """And the axis ends ten days from now."""
    axis = ahead_axis(now_s, MADRID)
    assert abs((axis.seam_x - axis.now_x) / (1 - axis.now_x) - 1 / 3) < 0.01
    assert axis.x(now_s + 10 * DAY_S) == 1
    assert axis.x(now_s + 9.9 * DAY_S) < 1


@given(MOMENTS)
def test_days_after_the_seam_are_named_once_and_in_order(now_s: float) -> None:
    """Eight to ten days in the order of the week."""
    week = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    names = [tick.label for tick in ahead_axis(now_s, MADRID).days()]
    assert 7 <= len(names) <= 10
    start = week.index(names[0])
    assert names == [week[(start + n) % 7] for n in range(len(names))]


def test_a_course_is_read_straight_between_its_points() -> None:
    """Half way between 10 and 20 is 15, by hand; outside it nothing is known."""
    course = Course((0.0, 10.0), (8.0, 18.0), (10.0, 20.0), (12.0, 22.0))
    assert at(course, 5.0) == (13.0, 15.0, 17.0)
    assert at(course, 0.0) == (8.0, 10.0, 12.0)
    assert at(course, 10.1) is None
    assert at(Course((), (), (), ()), 1.0) is None


def test_a_lifted_pen_begins_a_new_line() -> None:
    """SVG 2, path data: M moves, L draws."""
    assert path([(0, 0), (0.5, 1), None, (0.75, 0.25)]) == "M0 0L.5 1M.75 .25"
    assert area([(0, 0), (1, 0)], [(0, 1), (1, 1)]) == "M0 0L1 0L1 1L0 1Z"


@given(st.lists(st.floats(0, 1), min_size=1, max_size=400))
def test_thinning_keeps_both_ends(xs: list[float]) -> None:
    points = [(x, 0.5) for x in sorted(xs)]
    kept = thinned(points)
    assert kept[0] == points[0]
    assert kept[-1] == points[-1]
    assert len(kept) <= 252
