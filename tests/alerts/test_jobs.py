"""Jobs aboard: what they hold back, what they never do, and that each has an end."""

import pytest

from monitor.alerts.book import AlertBook
from monitor.alerts.jobs import JOBS, Jobs, Kind, excused
from monitor.alerts.rules import RULES
from monitor.errors import CommandError
from monitor.records import Severity
from tests.alerts.logbook import finding, one

WASHING = ("pump running on", "it")


def test_washing_down_explains_a_pump_that_runs_on() -> None:
    book, jobs, pump = AlertBook(), Jobs(), [finding("pump running on", "holds")]
    jobs.begin("washing down", None, 1, 0.0)

    held_back = excused(jobs.at(1, 0.0), pump)

    assert held_back[WASHING].facts == {"job": "washing down"}
    assert book.step(1, 0.0, pump, held_back) == []


def test_an_alert_that_is_open_is_explained_and_calls_again_when_the_job_is_over() -> None:
    book, jobs, pump = AlertBook(), Jobs(), [finding("pump running on", "holds")]
    began = one(book.step(1, 0.0, pump))
    jobs.begin("washing down", 1800, 1, 5.0)

    explained = one(book.step(1, 15.0, pump, excused(jobs.at(1, 15.0), pump)))
    over = [
        c
        for at_s in range(30, 1840, 15)
        for c in book.step(1, float(at_s), pump, excused(jobs.at(1, float(at_s)), pump))
    ]

    assert (explained.alert, explained.state) == (began.alert, "suppressed")
    assert [(c.what, c.state, c.at_s) for c in over] == [("released", "active", 1815.0)]


def test_no_job_holds_an_alarm_back() -> None:
    """A hose that bursts while the deck is washed is told."""
    jobs, alarm = Jobs(), [finding("pump running on", "holds", severity=Severity.ALARM)]
    for name in JOBS:
        jobs.begin(name, None, 1, 0.0)

    assert excused(jobs.at(1, 0.0), alarm) == {}


@pytest.mark.parametrize("job", JOBS.values(), ids=lambda job: job.name)
def test_what_a_job_explains_is_a_rule_and_no_alarm_by_itself(job: Kind) -> None:
    for rule in JOBS[job.name].explains:
        assert RULES[rule].severity is not Severity.ALARM


def test_a_job_comes_to_an_end_by_itself() -> None:
    jobs = Jobs()
    assert jobs.begin("engine work", None, 1, 100.0) == 100.0 + 4 * 3600

    assert [job.name for job in jobs.at(1, 100.0 + 4 * 3600 - 1)] == ["engine work"]
    assert jobs.at(1, 100.0 + 4 * 3600) == ()


def test_no_job_outlives_the_boot_but_each_outlives_a_restart_within_it() -> None:
    jobs, same, other = Jobs(), Jobs(), Jobs()
    jobs.begin("equalising", None, 7, 0.0)
    same.restore(jobs.state())
    other.restore(jobs.state())

    assert [job.name for job in same.at(7, 60.0)] == ["equalising"]
    assert other.at(8, 60.0) == ()


@pytest.mark.parametrize(
    ("name", "for_s", "expected"),
    [("sailing", None, "expected one of"), ("filling", 10.0, "5 minutes"), ("filling", 1e6, "12 hours")],
)
def test_what_cannot_be_is_refused_with_what_was_expected(
    name: str, for_s: float | None, expected: str
) -> None:
    with pytest.raises(CommandError, match=expected):
        Jobs().begin(name, for_s, 1, 0.0)


def test_only_what_is_under_way_can_be_ended() -> None:
    with pytest.raises(CommandError, match="not under way"):
        Jobs().over("filling")
