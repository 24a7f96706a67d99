"""Every page in every state: the same words whole and in part, nothing from outside, nothing unsaid."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import cast

import pytest
from fastapi.testclient import TestClient

from monitor.errors import StorageError
from monitor.records import Reason
from tests.web.canned import STATES, CannedRecord, CannedWatch, canned, estimate
from tests.web.conftest import ClientOf
from web.watch import Record

PAGES = (
    "/", "/night", "/night/2026-11-20", "/night?from=2026-11-23T06:00&to=2026-11-24T20:00", "/night/away",
    "/night/week", "/loads", "/loads/load%202", "/water", "/power", "/log", "/log?kind=alert",
    "/history?channel=house+voltage", "/rests/energy_days/house", "/rests/water_days/water",
    "/rests/reading/house%20voltage", "/nowhere", "/alerts", "/alerts/month", "/rules",
    "/rules/low%20voltage", "/rules/low%20voltage?subject=house&limit=12.2", "/handover", "/guests",
    "/fit-out", "/fit-out/calibration",
)  # fmt: skip
FRAGMENT = {"HX-Request": "true"}


class Words(HTMLParser):
    """What a page says, and every address in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.said.append(" ".join(data.split()))

    @property
    def text(self) -> str:
        return " ".join(self.said)


def text_of(client: TestClient, path: str = "/") -> str:
    return Words(client.get(path).text).text


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("path", PAGES)
def test_a_page_answers_whole_and_asks_for_nothing_outside(
    state: str, path: str, client_of: ClientOf
) -> None:
    """No address with a scheme, no inline script, style or handler in any page in any state."""
    answer = client_of(canned(state)).get(path)
    assert answer.status_code in (200, 404, 422)
    page = Words(answer.text)
    for name, value in page.attributes:
        assert not re.match(r"\s*(\w+:)?//|\s*(data|javascript):", value), (name, value)
        assert name != "style", value
        assert not name.startswith("on"), (name, value)
    assert "style" not in page.tags
    assert not re.search(r"<script(?![^>]* src=)", answer.text)
    assert answer.text.count("<h1") == 1
    assert "None" not in page.said
    assert "nan" not in page.text.lower().split()


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/night",
        "/loads",
        "/water",
        "/power",
        "/log",
        "/rests/energy_days/house",
        "/alerts",
        "/handover",
        "/fit-out",
    ],
)
def test_page_and_fragment_say_the_same(state: str, path: str, client_of: ClientOf) -> None:
    """One address, one template: the fragment is what stands inside the page's main."""
    client = client_of(canned(state))
    whole, part = client.get(path), client.get(path, headers=FRAGMENT)
    inside = re.search(r"<main[^>]*>(.*)</main>", whole.text, re.S)
    assert inside is not None
    assert Words(inside[1]).said == Words(part.text).said
    assert "<html" not in part.text
    assert "HX-Request" in whole.headers["Vary"]
    assert "HX-Request" in part.headers["Vary"]


def test_a_fragment_that_has_not_changed_is_not_sent_again(client: TestClient, well: CannedWatch) -> None:
    """204 leaves the page as it is; a changed number sends it; a changed light has it loaded anew."""
    mark = re.search(r'name="had" value="([^"]+)"', client.get("/").text)
    assert mark is not None
    assert client.get("/", params={"had": mark[1]}, headers=FRAGMENT).status_code == 204
    client.cookies.set("light", "night")
    assert client.get("/", params={"had": mark[1]}, headers=FRAGMENT).headers["HX-Refresh"] == "true"
    client.cookies.clear()
    values = {**well.snapshot.values}
    values["house voltage"] = values["house voltage"]._replace(value=12.5)
    well.snapshot = replace(well.snapshot, values=values)
    answer = client.get("/", params={"had": mark[1]}, headers=FRAGMENT)
    assert answer.status_code == 200
    assert "12.50 V" in Words(answer.text).text


def test_all_well_says_so_first(client: TestClient) -> None:
    """The first sentence tells the dawn and that nothing is to do; days, band and what sets them follow."""
    text = text_of(client)
    assert "At dawn, Thu 08:45, the house bank will stand near" in text
    assert "Nothing to do yet." in text
    assert "4½ to 6 days" in text
    assert "Charge by Mon" in text
    assert "From the last 21 days at anchor, hour by hour." in text


def test_charge_unknown_is_said_plainly_and_draws_nothing(client_of: ClientOf) -> None:
    """Before the first full charge there is no number, no curve, and one thing to do."""
    client = client_of(canned("unknown"))
    text = text_of(client)
    assert "Charge unknown until the first full charge" in text
    assert "Charge the house bank until it is full" in text
    assert "Nothing to do yet." not in text
    assert "nan" not in client.get("/").text


