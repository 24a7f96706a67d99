"""What the tests of the screens share: canned watches, a client for each, one browser for all."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, sync_playwright

from tests.web.canned import CannedWatch, Server, canned
from web.app import create_app

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip

ClientOf = Callable[[CannedWatch], TestClient]
Opened = Callable[..., Page]
PHONE, PANEL = (390, 844), (1024, 600)


@pytest.fixture
def client_of() -> ClientOf:
    """A client on loopback for a watch; errors of ours come as answers, not as exceptions."""

    def make(watch: CannedWatch) -> TestClient:
        return TestClient(
            create_app(watch),
            base_url="http://127.0.0.1:8080",
            raise_server_exceptions=False,
            follow_redirects=False,
        )

    return make


@pytest.fixture
def well() -> CannedWatch:
    return canned("well")


@pytest.fixture
def client(client_of: ClientOf, well: CannedWatch) -> TestClient:
    return client_of(well)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's chromium, headless; closed with the module, for its event loop bars every other one."""
    if not CHROMIUM.exists():
        pytest.fail(f"{CHROMIUM} is missing: install the Debian package chromium", pytrace=False)
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield found
        found.close()


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


def page_of(client_of: ClientOf, watch: CannedWatch, query: str = "") -> str:
    """The page of water as it is sent."""
    return client_of(watch).get(f"/water{query}").text
