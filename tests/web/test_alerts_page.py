"""Alerts on every page and on their own: by weight, out of hearing, in a flood, and what can be asked."""

import re
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from monitor.records import Command, Reason, Severity
from tests.web import canned_alerts
from tests.web.canned import CannedWatch, canned
from tests.web.conftest import PHONE, ClientOf, Opened
from tests.web.test_pages import Words, text_of

OWN = {"Origin": "http://127.0.0.1:8080"}


@pytest.fixture
def watch() -> CannedWatch:
    return canned("every alert")


@pytest.fixture
def aboard(watch: CannedWatch, client_of: ClientOf) -> TestClient:
    return client_of(watch)


def test_what_is_out_of_hearing_does_not_stand_among_the_others(aboard: TestClient) -> None:
    """Put aside and explained ones are counted with a link; the rest has a card or a line."""
    html = aboard.get("/").text
    text = Words(html).text
    assert "1 put aside , 2 explained by others" in text
    assert "Caution: Instrument silent" in text
    assert canned_alerts.LONG not in text
    assert html.count('class="alert ') == 7


def test_a_card_says_what_else_is_known_of_an_alert(aboard: TestClient) -> None:
    text = text_of(aboard)
    assert "With it: Charge low, Energy for few days." in text
    assert "Not heard for 12 min: what it rests on is silent." in text
    assert "It comes and goes." in text
    assert "Nobody has seen it for so long that it was sent out a second time." in text
    assert "This alert is not on the card yet." in text
    assert "To be answered within 10 min." in text


def test_what_is_seen_or_gone_is_folded(opened: Opened) -> None:
    """One line each in a fold with its count; each that has gone has its own button."""
    page = opened("/", PHONE)
    gone = page.locator("#fold-gone")
    assert gone.locator("summary .what").inner_text() == "2 have gone unseen"
    assert gone.locator(".alert").first.is_hidden()
    gone.locator("summary").click()
    assert gone.get_by_role("button", name="Acknowledge").count() == 2
    for line in gone.locator(".alert .grade").all():
        box = line.bounding_box()
        assert box is not None
        assert box["height"] < 60
    assert page.locator("#fold-seen-still summary .what").inner_text() == "1 seen and still there"


def test_without_an_alarm_what_is_gone_and_seen_does_not_fill_the_first_screen(
    opened: Opened, watch: CannedWatch
) -> None:
    """Twelve of them on a phone: the first sentence of the page stands in the first half of the screen."""
    gone = [
        replace(a, alert=f"{a.alert} {n}", state=state)
        for n in range(6)
        for a, state in zip(watch.snapshot.alerts, ("returned", "acknowledged"), strict=False)
    ]
    calls = replace(watch.snapshot.calls, sound=canned_alerts.SILENCE)
    watch.snapshot = replace(watch.snapshot, alerts=tuple(gone), calls=calls)
    box = opened("/", PHONE).locator("h1").bounding_box()
    assert box is not None
    assert box["y"] < PHONE[1] / 2


@pytest.mark.parametrize("path", ["/", "/night", "/water", "/power", "/alerts"])
def test_a_flood_has_the_gravest_on_top_and_little_to_send(path: str, client_of: ClientOf) -> None:
    """A thousand open alerts: what wants an answer soonest comes first, though it is old; under 120 kB.
    998 are the 47 rules that are no alarms, 21 times and 11 more: 21 x 19 warnings, and 6 of those 11."""
    answer = client_of(canned("flood")).get(path)
    assert len(answer.content) < 120_000
    text = Words(answer.text).text
    assert text.index("Alarm: Burst or hose off") < text.index("Alarm: Voltage low")
    if path == "/alerts":
        assert "2 alarms, 405 warnings and 593 cautions want an answer." in text
        assert "26 to 50 of 1000" in text
    else:
        assert "1000 alerts began within ten minutes: only alarms are told one by one." in text
        assert "405 warnings, the gravest: " in text
        assert answer.text.count('action="/acknowledge"') == 2


def test_all_thousand_can_be_reached(client_of: ClientOf) -> None:
    """From page to page, each alert stands once."""
    client = client_of(canned("flood"))
    seen = [
        alert
        for start in range(0, 1000, 25)
        for alert in re.findall(
            r'action="/acknowledge".*?name="alert" value="([^"]+)"',
            client.get(f"/alerts?from={start}").text,
            re.S,
        )
    ]
    assert len(seen) == len(set(seen)) == 1000


def test_the_page_tells_what_is_aside_and_why_something_is_explained(aboard: TestClient) -> None:
    """Until when by the ship's clock (45 minutes after 15:21), and by which alert."""
    text = text_of(aboard, "/alerts")
    assert f"Instrument silent ({canned_alerts.LONG}) It lasts. until Wed 16:06" in text
    assert "Charge low (house) Explained by: Voltage low (house)." in text
    assert text.startswith("Alerts · Marram")
    assert "1 alarm, 1 warning and 2 cautions want an answer." in text