def test_alerts_stand_on_top_gravest_first(client_of: ClientOf) -> None:
    """Before every other word; none is told that nothing is to do; the seen one has no button."""
    html = client_of(canned("alerts")).get("/").text
    alarm, warning, caution = (html.index(f">{grade}:") for grade in ("Alarm", "Warning", "Caution"))
    assert alarm < warning < caution < html.index("<h1")
    assert "Nothing to do" not in html
    assert html.count('action="/acknowledge"') == 2
    assert "This alert is not on the card yet." in html


def test_silence_is_visible_and_old_numbers_bear_their_age(client_of: ClientOf) -> None:
    """Each silent source and instrument is named, and calm is only claimed for what is heard."""
    text = text_of(client_of(canned("silent")))
    assert "broker is silent: last heard 15 min ago." in text
    assert "Midship: level silent for 14 min." in text
    assert "Silent, as they are" not in text
    assert "silent for 15 min" in text
    assert "Nothing to do yet, as far as is heard." in text


def test_what_may_be_switched_off_is_told_in_one_line_and_disturbs_nobody(client_of: ClientOf) -> None:
    """A shore line that is unplugged is silent and no reason to doubt the bank."""
    watch = canned("well")
    values = {**watch.snapshot.values}
    for channel in ("shore ac voltage", "panels power"):
        values[channel] = values[channel]._replace(silent=True)
    watch.snapshot = replace(watch.snapshot, values=values)
    text = text_of(client_of(watch))
    assert "Silent, as they are when at rest or unplugged: panels, shore." in text
    assert "Nothing to do yet." in text


def test_an_alert_that_has_gone_unseen_stays_short(client_of: ClientOf) -> None:
    """Latched until somebody has seen it, but there is nothing left to do about it."""
    watch = canned("alerts")
    gone = tuple(replace(a, state="returned") for a in watch.snapshot.alerts)
    watch.snapshot = replace(watch.snapshot, alerts=gone)
    text = text_of(client_of(watch))
    assert "it has gone, nobody has seen it" in text
    assert "When it went: " in text
    assert "If not:" not in text


def test_the_log_tells_alerts_and_pump_runs_by_the_hour(client: TestClient) -> None:
    """Two runs of 39.5 s and 10.5 s within an hour: one line of 50 s; under their own kind, two."""
    text = text_of(client, "/log")
    assert "Alarm: Pump running on (pressure pump)" in text
    assert "Pump run, pressure pump 50 s 2 runs" in text
    assert text_of(client, "/log?kind=pump+run").count("Pump run, pressure pump") == 2
    assert "Pump run," not in text_of(client, "/log?kind=alert")


def test_an_unconfirmed_clock_and_a_simulated_boat_are_said(client_of: ClientOf) -> None:
    text = text_of(client_of(canned("unconfirmed")))
    assert "The clock is not confirmed" in text
    assert "Simulated: ten days of Marram" in text


def test_without_a_clock_days_are_told_and_no_axis_is_drawn(client_of: ClientOf) -> None:
    client = client_of(canned("no clock"))
    text = text_of(client)
    assert "The clock is not known" in text
    assert "4½ to 6 days" in text
    assert "Charge within 4½ days." in text
    assert 'class="strip' not in client.get("/").text


def test_hostile_names_are_only_words(client_of: ClientOf) -> None:
    """Names from settings, buses and brokers are escaped wherever they stand."""
    client = client_of(canned("hostile"))
    for path in ("/", "/night", "/loads", "/log", "/rests/tank_L/%3Ci%20onload%3Dx%3Emid"):
        html = client.get(path).text
        assert "<script>alert" not in html
        assert "<i onload" not in html
        assert "&lt;b&gt;" in html


def test_every_number_on_ahead_leads_to_what_it_rests_on(client: TestClient) -> None:
    """Each link answers with the number, its age and a reason."""
    links = set(re.findall(r'href="(/rests/[^"]+)"', client.get("/").text))
    assert len(links) > 8
    for link in links:
        answer = client.get(link)
        assert answer.status_code == 200, link
        assert "As of" in answer.text, link
        assert "<h2>Why</h2>" in answer.text or "Read from an instrument." in answer.text


def test_what_days_rest_on_names_readings_ages_and_feeds(client: TestClient) -> None:
    text = text_of(client, "/rests/energy_days/house")
    assert "House: days left, charging as usual" in text
    assert "house voltage 13.21 V now" in text
    assert "battery bus, signal Pack.Current" in text
    text = text_of(client, "/rests/water_days/water")
    assert "forward: in the tank 87 L 83 to 91 L" in text


def test_a_band_that_is_the_number_itself_is_not_called_a_band(client: TestClient) -> None:
    """A bound ("tight below") has no band."""
    assert "Nine times in ten" not in text_of(client, "/rests/tight_below_L_per_h/pressure%20pump")


