"""The pages in Debian's chromium: drawn, live, quiet at night, and asking nobody outside."""

from dataclasses import replace
from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from tests.web.canned import CannedWatch, canned
from tests.web.conftest import PANEL, PHONE, Opened
from tests.web.pages import PAGES


@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_the_first_sentence_stands_in_the_first_screenful(size: tuple[int, int], opened: Opened) -> None:
    page = opened("/", size)
    for path in PAGES:
        page.goto(urljoin(page.url, path))
        box = page.locator("h1").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < size[1], path


@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_the_days_left_of_both_stand_in_the_first_screenful(size: tuple[int, int], opened: Opened) -> None:
    """On the panel both curves too; what is pressed is 12 mm or more (45 CSS px of 1/96 inch)."""
    page = opened("/", size)
    lowest = page.locator(".days") if size == PHONE else page.locator(".ebbs .strip")
    assert lowest.count() == 2
    for n in range(2):
        box = lowest.nth(n).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= size[1]
    for button in page.locator("button:visible, nav a").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 45


def test_a_new_snapshot_arrives_by_itself(watch: CannedWatch, opened: Opened) -> None:
    """The number changes without a reload, and the moment it is told for with it."""
    page = opened("/", PANEL)
    expect(page.locator("#seen")).to_contain_text("As of Wed 15:21:00")
    watch.tick()
    values = {**watch.snapshot.values}
    values["house voltage"] = values["house voltage"]._replace(value=12.34)
    watch.snapshot = replace(watch.snapshot, values=values)
    expect(page.locator("main")).to_contain_text("12.34")
    expect(page.locator("#seen")).to_contain_text("As of Wed 15:21:01")


def test_what_is_old_says_so(opened: Opened) -> None:
    """When nothing newer comes the age is counted and told, and a way to reload is offered."""
    page = opened("/", PHONE)
    expect(page.locator("html.live")).to_have_count(1)
    expect(page.locator("#seen a")).to_be_hidden()
    page.clock.install()
    page.reload()
    expect(page.locator("html.live")).to_have_count(1)
    page.clock.run_for(16_000)
    expect(page.locator("#seen")).to_contain_text("Nothing newer than Wed 15:21:00, 16 s ago")
    expect(page.locator("#seen a")).to_be_visible()


def test_the_light_changes_by_hand_on_the_open_page(opened: Opened) -> None:
    page = opened("/", PANEL)
    page.get_by_role("button", name="night").click()
    expect(page.locator("html.night")).to_have_count(1)
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"


def test_dusk_changes_the_light_of_an_open_page(watch: CannedWatch, opened: Opened) -> None:
    """By the sun: the page that stood open all day is loaded anew in the night dress."""
    page = opened("/", PANEL, light="sun")
    expect(page.locator("html.day")).to_have_count(1)
    watch.tick()
    watch.snapshot = replace(watch.snapshot, utc_s=watch.snapshot.darkness[14][0] + 60)
    expect(page.locator("html.night")).to_have_count(1)


def test_an_alert_is_acknowledged_with_and_without_scripts(watch: CannedWatch, opened: Opened) -> None:
    watch.snapshot = canned("alerts").snapshot
    for script in (True, False):
        page = opened("/", PHONE, script=script)
        button = page.get_by_role("button", name="Acknowledge").first
        button.click()
        if script:
            expect(page.locator("#done")).to_contain_text("Hold it for a second, or press it again.")
            button.click()
            expect(page.locator("#done")).to_contain_text("Seen.")
        page.wait_for_load_state()
    assert [c.subject for c in watch.asked] == ["pump running on: pressure pump"] * 2


def test_without_scripts_everything_stands_on_the_page(opened: Opened) -> None:
    """Words, curves, and the still drawing of the history."""
    page = opened("/", PHONE, script=False)
    expect(page.locator("main")).to_contain_text("At dawn, Thu 08:45")
    assert page.locator(".ebbs path.pencil").count() == 2
    page = opened("/history?channel=house+voltage", PHONE, script=False)
    expect(page.locator("#still")).to_be_visible()


def test_the_history_is_drawn_and_looked_into(opened: Opened) -> None:
    """Dragging across the plot asks the record again, for a shorter span."""
    page = opened("/history?channel=house+voltage", PANEL)
    expect(page.locator("#zoom canvas")).to_be_visible()
    expect(page.locator("#still")).to_be_hidden()
    box = page.locator("#zoom .u-over").bounding_box()
    assert box is not None
    with page.expect_request("**/history/data*") as asked:
        page.mouse.move(box["x"] + 200, box["y"] + 80)
        page.mouse.down()
        page.mouse.move(box["x"] + 400, box["y"] + 80, steps=4)
        page.mouse.up()
    query = dict(part.split("=") for part in asked.value.url.partition("?")[2].split("&"))
    assert 0 < float(query["to"]) - float(query["from"]) < 86_400 / 2


@pytest.mark.parametrize("script", [True, False], ids=["with JavaScript", "without"])
def test_a_load_is_asked_by_form_and_answered_on_the_page(opened: Opened, script: bool) -> None:
    """Two numbers and a button; what was asked stands in the form, and the page stays alive."""
    page = opened("/power", PHONE, script=script)
    page.get_by_label("Takes, in watts").fill("2000")
    page.get_by_label("For, in minutes").fill("15")
    page.get_by_role("button", name="Reckon it").click()

    expect(page.get_by_text("Yes, as things stand.")).to_be_visible()
    expect(page.get_by_label("Takes, in watts")).to_have_value("2000")
