"""The month in alerts: counts by hand from `canned_alerts.a_month`, reasons, and what the crew says."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import AlertChange, Command
from tests.web import canned_alerts
from tests.web.canned import CannedRecord, CannedWatch, canned
from tests.web.conftest import PHONE, ClientOf, Opened
from tests.web.test_pages import Words, text_of

OWN = {"Origin": "http://127.0.0.1:8080"}


@pytest.fixture
def watch() -> CannedWatch:
    return canned("calm")


@pytest.fixture
def aboard(watch: CannedWatch, client_of: ClientOf) -> TestClient:
    return client_of(watch)


def test_the_month_is_counted(aboard: TestClient) -> None:
    """14 runs and 3 low charges were heard, 17 in 30 nights: 57 in a hundred; 2 cautions were not."""
    text = text_of(aboard, "/alerts/month")
    assert (
        "19 alerts in thirty days, heard 17 times: 57 in a hundred nights."
        " Of 3 that were judged 2 were false." in text
    )


def test_the_worst_stand_first_with_a_reason_and_what_may_be_done(aboard: TestClient) -> None:
    """Four minutes each are short; half as long again is six, under the ten in which it is to be answered.
    Two of three false is more than half."""
    text = text_of(aboard, "/alerts/month")
    pump, charge, clock = (
        text.index(f"{title} {told}")
        for title, told in (
            (
                "Pump running on (pressure pump)",
                "14 times in the month, heard 14 times: 47 in a hundred nights.",
            ),
            ("Charge low (house)", "3 times in the month, heard 3 times: 10 in a hundred nights."),
            (f"Clock not confirmed ({canned_alerts.HTML})", "2 times in the month, without a sound."),
        )
    )
    assert pump < charge < clock
    assert "Half of them lasted less than 4 min. Let it last 6 min before it is told." in text
    assert "Of 3 that were judged 2 were false. Look at its limit and its delays." in text


def test_what_is_proposed_can_be_looked_at(aboard: TestClient) -> None:
    """The link leads to the rule with the change filled in: nothing is put in force by it."""
    html = aboard.get("/alerts/month").text
    assert 'href="/rules/pump%20running%20on?on_delay=6+min#preview"' in html
    answer = aboard.get("/rules/pump%20running%20on?on_delay=6+min")
    assert answer.status_code == 200
    assert 'name="on_delay" value="6 min"' in answer.text


def test_each_can_be_judged(opened: Opened, watch: CannedWatch) -> None:
    """By one touch; what was said before is shown pressed."""
    page = opened("/alerts/month", PHONE)
    assert page.locator(".scores button[aria-pressed]").count() == 3
    page.get_by_role("button", name="It was a false alarm").first.click()
    page.wait_for_url("**/alerts/month")
    page.get_by_role("button", name="It was true").first.click()
    page.wait_for_url("**/alerts/month")
    assert [c.kind for c in watch.asked] == ["score", "score"]
    assert [c.facts for c in watch.asked] == [{"true": False}, {"true": True}]
    assert {c.subject for c in watch.asked} == {"pump running on/pressure pump/0"}


def test_a_score_is_one_of_two(aboard: TestClient, watch: CannedWatch) -> None:
    assert (
        aboard.post("/alerts/score", data={"alert": "a", "true": "perhaps"}, headers=OWN).status_code == 422
    )
    assert aboard.post("/alerts/score", data={"alert": "a", "true": "yes"}, headers=OWN).status_code == 303
    assert watch.asked == [Command("score", "a", {"true": True})]


class Unreadable(CannedRecord):
    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        raise StorageError("gone")


class Quiet(CannedRecord):
    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        return []


def test_nothing_unreadable_and_no_clock_are_said(watch: CannedWatch, client_of: ClientOf) -> None:
    for record, said in (
        (None, "The record cannot be read just now."),
        (Unreadable(), "The record cannot be read just now."),
        (Quiet(), "No alert in thirty days."),
    ):
        client = client_of(CannedWatch(watch.snapshot, watch.settings, record))
        assert said in text_of(client, "/alerts/month")
    watch.snapshot = replace(watch.snapshot, utc_s=None)
    assert "The time is not known" in Words(client_of(watch).get("/alerts/month").text).text