def test_the_night_is_found_by_its_date_and_tells_its_ledger(client: TestClient) -> None:
    """The night bears the date of its dusk; the one without a date is the last that ended."""
    assert "The night of Tue 24 Nov" in text_of(client, "/night")
    text = text_of(client, "/night/2026-11-20")
    assert "The night of Fri 20 Nov" in text
    assert "The house bank went from 78 % at dusk to 63 % at dawn." in text
    assert client.get("/night/2026-01-01").status_code == 404


def test_a_night_of_unknowns_says_unknown_and_never_nought(client_of: ClientOf) -> None:
    watch = canned("well")
    bare = replace(
        watch.snapshot.nights[-1], used_Wh=None, made_Wh=None, net_Wh=None, unexplained_Wh=None, by=(),
        water_L=None, lowest_V={}, pump_starts=None, dusk_pct=None, dawn_pct=None, missing_s=7200.0,
        made_by=(), usual=None, changed=(),
    )  # fmt: skip
    watch.snapshot = replace(watch.snapshot, nights=(bare,))
    text = text_of(client_of(watch), "/night")
    assert "What the night took is unknown." in text
    assert "For 2 h of the night nothing was heard of the house bank." in text
    assert "used unknown" in text
    assert " 0 Wh" not in text


def test_a_gap_in_the_record_is_a_gap_on_the_strip(client: TestClient) -> None:
    """The canned record is silent for half an hour: the standing load is drawn in two pieces."""
    shape = re.search(r'id="edge-1" d="([^"]+)"', client.get("/night").text)
    assert shape is not None
    assert shape[1].count("M") == 2


def test_without_an_account_the_net_power_is_drawn(
    client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same gap, in the area of what went out of the bank."""
    monkeypatch.setattr(CannedWatch, "account", lambda *_: None)
    shape = re.search(r'id="used-area"[^>]*><path d="([^"]+)"', client_of(canned("well")).get("/night").text)
    assert shape is not None
    assert shape[1].count("M") == 2


class BrokenRecord(CannedRecord):
    """A file that can no longer be read."""

    def series(self, *_: object, **__: object) -> object:  # type: ignore[override]
        raise StorageError("gone")

    events = alert_changes = channels = series  # type: ignore[assignment]


class StrangeRecord(CannedRecord):
    """A mistake of ours."""

    def series(self, *_: object, **__: object) -> object:  # type: ignore[override]
        return 1 / 0


@pytest.mark.parametrize("record", [None, BrokenRecord()])
def test_pages_stand_without_a_record(record: CannedRecord | None, client_of: ClientOf) -> None:
    """Only what the record alone can tell is missing, and that is said."""
    watch = canned("well")
    watch.record = record
    client = client_of(watch)
    assert client.get("/").status_code == 200
    for path in ("/night", "/log", "/history"):
        answer = client.get(path)
        assert answer.status_code in (200, 503)
        assert "The record cannot be read just now." in answer.text


def test_errors_are_dressed_like_every_page(client: TestClient, well: CannedWatch) -> None:
    """404, a wrong date, a wrong kind and a mistake of ours: same sheet, same light, headers on."""
    client.cookies.set("light", "night")
    for path, status in (("/nowhere", 404), ("/night/zz", 422), ("/log?kind=zz", 422), ("/static/zz", 404)):
        answer = client.get(path)
        assert answer.status_code == status
        assert 'class="night"' in answer.text
        assert 'content="dark"' in answer.text
    well.record = cast(Record, StrangeRecord())
    answer = client.get("/history")
    assert answer.status_code == 500
    assert "The watch itself goes on." in answer.text
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


def test_the_history_as_json_is_short_and_has_no_nan(client: TestClient) -> None:
    """At most 2000 points; what was not heard is null."""
    span: dict[str, str | float] = {"channel": "house voltage", "from": 1_795_500_000, "to": 1_795_586_400}
    answer = client.get("/history/data", params=span).json()
    assert answer["unit"] == "V"
    assert 0 < len(answer["utc_s"]) == len(answer["mean"]) <= 2000
    assert None in answer["mean"]
    wrongs: list[dict[str, str | float]] = [{"channel": "zz"}, {"to": 1}, {"from": "nan"}, {"to": 9e15}]
    for wrong in wrongs:
        assert client.get("/history/data", params=span | wrong).status_code == 404


def test_a_reason_nobody_has_worded_does_not_take_the_page_away(client_of: ClientOf) -> None:
    watch = canned("well")
    odd = estimate("energy_days", "house", 2.0, 1.0, 3.0, Reason("new words", {"n": 4}))
    watch.snapshot = replace(watch.snapshot, estimates={("energy_days", "house"): odd})
    assert "new words (n 4)" in text_of(client_of(watch))


def test_ahead_is_small(client: TestClient) -> None:
    """At most 120 kB in all, uncompressed: the page with every file it asks for."""
    page = client.get("/")
    files = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page.text))
    assert any("htmx.min.js" in f for f in files)
    assert not any("uPlot" in f for f in files)
    total = len(page.content) + sum(len(client.get(f).content) for f in files)
    assert total <= 120_000, total
