"""What is held for a second, and taken back within twelve; language, units and brightness of one browser."""

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import expect

from monitor.records import Command
from tests.web.canned import CannedWatch, canned
from tests.web.conftest import PANEL, PHONE, ClientOf, Opened

OWN = {"Origin": "http://127.0.0.1:8080"}


@pytest.fixture
def watch() -> CannedWatch:
    return canned("alerts")


def test_a_short_press_does_nothing_a_held_one_does(watch: CannedWatch, opened: Opened) -> None:
    """By finger and by key; the page stays, and says that it was done."""
    page = opened("/", PANEL)
    page.clock.install()
    page.reload()
    button = page.get_by_role("button", name="Acknowledge").first
    button.dispatch_event("pointerdown", {"button": 0, "bubbles": True})
    page.clock.run_for(400)
    button.dispatch_event("pointerup", {"bubbles": True})
    page.clock.run_for(2000)
    assert watch.asked == []

    button.dispatch_event("pointerdown", {"button": 0, "bubbles": True})
    with page.expect_response("**/acknowledge"):
        page.clock.run_for(900)
    expect(page.locator("#done")).to_contain_text("Seen.")
    assert [c.kind for c in watch.asked] == ["acknowledge"]


def test_a_held_key_counts_as_a_finger(watch: CannedWatch, opened: Opened) -> None:
    page = opened("/", PANEL)
    page.get_by_role("button", name="Acknowledge").first.focus()
    with page.expect_response("**/acknowledge"):
        page.keyboard.down("Enter")
        page.wait_for_function("document.querySelector('#done:not([hidden])')")
    page.keyboard.up("Enter")
    assert [c.kind for c in watch.asked] == ["acknowledge"]


def test_what_was_done_can_be_taken_back(watch: CannedWatch, opened: Opened) -> None:
    page = opened("/", PHONE)
    page.get_by_role("button", name="Acknowledge").first.dblclick()
    with page.expect_response("**/acknowledge/back"):
        page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#done")).to_contain_text("Taken back.")
    assert [c.kind for c in watch.asked] == ["acknowledge", "take back"]
    assert len({c.subject for c in watch.asked}) == 1


def test_a_mode_is_set_and_taken_back(watch: CannedWatch, opened: Opened) -> None:
    """The mode was detected: taking it back leaves it to the watch again."""
    page = opened("/", PANEL)
    page.get_by_text("motoring").click()
    page.get_by_role("button", name="Set this").click()
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#done")).to_contain_text("Taken back.")
    back = Command("mode", "boat", {"place": "as detected", "people": "as detected"})
    assert [c.facts["place"] for c in watch.asked] == ["motoring", "as detected"]
    assert watch.asked[-1] == back


def test_a_browser_chooses_and_is_told_so(opened: Opened, watch: CannedWatch) -> None:
    """By form, on one page; every page after it follows, in night dress and darker than that."""
    page = opened("/reading?back=/water", PHONE, light="night", script=False)
    page.get_by_text("Français").click()
    page.get_by_text("US gallons").click()
    page.get_by_text("°F").click()
    page.locator(".reading button").click()
    page.goto(page.url.replace("/reading?back=/water", "/water"))
    expect(page.locator("html")).to_have_attribute("lang", "fr")
    expect(page.locator("main")).to_contain_text("US gal")


def test_brightness_is_in_the_page_as_it_is_sent(client_of: ClientOf) -> None:
    """No flash: a class of the root, never a script's doing alone."""
    client = client_of(canned("well"))
    client.post("/reading", data={"brightness": "40"}, headers=OWN)
    assert 'class="day b40"' in client.get("/", headers={"Cookie": "light=day; brightness=40"}).text


@pytest.mark.parametrize("cookie", ["language=xx", "volume=pints", "brightness=0", "energy=%00", "language="])
def test_a_choice_that_is_none_leaves_things_as_they_are(cookie: str, client: TestClient) -> None:
    plain, odd = client.get("/"), client.get("/", headers={"Cookie": cookie})
    assert odd.status_code == 200
    assert odd.text == plain.text


@pytest.mark.parametrize(
    ("asked", "told"),
    [("es-ES,es;q=0.9,en;q=0.8", "es"), ("de,fr;q=0.5", "fr"), ("de", "en"), ("fr;q=0,es;q=0.1", "es"),
     (";;q=x", "en")],
)  # fmt: skip
def test_a_browser_is_answered_in_its_own_language(asked: str, told: str, client: TestClient) -> None:
    """RFC 9110, 12.5.4: by weight; weight 0 is not wanted."""
    assert f'<html lang="{told}"' in client.get("/", headers={"Accept-Language": asked}).text
