"""Nights by the ship's clock against the published changes of the clock (tz database: Europe/Madrid goes to
summer time at 01:00 UTC on 29 March 2026 and back at 01:00 UTC on 25 October 2026)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.clock import Interval
from monitor.estimation.ships_nights import by_the_clock

MADRID = ZoneInfo("Europe/Madrid")


def utc_s(year: int, month: int, day: int, hour: int) -> float:
    return datetime(year, month, day, hour, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("day", "hours"),
    [((2026, 3, 27), 12), ((2026, 3, 28), 11), ((2026, 10, 24), 13), ((2026, 10, 25), 12)],
)
def test_the_night_of_a_change_is_an_hour_shorter_or_longer(day: tuple[int, int, int], hours: int) -> None:
    evening_s = utc_s(*day, 20)

    found = list(by_the_clock(20, 8, MADRID, Interval(evening_s, evening_s + 3600)))

    assert len(found) == 1
    assert (found[0][1] - found[0][0]) / 3600 == hours


def test_nights_follow_one_another() -> None:
    week = Interval(utc_s(2026, 11, 1, 12), utc_s(2026, 11, 8, 12))

    found = list(by_the_clock(20, 8, UTC, week))

    assert len(found) == 7
    assert found[0] == (utc_s(2026, 11, 1, 20), utc_s(2026, 11, 2, 8))


def test_a_watch_that_begins_after_midnight() -> None:
    found = list(by_the_clock(0, 6, UTC, Interval(utc_s(2026, 11, 1, 1), utc_s(2026, 11, 1, 2))))

    assert found == [(utc_s(2026, 11, 1, 0), utc_s(2026, 11, 1, 6))]
