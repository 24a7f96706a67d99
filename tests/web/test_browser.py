"""The pages in Debian's chromium: drawn, live, quiet at night, and asking nobody outside."""

import base64
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.canned import CannedWatch, Server, WaterRecord, canned

PHONE, PANEL = (390, 844), (1024, 600)
PAGES = (
    "/", "/night", "/water", "/power", "/log", "/history?channel=house+voltage", "/rests/energy_days/house",
    "/nowhere",
)  # fmt: skip

Opened = Callable[..., Page]

LUMINANCE = """async (image) => {
  const picture = new Image();
  picture.src = "data:image/png;base64," + image;
  await picture.decode();
  const sheet = new OffscreenCanvas(picture.width, picture.height).getContext("2d");
  sheet.drawImage(picture, 0, 0);
  const data = sheet.getImageData(0, 0, picture.width, picture.height).data;
  const linear = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  let sum = 0, most = 0;
  for (let n = 0; n < data.length; n += 4) {
    const light = 0.2126 * linear(data[n]) + 0.7152 * linear(data[n + 1]) + 0.0722 * linear(data[n + 2]);
    sum += light;
    most = Math.max(most, light);
  }
  return [sum / (data.length / 4), most];
}"""
"""Mean and greatest relative luminance (WCAG 2.2) of a picture."""


@pytest.fixture
def watch() -> CannedWatch:
    return canned("well")


@pytest.fixture
def served(watch: CannedWatch) -> Iterator[Server]:
    with Server(watch) as server:
        yield server


@pytest.fixture
def opened(browser: Browser, served: Server) -> Iterator[Opened]:
    """Opens pages of the canned server; at the end, none has complained or asked for anything outside."""
    contexts, complaints, asked = [], list[str](), list[str]()

    def open_page(path: str, size: tuple[int, int], light: str = "day", script: bool = True) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, java_script_enabled=script
        )
        contexts.append(context)
        context.add_cookies([{"name": "light", "value": light, "url": served.url}])
        page = context.new_page()
        page.on("console", lambda m: complaints.append(m.text) if "404" not in m.text else None)
        page.on("pageerror", lambda e: complaints.append(str(e)))
        page.on("request", lambda r: asked.append(r.url))
        page.goto(served.url + path)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []
    assert [url for url in asked if not url.startswith(served.url)] == []
    assert asked


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_a_page_fits_its_screen(path: str, size: tuple[int, int], opened: Opened) -> None:
    """Nothing stands out to the right; the first sentence stands in the first screenful."""
    page = opened(path, size)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    box = page.locator("h1").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < size[1]


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
    for button in page.locator("button, nav a").all():
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
        page.get_by_role("button", name="Acknowledge").first.click()
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


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_the_night_dress_blinds_nobody(path: str, size: tuple[int, int], opened: Opened) -> None:
    """Dark adaptation is lost in a moment: at most 2 % of mean relative luminance on the whole page,
    and no point above 0.35 (limits of our own, measured by the WCAG formula)."""
    page = opened(path, size, light="night")
    if "history" in path:
        expect(page.locator("#zoom canvas")).to_be_visible()
    picture = base64.b64encode(page.screenshot(full_page=True)).decode()
    page.goto("about:blank")
    mean, most = page.evaluate(LUMINANCE, picture)
    assert mean <= 0.02
    assert most <= 0.35


@pytest.mark.parametrize("script", [True, False], ids=["with JavaScript", "without"])
def test_a_load_is_asked_by_form_and_answered_on_the_page(opened: Opened, script: bool) -> None:
    """Two numbers and a button; what was asked stands in the form, and the page stays alive."""
    page = opened("/power", PHONE, script=script)
    page.get_by_label("Takes, in watts").fill("2000")
    page.get_by_label("For, in minutes").fill("15")
    page.get_by_role("button", name="Reckon it").click()

    expect(page.get_by_text("Yes, as things stand.")).to_be_visible()
    expect(page.get_by_label("Takes, in watts")).to_have_value("2000")


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
    pressed = page.locator("main button, .looks a, .barcode .part rect, main select, main input:visible")
    assert pressed.count() > 20
    for one in pressed.all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 45


@pytest.mark.parametrize("state", ["guided", "filling", "leaking", "silent"])
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_water_fits_its_screen_in_every_state(
    state: str, size: tuple[int, int], opened: Opened, watch: CannedWatch
) -> None:
    shown = canned(state)
    watch.snapshot, watch.record = shown.snapshot, shown.record
    page = opened("/water", size)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_what_is_typed_outlives_a_new_snapshot(opened: Opened, watch: CannedWatch) -> None:
    page = opened("/water", PANEL)
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
