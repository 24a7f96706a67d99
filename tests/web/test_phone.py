"""The page that puts the boat on a phone."""

import hashlib
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from monitor.rights.certificate import make_certificate, read_certified
from monitor.rights.private_file import root_file
from tests.web.canned import CannedWatch, canned
from tests.web.test_pages import Words
from web.app import create_app

NOW = datetime(2026, 11, 25, 14, 21, tzinfo=UTC)
LACKS = "This page came unencrypted."


@pytest.fixture
def aboard(tmp_path: Path) -> CannedWatch:
    """A watch whose store lies in a folder of its own."""
    watch = canned("well")
    store = watch.settings.store.model_copy(update={"path": tmp_path / "boat.db"})
    watch.settings = watch.settings.model_copy(update={"store": store})
    return watch


def at(watch: CannedWatch, address: str) -> TestClient:
    return TestClient(create_app(watch), base_url=address, raise_server_exceptions=False)


def test_the_root_is_offered_as_phones_expect_it(aboard: CannedWatch) -> None:
    """DER (X.690) under the media type that browsers hand to the phone's own settings; without its key."""
    make_certificate(aboard.settings.store.path, "Marram", ["boat.local"], NOW)
    answer = at(aboard, "http://127.0.0.1").get("/phone/root")
    assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="boat-root.crt"'
    root = read_certified(root_file(aboard.settings.store.path))
    assert root is not None
    assert answer.content == root.der()
    assert answer.content[:2] == b"\x30\x82"
    assert b"PRIVATE" not in answer.content


def test_its_fingerprint_is_shown_in_pairs(aboard: CannedWatch) -> None:
    """SHA-256 over the very bytes that are downloaded."""
    make_certificate(aboard.settings.store.path, "Marram", ["boat.local"], NOW)
    client = at(aboard, "http://127.0.0.1")
    page = client.get("/phone").text
    shown = re.findall(r"<span>([0-9A-F]{2})</span>", page)
    assert "".join(shown) == hashlib.sha256(client.get("/phone/root").content).hexdigest().upper()
    assert "Compare before you trust" in page


@pytest.mark.parametrize(
    ("address", "lacks"),
    [("http://192.168.8.1:8470", True), ("http://boat.local", True), ("https://192.168.8.1:8470", False),
     ("https://boat.local", False), ("http://127.0.0.1:8470", False), ("http://[::1]:8470", False)],
)  # fmt: skip
def test_unencrypted_it_says_what_does_not_work(address: str, lacks: bool, aboard: CannedWatch) -> None:
    """W3C Secure Contexts: https, and addresses of the loopback; wake lock and service workers need one."""
    told = Words(at(aboard, address).get("/phone").text).text
    assert (LACKS in told) == lacks
    for what in ("the screen goes dark", "on the home screen as an app", "no sound comes"):
        assert (what in told) == lacks


def test_without_a_root_it_says_how_to_make_one(aboard: CannedWatch) -> None:
    client = at(aboard, "http://127.0.0.1")
    assert "ebbwatch certificate SETTINGS --name boat.local" in client.get("/phone").text
    answer = client.get("/phone/root")
    assert answer.status_code == 404
    assert "The boat has no root certificate yet." in answer.text


def test_a_damaged_root_fails_no_page(aboard: CannedWatch) -> None:
    root_file(aboard.settings.store.path).write_bytes(b"-----BEGIN")
    client = at(aboard, "http://127.0.0.1")
    assert "cannot be read" in client.get("/phone").text
    assert client.get("/phone/root").status_code == 404
