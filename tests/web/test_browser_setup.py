"""The first-run guide in Debian's chromium, with and without JavaScript: `ebbwatch run` without a settings
file, a battery and a tank on the bus, and the watch begins on Ahead. Its pages are looked at by night."""

import base64
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import can
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.bench_bus import GROUP, allow_multicast
from tests.brokers import free_port
from tests.commands.test_run import ends_in_order, page, process
from tests.sources.listening import eventually
from tests.web.conftest import PANEL, PHONE
from tests.web.pages import LIGHT_OF

BATTERY = can.Message(arbitration_id=0x19F21423, data=bytes.fromhex("00300584FF777407"))
"""127508: 13.28 V, -12.4 A, 25.0 °C."""
TANK = can.Message(arbitration_id=0x19F21123, data=bytes.fromhex("10093DB80B0000FF"))
"""127505: fresh water, 62.5 % of 300 L."""
SLOW_MS = 60_000


@contextmanager
def speaking(port: int) -> Iterator[None]:
    """A battery and a tank that say the same again and again."""
    stop = threading.Event()

    def speak() -> None:
        with can.Bus(GROUP, "udp_multicast", ignore_config=True, port=port, hop_limit=0) as bus:
            while not stop.wait(0.1):
                bus.send(BATTERY)
                bus.send(TANK)

    voice = threading.Thread(target=speak)
    voice.start()
    try:
        yield
    finally:
        stop.set()
        voice.join()


def go_on(page: Page, name: str = "Go on") -> None:
    page.get_by_role("button", name=name, exact=True).or_(
        page.get_by_role("link", name=name, exact=True)
    ).click()


def fits_and_is_quiet(page: Page) -> None:
    """As every page by night: 2 % of mean relative luminance (WCAG 2.2), no point above 0.35."""
    for size in (PHONE, PANEL):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], page.url
        for target in page.locator(".setup button:visible, .setup .go:visible, .choices label:visible").all():
            box = target.bounding_box()
            assert box is not None
            assert box["height"] >= 45, page.url
    picture = base64.b64encode(page.screenshot(full_page=True)).decode()
    aside = page.context.new_page()
    mean, most, _ = aside.evaluate(LIGHT_OF, picture)
    aside.close()
    assert mean <= 0.02, page.url
    assert most <= 0.35, page.url


@pytest.mark.parametrize("script", [True, False])
def test_from_no_settings_to_ahead(script: bool, browser: Browser, tmp_path: Path) -> None:
    allow_multicast(GROUP)
    port, bus_port = free_port(), free_port()
    arguments = ("run", "--settings", "boat.toml", "--listen", f"127.0.0.1:{port}")
    with process(tmp_path, *arguments) as started, speaking(bus_port):
        assert eventually(lambda: "First run" in page(port), 90)
        context = browser.new_context(
            viewport={"width": PHONE[0], "height": PHONE[1]}, java_script_enabled=script, locale="en-GB"
        )
        context.set_default_timeout(SLOW_MS)
        expect.set_options(timeout=SLOW_MS)
        context.add_cookies([{"name": "light", "value": "night", "url": f"http://127.0.0.1:{port}"}])
        seen = context.new_page()
        complaints: list[str] = []
        seen.on("pageerror", lambda e: complaints.append(str(e)))
        look = fits_and_is_quiet if script else lambda page: None
        seen.goto(f"http://127.0.0.1:{port}/water")
        expect(seen.locator("h1")).to_have_text("Which language shall she speak?")
        look(seen)
        go_on(seen)
        seen.get_by_label("Name").fill("Tern")
        go_on(seen)
        seen.get_by_label("People").fill("2")
        go_on(seen)
        look(seen)
        seen.get_by_label("Time zone").select_option("Europe/Lisbon")
        go_on(seen)
        seen.get_by_role("link", name="UDP multicast").click()
        seen.get_by_label("Multicast group").fill(GROUP)
        seen.get_by_label("Port").fill(str(bus_port))
        look(seen)
        go_on(seen, "Listen there")
        look(seen)
        go_on(seen)
        for called in ("Battery 0", "Tank 0: fresh water"):
            while not seen.get_by_role("link", name=f"This is … {called}").count():
                seen.goto(f"http://127.0.0.1:{port}/setup/heard")
        look(seen)
        seen.get_by_role("link", name="This is … Battery 0").click()
        look(seen)
        go_on(seen)
        expect(seen.locator(".hears")).to_contain_text("13.28")
        expect(seen.get_by_text("Read as usual it is being discharged with 12.4")).to_be_visible()
        seen.get_by_label("Capacity").fill("200")
        look(seen)
        go_on(seen, "That is it")
        seen.get_by_role("link", name="This is … Tank 0: fresh water").click()
        go_on(seen)
        expect(seen.get_by_label("It holds")).to_have_value("300")
        go_on(seen, "That is it")
        go_on(seen)
        expect(seen.locator("main")).to_contain_text("house: a bank of 200 Ah")
        seen.get_by_text("The file as it will be").click()
        look(seen)
        go_on(seen, "Write it, and begin the watch")
        expect(seen).to_have_url(re.compile(r":\d+/$"))
        expect(seen.locator("header nav")).to_be_visible()
        expect(seen.locator(".boat")).to_have_text("Tern")
        assert complaints == []
        seen.goto("about:blank")
        context.close()
        assert eventually(lambda: "13.28" in page(port, "/rests/reading/house%20voltage"), 60)
        said = ends_in_order(started, tmp_path)
    assert "the guide is on the dashboard" in said
    assert 'name = "Tern"' in (tmp_path / "boat.toml").read_text("utf-8")
    assert not (tmp_path / "boat.toml.draft").exists()
