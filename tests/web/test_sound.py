"""What is to be heard: the stream's event, and the tones that a page makes of it in Debian's chromium."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace

import anyio
import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.records import Command, Sound
from tests.web.canned import CannedWatch, Server, canned
from tests.web.conftest import PHONE, Opened
from web import live

LISTEN = """
window.played = [];
const make = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () {
  const tone = make.call(this);
  const start = tone.start.bind(tone);
  tone.start = function (at) {
    window.played.push(tone.frequency.value);
    document.documentElement.dataset.played = window.played.length;
    start(at);
  };
  return tone;
};
"""
"""Writes down every tone that is begun."""
PLAYED = "window.played.length"


@pytest.fixture
def watch() -> CannedWatch:
    return canned("every alert")


def sounding(watch: CannedWatch, **changes: object) -> None:
    """A newer snapshot in which something else is to be heard."""
    watch.tick()
    s = watch.snapshot
    watch.snapshot = replace(s, calls=replace(s.calls, **changes))  # type: ignore[arg-type]


def test_the_stream_tells_what_is_to_be_heard_at_once_and_when_it_changes(
    watch: CannedWatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On connecting; not again while it stays; and again when somebody has silenced it."""

    async def newer(seconds: float) -> None:
        if watch.snapshot.serial == 3:
            sounding(watch, sound=Sound("", "low voltage/house", 4), hushed_until_s=watch.snapshot.at_s + 30)
        else:
            watch.tick()

    async def take() -> list[dict[str, str]]:
        stream = live.events(watch, anyio.Event())
        return [await anext(stream) for _ in range(6)]

    monkeypatch.setattr(anyio, "sleep", newer)
    told = anyio.run(take)
    assert [e["event"] for e in told] == ["sound", "snapshot", "snapshot", "snapshot", "sound", "snapshot"]
    first, second = (json.loads(e["data"]) for e in told if e["event"] == "sound")
    assert (first["pattern"], first["serial"], first["alert"]) == ("alarm", 4, "low voltage/house")
    assert (first["grade"], first["name"]) == ("Alarm", "Voltage low (house)")
    assert first["told"] == "Alarm: Voltage low (house)."
    assert (second["pattern"], second["told"]) == ("", "Silenced for 30 s: Voltage low (house).")
    assert first["open"] == "7 alerts"


@pytest.fixture
def listened(browser: Browser, served: Server) -> Iterator[Page]:
    """A phone's page on which every tone is written down; nothing has complained at the end."""
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    context.add_init_script(LISTEN)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text))
    page.on("pageerror", lambda e: complaints.append(str(e)))
    page.goto(served.url + "/")
    yield page
    context.close()
    assert complaints == []


def played(page: Page, least: int, most: int = 99) -> None:
    """Waits until so many tones were begun; expect's own way of looking, for the pages forbid eval."""
    counts = "|".join(str(n) for n in range(least, most + 1))
    expect(page.locator("html")).to_have_attribute("data-played", re.compile(f"^({counts})$"))


def arm(page: Page) -> None:
    page.locator("#seen").click()


def test_nothing_sounds_before_a_touch_and_the_page_says_so(listened: Page) -> None:
    """Browsers want a touch first (HTML standard: user activation); then the alarm begins."""
    expect(listened.get_by_text("Sound is not armed: touch once.")).to_be_visible()
    assert listened.evaluate(PLAYED) == 0
    arm(listened)
    expect(listened.get_by_text("Sound is not armed")).to_be_hidden()
    played(listened, 4)


def test_an_alarm_is_silenced_for_as_long_as_the_watch_says(listened: Page, watch: CannedWatch) -> None:
    """The button asks the watch without leaving the page. The tone ends when the watch says so and comes
    back when it says so (MSC.302(87) 7.3.5: half a minute), though nobody has touched the page again."""
    arm(listened)
    played(listened, 4)
    with listened.expect_response("**/hush"):
        listened.get_by_role("button", name="Silence for 30 s").click()
    assert watch.asked == [Command("hush", "sound")]

    sounding(watch, sound=Sound("", "low voltage/house", 4), hushed_until_s=watch.snapshot.at_s + 30)
    expect(listened.get_by_text("Silenced for 30 s: Voltage low (house).")).to_be_visible()
    heard = listened.evaluate(PLAYED)
    sounding(watch, sound=Sound("alarm", "low voltage/house", 4))
    expect(listened.get_by_text("Alarm: Voltage low (house).")).to_be_visible()
    played(listened, heard + 4)


