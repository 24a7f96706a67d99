"""The month in alerts: counts by hand from `canned_alerts.a_month`, reasons, and what the crew says."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from monitor.clock import DAY_S, Interval
from monitor.errors import StorageError
from monitor.pipeline.preview import Preview, previews_of
from monitor.records import AlertChange, Command, Reason, RuleChange, Severity
from tests.alerts.boat import SETTINGS
from tests.pipeline.test_preview import SPAN, stored
from tests.web import canned_alerts
from tests.web.canned import AT_S, NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import PHONE, ClientOf, Opened
from tests.web.test_pages import Words, text_of
from web.presentation.figures import reader_of
from web.presentation.month import look_for

OWN = {"Origin": "http://127.0.0.1:8080"}


@pytest.fixture
def watch() -> CannedWatch:
    return canned("calm")


@pytest.fixture
def aboard(watch: CannedWatch, client_of: ClientOf) -> TestClient:
    return client_of(watch)


def test_the_month_is_counted(aboard: TestClient) -> None:
    """14 runs and 3 low charges were heard, 2 cautions were not; the first began 26.4 days ago: 17 in so many
    nights are 64 in a hundred."""
    text = text_of(aboard, "/alerts/month")
    assert (
        "19 alerts in thirty days, heard 17 times: 64 in a hundred nights."
        " Of 3 that were judged 2 were false." in text
    )


def test_what_called_in_vain_stands_first_with_its_reason(aboard: TestClient) -> None:
    """The pump's runs went by themselves, and nobody did anything; two of three low charges were false.
    What never sounded and was never false is not among them."""
    text = text_of(aboard, "/alerts/month")
    pump = text.index("Pump running on 14 times in the month, heard 14 times: 53 in a hundred nights.")
    charge = text.index("Charge low 3 times in the month, heard 3 times: 11 in a hundred nights.")
    assert pump < charge < text.index("Each of them")
    assert "Nobody ever acted on it, 14 times." in text
    assert "You called 2 of 3 false." in text
    assert "Clock not confirmed" not in text[: text.index("Each of them")]


def test_each_is_told_with_what_became_of_it(aboard: TestClient) -> None:
    """0.4 days before Wed 15:21 is 05:45."""
    text = text_of(aboard, "/alerts/month")
    assert "Warning: Pump running on (pressure pump) Wed 25 Nov, 05:45, lasted 4 min. Seen by nobody." in text
    assert f"Caution: Clock not confirmed ({canned_alerts.HTML})" in text
    assert "<b onclick" not in aboard.get("/alerts/month").text


class LowEveryNight(CannedRecord):
    """The house bank's voltage was low on five nights."""

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        told = Reason("alert: low voltage", {"bank": "house", "voltage_V": 12.1, "limit_V": 12.2})
        found: list[tuple[AlertChange, float | None]] = []
        for n in range(5):
            at_s = AT_S - n * DAY_S - 3600
            began = AlertChange(f"low {n}", "low voltage", "house", Severity.ALARM, 1, at_s, "active", told)
            over = replace(began, state="ended", what="ended", at_s=at_s + 1800)
            found += [(began, NOW_S - AT_S + at_s), (over, NOW_S - AT_S + at_s + 1800)]
        return found


def test_a_change_is_looked_for_when_somebody_asks(watch: CannedWatch, client_of: ClientOf) -> None:
    """The crew moved the limit to 12.2 V, under which `swing` falls on every ninth night; it never falls
    under 12.1. A step is the deadband, 0.2 V: with 12 V nothing would have sounded. The link fills it in."""
    changes = (RuleChange("low voltage", "house", 12.2),)
    calls = replace(watch.snapshot.calls, changes=changes)
    watch.snapshot = replace(watch.snapshot, calls=calls)
    watch.record = LowEveryNight()
    client = client_of(watch)
    assert 'href="/alerts/month?rule=low%20voltage"' in client.get("/alerts/month").text
    html = client.get("/alerts/month?rule=low+voltage").text
    assert "With a limit of 12 V it would have sounded 0 times, not" in Words(html).text.replace(
        "\u00a0", " "
    )
    assert 'href="/rules/low%20voltage?subject=house&amp;limit=12#preview"' in html
    assert "Put in force" in client.get("/rules/low%20voltage?subject=house&limit=12").text
    assert watch.asked == []


def test_where_no_change_helps_it_is_said(aboard: TestClient) -> None:
    """Of the pump nothing is recorded here."""
    text = text_of(aboard, "/alerts/month?rule=pump+running+on")
    assert "No small change of it would have called less." in text


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


def test_a_change_is_proposed_by_the_record(tmp_path: Path) -> None:
    """Under the settings' 60 L three dips to 55 L: 0 to 4 h, 10 to 14 h, 20 to 24 h. The limit may go from 0
    to 225 L, so a step is 11.25 L: under 48.75 L it would never have sounded. A longer delay, of at most
    eight times ten minutes, would have helped nothing in dips of four hours."""
    file = stored(tmp_path, {"boat water left": lambda n: 55.0 if n // 60 % 10 < 4 else 80.0})

    class Kept:
        def previews(self, change: RuleChange | None, during: Interval, rule: str = "") -> Sequence[Preview]:
            return previews_of(file, SETTINGS, (), change, during, 2, rule)

    reader = replace(reader_of(canned("calm")), settings=SETTINGS)
    offer = look_for(reader, Kept(), "low water", SPAN)

    assert offer is not None
    assert offer[1] == RuleChange("low water", "water", limit=48.75)
    assert (offer[0].facts["times"], offer[0].facts["instead"]) == (0, 3)
