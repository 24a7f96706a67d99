"""The page of water in Debian's chromium: its strip by finger and keys, its folds, its forms."""

from dataclasses import replace

import pytest
from playwright.sync_api import expect

from monitor.records import Severity
from tests.web.canned import NOW_S, CannedWatch, WaterRecord, canned
from tests.web.conftest import PANEL, PHONE, Opened

UNFOLD = "document.querySelectorAll('details').forEach((fold) => { fold.open = true; })"


def test_the_strip_is_looked_into_by_keys(opened: Opened, watch: CannedWatch) -> None:
    """Plus comes closer, the arrows move, Home goes back to the day; the address follows, and so does the
    page that keeps itself up to date."""
    watch.record = WaterRecord(leak=True)
    page = opened("/water", PANEL)
    expect(page.locator("html.live")).to_have_count(1)
    page.locator("#strip").focus()
    page.keyboard.press("+")
    expect(page.locator(".barcode .when")).to_have_text("Wed 01:00 to 07:00")
    assert "from=" in page.url
    page.keyboard.press("ArrowLeft")
    expect(page.locator(".barcode .when")).to_have_text("Tue 22:00 to Wed 04:00")
    watch.tick()
    expect(page.locator("#seen")).to_contain_text("As of Wed 15:21:01")
    expect(page.locator(".barcode .when")).to_have_text("Tue 22:00 to Wed 04:00")
    page.keyboard.press("Home")
    expect(page.locator(".barcode .when")).to_have_text("Tue 16:00 to Wed 16:00")


def test_the_strip_is_dragged(opened: Opened, watch: CannedWatch) -> None:
    """A quarter of its width to the right shows six hours earlier."""
    watch.record = WaterRecord(leak=True)
    page = opened("/water", PANEL)
    box = page.locator(".barcode > .strip").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 100, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 100 + box["width"] / 4, box["y"] + 20, steps=4)
    page.mouse.up()
    expect(page.locator(".barcode .when")).to_have_text("Tue 10:00 to Wed 10:00")


@pytest.mark.parametrize("script", [True, False], ids=["with JavaScript", "without"])
def test_the_strip_is_looked_into_by_touching_a_sixth(
    script: bool, opened: Opened, watch: CannedWatch
) -> None:
    """The third watch of the day from 16 h on goes from midnight to four."""
    watch.record = WaterRecord(leak=True)
    page = opened("/water", PHONE, script=script)
    page.get_by_label("Look closer: Wed 00:00 to 04:00").click()
    expect(page.locator(".barcode .when")).to_have_text("Wed 00:00 to 04:00")
    assert "from=" in page.url


def test_what_is_pressed_on_the_page_of_water_is_large(opened: Opened, watch: CannedWatch) -> None:
    """12 mm or more each way: 45 CSS px of 1/96 inch."""
    snapshot = canned("guided").snapshot
    watch.snapshot = replace(
        snapshot, water=replace(snapshot.water, fillings=canned("filling").snapshot.water.fillings)
    )
    page = opened("/water", PHONE)
    page.evaluate(UNFOLD)
    pressed = page.locator(
        "main button, summary, .looks a, .barcode .part rect, main select, main input:visible"
    )
    assert pressed.count() > 20
    for one in pressed.all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 45


@pytest.mark.parametrize("state", ["well", "guided", "filling", "leaking", "silent"])
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_water_fits_its_screen_in_every_state(
    state: str, size: tuple[int, int], opened: Opened, watch: CannedWatch
) -> None:
    """Four screens high at most as it comes, and no wider than one even with every fold open."""
    shown = canned(state)
    watch.snapshot, watch.record = shown.snapshot, shown.record
    page = opened("/water", size)
    assert page.evaluate("document.documentElement.scrollHeight") <= 4 * size[1]
    page.evaluate(UNFOLD)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("state", ["well", "leaking", "alerts"])
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_litres_days_and_the_verdict_stand_in_the_first_screenful(
    state: str, size: tuple[int, int], opened: Opened, watch: CannedWatch
) -> None:
    """Is there water, for how long, is there a leak: without a touch. Only an alarm stands above it."""
    shown = canned(state)
    watch.snapshot, watch.record = shown.snapshot, shown.record
    page = opened("/water", size)
    if state == "alerts":
        tops = [page.locator(f".{part}").first.bounding_box() for part in ("alarm", "answer", "warning")]
        assert [box["y"] for box in tops if box] == sorted(box["y"] for box in tops if box)
        watch.tick()
        milder = tuple(a for a in watch.snapshot.alerts if a.severity != Severity.ALARM)
        watch.snapshot = replace(watch.snapshot, alerts=milder * 2)
        expect(page.locator(".alarm")).to_have_count(0)
    for seen in (*page.locator(".glance .days").all(), *page.locator(".judge p").all()):
        box = seen.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= size[1]
    expect(page.locator(".glance")).to_contain_text("262")
    expect(page.locator(".glance")).to_contain_text("5 to 6 days")
    expect(page.locator(".judge")).to_contain_text("Leak downstream" if state == "leaking" else "0.06")


