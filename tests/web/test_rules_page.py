"""The rules: the whole table, one rule, a change looked at before it is put in force, and never otherwise."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pytest
from fastapi.testclient import TestClient

from monitor.alerts.limits import LIMITS
from monitor.alerts.rules import RULES
from monitor.clock import Interval
from monitor.errors import WorkerError
from monitor.records import Command, RuleChange, RuleState
from tests.web import canned_alerts
from tests.web.canned import CannedWatch, canned
from tests.web.conftest import PHONE, ClientOf, Opened
from tests.web.test_pages import Words, text_of
from web.presentation.rules import ITSELF, SUPPLIES, WATER

OWN = {"Origin": "http://127.0.0.1:8080"}
LOW = "/rules/low%20voltage"


@pytest.fixture
def watch() -> CannedWatch:
    return canned("calm")


@pytest.fixture
def aboard(watch: CannedWatch, client_of: ClientOf) -> TestClient:
    return client_of(watch)


def test_every_rule_stands_in_the_table_once(aboard: TestClient) -> None:
    html = aboard.get("/rules").text
    found = re.findall(r'href="/rules/([^"?]+)"', html)
    assert sorted(found) == sorted(rule.replace(" ", "%20") for rule in RULES)
    assert set(WATER + SUPPLIES + ITSELF) < set(RULES)


def test_a_row_tells_grade_delays_limit_state_and_who_changed_it(aboard: TestClient) -> None:
    """Of the low charge: 35 %, 45 % when sailing, as the crew set it; a warning after five minutes."""
    text = text_of(aboard, "/rules")
    row = text[text.index("Charge low Warning") : text.index("Charge not vouched for")]
    assert "changed by the settings, the crew" in row
    assert "house 35 %, sailing 45 %" in row
    assert "5 min, over after 30 min" in row
    assert "4 h house: calm" in row
    assert "If not: The reserve is used next, and then the battery cuts off." in row


def test_what_a_rule_can_be_moved_to_is_said(aboard: TestClient) -> None:
    """Four LFP cells: 2.7 to 3.25 V each (monitor.alerts.limits) are 10.8 to 13 V."""
    text = text_of(aboard, f"{LOW}?subject=house")
    assert "It can be moved from 10.8 to 13 V." in text
    assert "Told below V" in text
    assert "Put in force" not in text


def test_a_change_is_looked_at_first(aboard: TestClient, watch: CannedWatch) -> None:
    """At 12.2 V the deep nights would have sounded, one in nine (`swing`); at 12 V as it stands none is
    seen. Nothing is asked of the watch by looking."""
    answer = aboard.get(f"{LOW}?subject=house&limit=12.2")
    text = Words(answer.text).text
    assert "As it stands: " in text
    assert "As proposed: " in text
    assert "now 12 V" in text
    assert "proposed 12.2 V" in text
    rows = re.findall(r'aria-label="(as [^"]+): open (\d+) times"', answer.text)
    assert rows[0] == ("as it stands", "0")
    assert rows[1][0] == "as proposed"
    assert 20 <= int(rows[1][1]) <= 24
    assert "Put in force" in text
    assert watch.asked == []


def test_it_is_put_in_force_by_the_watch(aboard: TestClient, watch: CannedWatch) -> None:
    form = {"subject": "house", "limit": "12.2", "when sailing": "12,4"}
    answer = aboard.post(LOW, data=form, headers=OWN)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/rules/low%20voltage?subject=house"
    facts = {"rule": "low voltage", "limit": 12.2, "when": {"sailing": 12.4}}
    assert watch.asked == [Command("rule", "house", facts)]


def test_what_would_sound_for_ever_is_refused_whatever_was_shown(
    aboard: TestClient, watch: CannedWatch
) -> None:
    """At 13 V the bank stands below the limit all day. The page has no button, and a form that is posted all
    the same is answered by the preview reckoned anew."""
    page = aboard.get(f"{LOW}?subject=house&limit=13")
    assert "It is not put in force." in Words(page.text).text
    assert "Put in force" not in Words(page.text).text
    answer = aboard.post(LOW, data={"subject": "house", "limit": "13"}, headers=OWN)
    assert answer.status_code == 409
    assert "would have sounded for ever" in Words(answer.text).text
    assert watch.asked == []


def test_delays_and_waking_are_a_rules_whatever_it_is_about(aboard: TestClient, watch: CannedWatch) -> None:
    """Times are typed as people write them: 1 h 30 min are 5,400 s."""
    form = {"on_delay": "1 h 30 min", "off_delay": "30 min", "wakes": "yes"}
    assert aboard.post("/rules/low%20charge", data=form, headers=OWN).status_code == 303
    facts = {"rule": "low charge", "on_delay_s": 5400.0, "wakes": True}
    assert watch.asked == [Command("rule", "", facts)]
    refused = aboard.post("/rules/low%20charge", data={"subject": "house", **form}, headers=OWN)
    assert refused.status_code == 409


def test_the_delay_of_a_rule_with_a_limit_for_each_bank_can_be_moved(
    aboard: TestClient, watch: CannedWatch
) -> None:
    """It names no bank: the delay is the rule's."""
    assert aboard.post(LOW, data={"on_delay": "2 min"}, headers=OWN).status_code == 303
    assert watch.asked == [Command("rule", "", {"rule": "low voltage", "on_delay_s": 120.0})]