def test_a_warning_is_one_tone_a_serial(listened: Page, watch: CannedWatch) -> None:
    """Softer than an alarm and not repeated; opening another page does not sound it again."""
    told = listened.get_by_text("Alarm: Voltage low (house).")
    expect(told).to_be_visible()
    sounding(watch, sound=Sound("warning", "low water/water", 5))
    expect(told).to_be_hidden()
    arm(listened)
    played(listened, 1, 1)
    sounding(watch, sound=Sound("warning", "low water/water", 6))
    played(listened, 2, 2)
    sounding(watch, sound=Sound("warning", "low water/water", 6), hushed_until_s=1.0)
    listened.get_by_role("link", name="Log").click()
    expect(listened.locator("#calls")).to_have_text("7 alerts")
    arm(listened)
    expect(listened.get_by_text("Sound is not armed")).to_be_hidden()
    sounding(watch, sound=Sound("warning", "low water/water", 7))
    played(listened, 1, 1)


def test_tones_are_the_falling_pair_and_the_soft_one(listened: Page, watch: CannedWatch) -> None:
    """Each pair falls by a fifth, 3:2 (equal temperament to 2 %: common practice)."""
    arm(listened)
    played(listened, 4)
    high, low, again, last = listened.evaluate("window.played.slice(0, 4)")
    assert (high, low) == (again, last)
    assert high / low == pytest.approx(1.5, rel=0.02)


def test_when_the_watch_falls_silent_the_page_says_that_nothing_can_sound(
    browser: Browser, served: Server
) -> None:
    """Half a minute without a word of the stream: the tone ends, and calm is not feigned."""
    context = browser.new_context()
    page = context.new_page()
    page.clock.install()
    page.goto(served.url + "/")
    expect(page.get_by_text("Alarm: Voltage low (house).")).to_be_visible()
    page.clock.run_for(31_000)
    expect(page.get_by_text("Nothing is heard from the watch: no alarm can sound here.")).to_be_visible()
    context.close()


def test_once_armed_it_stays_so_over_a_link_and_over_dusk(listened: Page, watch: CannedWatch) -> None:
    """The pages follow one another and are loaded anew in the night dress: nobody is there to touch them
    again. So chromium has it; where a browser does not, the bar says that the sound is not armed."""
    arm(listened)
    played(listened, 4)
    listened.get_by_role("link", name="Water", exact=True).click()
    listened.wait_for_url("**/water")
    played(listened, 4)
    expect(listened.locator("html.day")).to_have_count(1)
    watch.tick()
    watch.snapshot = replace(watch.snapshot, utc_s=watch.snapshot.darkness[14][0] + 60)
    expect(listened.locator("html.night")).to_have_count(1)
    played(listened, 4)
    expect(listened.get_by_text("Sound is not armed")).to_be_hidden()


def test_the_screen_is_kept_awake_once_the_sound_is_armed(browser: Browser, served: Server) -> None:
    """Screen Wake Lock (W3C): asked for while the page is visible, and again when it was let go."""
    context = browser.new_context()
    context.add_init_script(
        "navigator.wakeLock.request = (kind) => {"
        " document.documentElement.dataset.awake = (document.documentElement.dataset.awake || '') + kind;"
        " window.lock = new EventTarget(); return Promise.resolve(window.lock); }"
    )
    page = context.new_page()
    page.goto(served.url + "/")
    expect(page.locator("#sound")).to_be_visible()
    assert page.locator("html").get_attribute("data-awake") is None
    arm(page)
    expect(page.locator("html")).to_have_attribute("data-awake", "screen")
    page.evaluate("window.lock.dispatchEvent(new Event('release'))")
    arm(page)
    expect(page.locator("html")).to_have_attribute("data-awake", "screenscreen")
    context.close()


def test_an_acknowledged_alert_leaves_the_page_open(listened: Page, watch: CannedWatch) -> None:
    """The sound, once armed, stays so: the page is not loaded anew, and what is refused is said."""
    arm(listened)
    listened.evaluate("window.stays = true")
    with listened.expect_response("**/acknowledge"):
        listened.get_by_role("button", name="Acknowledge").first.dblclick()
    assert watch.asked == [Command("acknowledge", "low voltage/house")]
    assert listened.evaluate("window.stays") is True


def test_the_bar_can_be_pressed_and_covers_no_alarm(opened: Opened) -> None:
    """12 mm high, 45 CSS px of 1/96 inch, and in the night dress on a black ground."""
    page = opened("/", PHONE, light="night")
    button = page.get_by_role("button", name=re.compile("Silence")).bounding_box()
    card = page.locator(".alert.alarm").bounding_box()
    bar = page.locator("#sound").bounding_box()
    assert button is not None
    assert card is not None
    assert bar is not None
    assert button["height"] >= 45
    assert card["y"] + card["height"] <= bar["y"]
    assert (
        page.evaluate("getComputedStyle(document.getElementById('sound')).backgroundColor") == "rgb(0, 0, 0)"
    )
