"""What the next watch is told, and the card for guests."""

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from monitor.clock import Interval
from monitor.errors import StorageError
from monitor.records import AlertChange, Reason, Severity
from tests.web import canned_alerts
from tests.web.canned import AT_S, NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import PANEL, ClientOf, Opened
from tests.web.test_pages import text_of


class OneHourAgo(CannedRecord):
    """An alarm began an hour ago and was seen ten minutes later; another came and went the day before."""

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        told = Reason("alert: low water", {"left_L": 38.0, "limit_L": 60.0})
        began = AlertChange("a", "low water", "water", Severity.WARNING, 1, AT_S - 3600, "active", told)
        seen = replace(began, state="acknowledged", what="acknowledged", at_s=AT_S - 3000)
        return [(began, NOW_S - 3600), (seen, NOW_S - 3000), (began, NOW_S - 86_400), (began, None)]


def test_the_next_watch_is_told_what_calls_what_is_held_back_and_what_happened(client_of: ClientOf) -> None:
    """An hour before 15:21 is 14:21; what is older than a watch of four hours is left to the log."""
    watch = canned("every alert")
    watch.record = OneHourAgo()
    text = text_of(client_of(watch), "/handover")
    assert "Alarm: Voltage low (house), since Wed 15:17, nobody has seen it." in text
    assert "Caution: Nothing heard from a source (broker), since Wed 12:51, seen." in text
    assert f"Put aside until Wed 16:06: Instrument silent ({canned_alerts.LONG})." in text
    assert "Washing down until Wed 15:54." in text
    assert "14:31 Warning: Water low (water) Seen. 38 L of fresh water are left; the limit is 60 L." in text
    assert "14:21 Warning: Water low (water) Began." in text
    assert text.count("Water low (water) Began") == 1
    assert "Charge by Mon" in text


class Unreadable(CannedRecord):
    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        raise StorageError("gone")


@pytest.mark.parametrize("record", [None, Unreadable(), CannedRecord()])
def test_without_a_record_the_watch_is_handed_over_all_the_same(
    record: CannedRecord | None, client_of: ClientOf
) -> None:
    watch = canned("calm")
    text = text_of(client_of(CannedWatch(watch.snapshot, watch.settings, record)), "/handover")
    assert "No alert came or went." in text
    assert "Nothing." in text


def test_the_watch_is_told_in_one_sentence_first(client_of: ClientOf) -> None:
    """As the line that goes to the ways out has it (monitor.pipeline.lines), as a heading."""
    html = client_of(canned("calm")).get("/handover").text
    heading = html[html.index("<h1") : html.index("</h1>")]
    assert "At anchor" in heading
    assert "no alert is open" in heading


@pytest.mark.parametrize(("hours", "told"), [(-8.0, True), (0.0, False), (-12.5, False)])
def test_the_morning_line_stands_at_the_head_of_ahead_after_waking(
    hours: float, told: bool, client_of: ClientOf
) -> None:
    """At 07:21, but neither at 15:21 nor at 02:51 by the ship's clock."""
    watch = canned("well")
    watch.snapshot = replace(watch.snapshot, utc_s=NOW_S + 3600 * hours)
    assert ('class="morning"' in client_of(watch).get("/").text) == told


def test_the_card_for_guests_is_one_sheet_and_bears_figures_only_with_their_moment(
    opened: Opened, watch: CannedWatch
) -> None:
    """A4, pages counted by the PDF's page objects (ISO 32000-1, 7.7.3.3), whatever calls now: the card hangs
    there for weeks."""
    watch.snapshot = canned("every alert").snapshot
    page = opened("/guests", PANEL, light="night")
    page.emulate_media(media="print")
    sheet = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    said = " ".join(page.locator(".guests section:not(.as-it-stands)").all_inner_texts())
    assert "Never" in said
    assert not any(sign.isdigit() for sign in said)
    assert page.locator(".alert:visible").count() == 0
