"""Signing in, in Debian's chromium: without JavaScript, at night without a flash, and back again."""

import base64
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import expect

from monitor.rights.certificate import make_certificate
from monitor.rights.password import write_password
from tests.web import canned as canned_module
from tests.web.canned import CannedWatch, Server, canned
from tests.web.conftest import PANEL, PHONE, Opened
from tests.web.crew import KEPT, WORDS
from tests.web.pages import LIGHT_OF
from web.app import create_app
from web.rights import Rights


@pytest.fixture
def watch(tmp_path: Path) -> CannedWatch:
    watch = canned("alerts")
    store = watch.settings.store.model_copy(update={"path": tmp_path / "boat.db"})
    watch.settings = watch.settings.model_copy(update={"store": store})
    return watch


@pytest.fixture
def served(watch: CannedWatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The canned server behind a password."""
    write_password(tmp_path / "password", KEPT)
    rights = Rights(tmp_path / "password", needed=True)
    monkeypatch.setattr(canned_module, "create_app", lambda watch: create_app(watch, rights=rights))
    with Server(watch) as server:
        yield server


@pytest.mark.parametrize("script", [True, False])
def test_who_signs_in_comes_back_and_acts(script: bool, opened: Opened, watch: CannedWatch) -> None:
    """From the line in a form's place to the form itself, with and without JavaScript; and out again."""
    page = opened("/water", PHONE, script=script)
    page.locator("main").get_by_role("link", name="Sign in to act").first.click()
    expect(page.locator("h1")).to_have_text("Sign in to act aboard Marram.")
    page.get_by_label("The crew's password").fill(WORDS)
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(r"/water$"))
    button = page.get_by_role("button", name="Acknowledge").first
    button.click()
    if script:
        button.click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    assert [(c.kind, c.subject) for c in watch.asked] == [("acknowledge", "pump running on: pressure pump")]
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("button", name="Acknowledge")).to_have_count(0)


@pytest.mark.parametrize("path", ["/signin", "/phone"])
@pytest.mark.parametrize("size", [PHONE, PANEL])
def test_the_sheets_fit_and_are_quiet_at_night(
    path: str, size: tuple[int, int], opened: Opened, watch: CannedWatch
) -> None:
    """The limits of every page by night: 2 % of mean relative luminance (WCAG 2.2), no point above 0.35."""
    make_certificate(watch.settings.store.path, "Marram", ["boat.local"], datetime(2026, 11, 25, tzinfo=UTC))
    page = opened(path, size, light="night")
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    for button in page.locator("button:visible, .ways a, .who a, .take").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 40
    picture = base64.b64encode(page.screenshot(full_page=True)).decode()
    page.goto("about:blank")
    mean, most, _ = page.evaluate(LIGHT_OF, picture)
    assert mean <= 0.02
    assert most <= 0.35