def test_names_are_shown_and_never_obeyed(aboard: TestClient) -> None:
    for path in ("/", "/alerts"):
        html = aboard.get(path).text
        assert "<b onclick" not in html
        assert canned_alerts.HTML in Words(html).text


@pytest.mark.parametrize(
    ("severity", "offered"),
    [(Severity.ALARM, ["15", "60"]), (Severity.WARNING, ["15", "60"]),
     (Severity.CAUTION, ["15", "60", "1440", "10080"])],
)  # fmt: skip
def test_only_what_a_grade_allows_can_be_put_aside(
    severity: Severity, offered: list[str], watch: CannedWatch, client_of: ClientOf
) -> None:
    """An alarm for an hour, a warning for twelve, a caution for a week: monitor.alerts.book."""
    one = replace(watch.snapshot.alerts[0], severity=severity)
    watch.snapshot = replace(watch.snapshot, alerts=(one,))
    html = client_of(watch).get("/alerts").text
    assert re.findall(r'name="minutes" value="(\d+)"', html) == offered
    assert ('name="until"' in html) == (severity is not Severity.ALARM)


@pytest.mark.parametrize(
    ("path", "form", "command"),
    [
        ("/shelve", {"alert": "a", "minutes": "60"}, Command("shelve", "a", {"minutes": 60.0})),
        ("/shelve", {"alert": "a", "until": "18:31"}, Command("shelve", "a", {"minutes": 190.0})),
        ("/shelve", {"alert": "a", "until": "0321"}, Command("shelve", "a", {"minutes": 720.0})),
        ("/unshelve", {"rule": "low water", "subject": "x"}, Command("unshelve", "x", {"rule": "low water"})),
        ("/jobs", {"job": "filling"}, Command("job", "filling")),
        ("/jobs", {"job": "filling", "over": "true"}, Command("job over", "filling")),
        ("/ways/try", {}, Command("try ways", "ways")),
        ("/hush", {}, Command("hush", "sound")),
    ],
)
def test_what_the_crew_asks_for_reaches_the_watch(
    path: str, form: dict[str, str], command: Command, aboard: TestClient, watch: CannedWatch
) -> None:
    """Hours are the ship's: it is 15:21 aboard."""
    assert aboard.post(path, data=form, headers=OWN).status_code == 303
    assert watch.asked == [command]


@pytest.mark.parametrize(
    ("path", "form", "said"),
    [
        ("/shelve", {"alert": "a", "until": "25:00"}, "expected an hour like 18:30, got 25:00"),
        ("/shelve", {"alert": "a", "until": "<b>"}, "expected an hour like 18:30, got <b>"),
        ("/shelve", {"alert": "a"}, "expected an hour like 18:30"),
        ("/jobs", {"job": "baking"}, "no job is called 'baking'"),
        ("/shelve", {"alert": "refuse me", "minutes": "15"}, "there is no such alert"),
    ],
)
def test_what_cannot_be_done_is_said(
    path: str, form: dict[str, str], said: str, aboard: TestClient, watch: CannedWatch
) -> None:
    answer = aboard.post(path, data=form, headers=OWN)
    assert answer.status_code == 409
    assert said in Words(answer.text).text
    assert watch.asked == []


def test_jobs_and_ways_stand_there_with_what_became_of_them(aboard: TestClient) -> None:
    """A job under way until when (33 minutes after 15:21); a way that fails, one that was never used."""
    text = text_of(aboard, "/alerts")
    assert "Washing down" in text
    assert "until Wed 15:54 End" in text
    assert "6 h Begin" in text
    assert (
        "Nothing has got through for 25 min: no route to host. 3 wait. last heard from 2 h 2 min ago" in text
    )
    assert "Nothing was sent yet. never heard from" in text


def test_what_is_pressed_is_large(opened: Opened, watch: CannedWatch) -> None:
    """12 mm or more each way: 45 CSS px of 1/96 inch."""
    for path, least in (("/alerts", 10), ("/alerts/month", 4), ("/rules/low%20charge", 5), ("/handover", 2)):
        page = opened(path, PHONE)
        pressed = page.locator(
            "main button:visible, main select:visible, main input:visible, main summary:visible,"
            " main .ways a, .calls, #sound button:visible"
        )
        assert pressed.count() >= least
        for one in pressed.all():
            box = one.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 45, (path, one.inner_text())


def test_an_alert_without_words_of_its_own_is_shown_all_the_same(
    watch: CannedWatch, client_of: ClientOf
) -> None:
    odd = replace(watch.snapshot.alerts[0], rule="rule of tomorrow", reason=Reason("no such id", {"n": 3}))
    watch.snapshot = replace(watch.snapshot, alerts=(odd,))
    for path in ("/", "/alerts"):
        assert "Alarm: rule of tomorrow" in text_of(client_of(watch), path)