@pytest.mark.parametrize(
    ("query", "why"),
    [
        ("subject=house&limit=99", "expected 10.8 to 13 V, got 99"),
        ("subject=house&limit=<b>", "limit: expected a number, got '<b>'"),
        ("subject=house&limit=nan", "limit: expected a number, got 'nan'"),
        ("on_delay=soon", "on_delay: expected a time like 30 s, 5 min or 1 h 30 min, got 'soon'"),
        ("on_delay=1 h", "contradicts the time to respond"),
        ("on_delay=1 min", "nothing of the rule would change"),
        ("limit=12.2", "is no bank"),
        ("subject=house&limit=" + "1" * 60, "expected at most 40 characters, got 60"),
    ],
)
def test_what_cannot_be_is_said_beside_the_form(
    query: str, why: str, aboard: TestClient, watch: CannedWatch
) -> None:
    answer = aboard.get(f"{LOW}?{query}")
    assert answer.status_code == 422
    assert why in Words(answer.text).text
    assert "Put in force" not in answer.text
    subject = dict(part.split("=", 1) for part in query.split("&"))
    assert aboard.post(LOW, data=subject, headers=OWN).status_code == 409
    assert watch.asked == []


def test_a_rule_without_a_limit_has_none_to_move(aboard: TestClient, watch: CannedWatch) -> None:
    assert "burst" not in LIMITS
    assert 'name="limit"' not in aboard.get("/rules/burst").text
    assert aboard.post("/rules/burst", data={"limit": "3"}, headers=OWN).status_code == 409
    assert watch.asked == []


def test_what_the_crew_changed_can_be_taken_back(aboard: TestClient, watch: CannedWatch) -> None:
    text = text_of(aboard, "/rules/low%20charge")
    assert "By the crew (house): limit 35 %, sailing 45 %. As it was" in text
    answer = aboard.post("/rules/low%20charge/reset", data={"subject": "house"}, headers=OWN)
    assert answer.status_code == 303
    assert watch.asked == [Command("rule reset", "house", {"rule": "low charge"})]


def test_a_rule_there_is_not_is_not_found(aboard: TestClient, watch: CannedWatch) -> None:
    for path in ("/rules/no%20such", f"{LOW}?subject=bilge"):
        assert aboard.get(path).status_code == 404
    assert aboard.post("/rules/no%20such", data={"limit": "1"}, headers=OWN).status_code == 404
    assert aboard.post("/rules/no%20such/reset", headers=OWN).status_code == 404


def test_names_are_shown_and_never_obeyed(aboard: TestClient) -> None:
    for path in ("/rules", "/rules/instrument%20silent"):
        html = aboard.get(path).text
        assert "<b onclick" not in html
        assert canned_alerts.HTML in Words(html).text


@dataclass
class Busy(CannedWatch):
    """Its worker does something else."""

    def previews(
        self, change: RuleChange | None, during: Interval, rule: str = ""
    ) -> Sequence[canned_alerts.CannedPreview]:
        raise WorkerError("the worker is busy: try again in a minute")


def test_what_cannot_be_looked_at_is_not_put_in_force(watch: CannedWatch, client_of: ClientOf) -> None:
    busy = Busy(watch.snapshot, watch.settings)
    client = client_of(busy)
    looked = client.get(f"{LOW}?subject=house&limit=12.2")
    forced = client.post(LOW, data={"subject": "house", "limit": "12.2"}, headers=OWN)
    assert (looked.status_code, forced.status_code) == (422, 409)
    for answer in (looked, forced):
        assert "the worker is busy: try again in a minute" in Words(answer.text).text
    assert busy.asked == []


def test_without_a_clock_no_rule_is_changed_unseen(watch: CannedWatch, client_of: ClientOf) -> None:
    watch.snapshot = replace(watch.snapshot, utc_s=None)
    client = client_of(watch)
    answer = client.post(LOW, data={"subject": "house", "limit": "12.2"}, headers=OWN)
    assert answer.status_code == 409
    assert "the time is not known" in Words(answer.text).text
    assert watch.asked == []


def test_many_subjects_are_counted(watch: CannedWatch, client_of: ClientOf) -> None:
    states = tuple(RuleState("instrument silent", f"thing {n}", "normal") for n in range(40))
    watch.snapshot = replace(watch.snapshot, calls=replace(watch.snapshot.calls, rules=states))
    assert "40 calm" in text_of(client_of(watch), "/rules")


@pytest.mark.parametrize("script", [True, False], ids=["with JavaScript", "without"])
def test_a_limit_is_moved_by_form(script: bool, opened: Opened, watch: CannedWatch) -> None:
    """From the table to the rule, looked at, and put in force."""
    page = opened("/rules", PHONE, script=script)
    page.get_by_role("link", name="Voltage low", exact=True).click()
    page.get_by_role("link", name="house", exact=True).click()
    page.get_by_label("Told below").fill("12.2")
    page.get_by_role("button", name="See what it would have done").click()
    page.get_by_role("button", name="Put in force").click()
    page.wait_for_url("**/rules/low%20voltage?subject=house")
    assert watch.asked == [Command("rule", "house", {"rule": "low voltage", "limit": 12.2})]
