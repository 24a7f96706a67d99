"""What the tests of the screens share: canned watches, a client for each, one browser for all."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, sync_playwright

from tests.web.canned import CannedWatch, canned
from web.app import create_app

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip

ClientOf = Callable[[CannedWatch], TestClient]


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
