"""What is kept on a phone: the shell, a sheet that says that nothing is heard, and never a number."""

import json
import struct

from fastapi.testclient import TestClient
from playwright.sync_api import Browser, expect

from tests.web.canned import Server, canned

PNG = b"\x89PNG\r\n\x1a\n"


def test_the_manifest_names_what_an_installed_page_needs(client: TestClient) -> None:
    """The members and values of the W3C's Web Application Manifest; icons of the sizes they say they are
    (PNG, ISO 15948: width and height are the first words of IHDR)."""
    answer = client.get("/manifest.webmanifest")
    assert answer.headers["content-type"].startswith("application/manifest+json")
    told = answer.json()
    assert told["display"] == "standalone"
    assert told["start_url"] == told["scope"] == "/"
    assert {icon["purpose"] for icon in told["icons"]} == {"any", "maskable"}
    for icon in told["icons"]:
        file = client.get(icon["src"]).content
        assert file[:8] == PNG
        width, height = struct.unpack(">II", file[16:24])
        assert f"{width}x{height}" == icon["sizes"]


def test_the_worker_is_served_at_the_root_and_asks_for_the_shell_alone(client: TestClient) -> None:
    """A worker's scope is the folder it is served from (Service Workers, W3C): it must be the root. All it
    keeps is there, and is a file."""
    answer = client.get("/worker.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["cache-control"] == "no-cache"
    kept = answer.text.partition("const KEPT = ")[2].partition(";")[0]
    for address in json.loads(kept):
        assert address.startswith("/static/")
        assert client.get(address).status_code == 200
    policy = client.get("/").headers["content-security-policy"]
    assert "worker-src 'self'" in policy
    assert "manifest-src 'self'" in policy


def test_a_boat_that_is_not_heard_is_shown_without_any_number(browser: Browser) -> None:
    """The server goes; every page that was looked at before is now the one sheet, without a figure."""
    context = browser.new_context()
    page = context.new_page()
    with Server(canned("well")) as server:
        page.goto(server.url + "/")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.goto(server.url + "/water")
        expect(page.locator(".days").first).to_be_visible()
        address = server.url
    for path in ("/", "/water"):
        page.goto(address + path)
        expect(page.get_by_role("heading", name="Nothing is heard from the boat.")).to_be_visible()
        said = page.locator("body").inner_text()
        assert not any(sign.isdigit() for sign in said), said
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"
    kept = page.evaluate(
        "caches.keys().then(names => Promise.all(names.map(n => caches.open(n).then(c => c.keys()))))"
        ".then(all => all.flat().map(r => new URL(r.url).pathname))"
    )
    assert kept
    assert all(path.startswith("/static/") for path in kept)
    context.close()