def test_a_fold_keeps_its_state_over_a_new_snapshot_and_an_answer(opened: Opened, watch: CannedWatch) -> None:
    """Opened by key: open, and with the focus on it, when the page is drawn anew; open still when a form in
    it was sent and another fold was never touched."""
    page = opened("/water", PHONE)
    expect(page.locator("html.live")).to_have_count(1)
    page.locator("#sum-due").focus()
    page.keyboard.press("Enter")
    watch.tick()
    estimates = dict(watch.snapshot.estimates)
    estimates["left_L", "water"] = replace(estimates["left_L", "water"], value=250.0)
    watch.snapshot = replace(watch.snapshot, estimates=estimates)
    expect(page.locator("h1")).to_contain_text("250")
    expect(page.get_by_label("strainer: done")).to_be_visible()
    expect(page.locator("#sum-due")).to_be_focused()

    page.get_by_label("strainer: done").click()
    page.wait_for_url("**/water#due")
    expect(page.get_by_label("strainer: done")).to_be_visible()
    expect(page.get_by_role("button", name="Write it down")).to_be_hidden()
    assert [c.subject for c in watch.asked] == ["strainer"]


def test_a_leak_opens_what_it_rests_on_and_may_be_folded_again(opened: Opened, watch: CannedWatch) -> None:
    """Tight: folded. The leak comes: open by itself. Shut by hand it stays shut."""
    watch.record = WaterRecord(leak=True)
    page = opened("/water", PHONE)
    expect(page.locator(".rests")).to_be_hidden()
    watch.tick()
    watch.snapshot = replace(canned("leaking").snapshot, serial=2)
    expect(page.locator(".rests")).to_be_visible()
    page.locator("#sum-evidence-1").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".rests")).to_be_hidden()
    watch.snapshot = replace(watch.snapshot, serial=3, utc_s=NOW_S + 3600)
    expect(page.locator("#seen")).to_contain_text("As of Wed 16:21:00")
    expect(page.locator(".when")).to_contain_text("Tue 20:00 to Wed 20:00")
    expect(page.locator(".rests")).to_be_hidden()


def test_folds_open_without_scripts(opened: Opened) -> None:
    """By a touch, and by the address that the answer to a form leads to."""
    page = opened("/water", PHONE, script=False)
    page.locator("#sum-fills").click()
    expect(page.get_by_role("button", name="Write it down")).to_be_visible()
    page = opened("/water#due", PHONE, script=False)
    expect(page.get_by_label("strainer: done")).to_be_visible()


def test_what_is_typed_outlives_a_new_snapshot(opened: Opened, watch: CannedWatch) -> None:
    page = opened("/water", PANEL)
    page.locator("#sum-fills").click()
    page.get_by_label("Where from").fill("the spring")
    page.get_by_label("Where from").blur()
    watch.tick()
    estimates = dict(watch.snapshot.estimates)
    estimates["left_L", "water"] = replace(estimates["left_L", "water"], value=250.0)
    watch.snapshot = replace(watch.snapshot, estimates=estimates)
    expect(page.locator("h1")).to_contain_text("250")
    expect(page.get_by_label("Where from")).to_have_value("the spring")


def test_an_answer_of_the_guided_test_is_sent(opened: Opened, watch: CannedWatch) -> None:
    watch.snapshot = canned("guided").snapshot
    for script in (True, False):
        page = opened("/water", PHONE, script=script)
        page.get_by_role("button", name="Somebody drew water").click()
        page.wait_for_url("**/water#guided")
    assert [c.facts["answer"] for c in watch.asked] == ["drew"] * 2


def test_the_strip_is_pinched(opened: Opened, watch: CannedWatch) -> None:
    """Two fingers from 20 and 60 % of the width to 10 and 90 %: half the stretch, and what lay between the
    fingers stays between them. The middle of a day from Tue 16:00, 40 % of it, is 01:36: it comes to stand
    at the middle of the fingers, half way across 12 hours."""
    watch.record = WaterRecord(leak=True)
    page = opened("/water", PANEL)
    expect(page.locator("html.live")).to_have_count(1)
    page.evaluate("""() => {
      const strip = document.querySelector(".barcode > .strip"), box = strip.getBoundingClientRect();
      const send = (type, id, share) => strip.dispatchEvent(new PointerEvent(type, {
        bubbles: true, pointerId: id, pointerType: "touch",
        clientX: box.left + share * box.width, clientY: box.top + 20,
      }));
      send("pointerdown", 1, 0.2); send("pointerdown", 2, 0.6);
      send("pointermove", 1, 0.1); send("pointermove", 2, 0.9);
      send("pointerup", 2, 0.9); send("pointerup", 1, 0.1);
    }""")
    expect(page.locator(".barcode .when")).to_have_text("Tue 19:36 to Wed 07:36")
