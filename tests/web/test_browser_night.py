"""The night and its loads in Debian's chromium: one printed sheet, large targets, forms without scripts."""

import re

import pytest
from playwright.sync_api import expect

from tests.web.canned import CannedWatch
from tests.web.conftest import PANEL, PHONE, Opened


@pytest.mark.parametrize("light", ["day", "night"])
@pytest.mark.parametrize("path", ["/night", "/night?from=2026-11-23T06:00&to=2026-11-24T20:00"])
def test_a_night_is_printed_on_one_sheet(path: str, light: str, opened: Opened) -> None:
    """A4, whatever the light; dark ink on a white sheet. Pages are counted by the PDF's page objects (ISO
    32000-1, 7.7.3.3)."""
    page = opened(path, PANEL, light=light)
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    sheet = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    (box,) = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", sheet))
    assert [round(float(side) / 72 * 25.4) for side in box] == [210, 297]


def test_what_is_pressed_is_large(opened: Opened) -> None:
    """12 mm or more each way: 45 CSS px of 1/96 inch."""
    for path, least in (("/loads", 10), ("/loads/load%202", 6), ("/night", 8)):
        page = opened(path, PHONE)
        pressed = page.locator(
            "main button, main input[type=text], .name-it, .loads th a, .ways a, .before th a"
        )
        assert pressed.count() >= least
        for one in pressed.all():
            box = one.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 45, one.inner_text()


@pytest.mark.parametrize("script", [True, False], ids=["with JavaScript", "without"])
def test_a_load_is_named_from_the_ledger(script: bool, opened: Opened, watch: CannedWatch) -> None:
    """From "name it" under the unexplained to its page, by typing there and by pressing a suggestion."""
    page = opened("/night", PHONE, script=script)
    page.get_by_role("link", name="name it").first.click()
    page.get_by_label("What is it?").fill("galley fridge")
    page.get_by_role("button", name="Name it").click()
    page.wait_for_url("**/loads/load%202")
    page.get_by_role("button", name="fridge", exact=True).click()
    page.wait_for_url("**/loads/load%202")
    assert [c.facts["name"] for c in watch.asked] == ["galley fridge", "fridge"]


def test_a_span_is_asked_by_form(opened: Opened) -> None:
    page = opened("/night", PHONE, script=False)
    page.get_by_label("From", exact=True).fill("2026-11-23T06:00")
    page.get_by_label("To", exact=True).fill("2026-11-24T20:00")
    page.get_by_role("button", name="Explain this span").click()
    expect(page.locator(".which")).to_have_text("Mon 23 Nov 06:00 to Tue 24 Nov 20:00")


def test_the_sentence_and_the_strip_stand_in_the_first_screenful(opened: Opened) -> None:
    page = opened("/night", PHONE)
    box = page.locator(".bands .strip").first.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= PHONE[1]
