"""Who may ask, who may post, and what every answer carries."""

import pytest
from fastapi.testclient import TestClient

from monitor.records import Command
from tests.web.canned import CannedWatch
from tests.web.conftest import ClientOf
from web.app import create_app

OWN = {"Origin": "http://127.0.0.1:8080"}


@pytest.mark.parametrize(
    "path", ["/", "/nowhere", "/history/data?channel=zz&from=1&to=2", "/static/page.css"]
)
def test_every_answer_bears_the_headers(path: str, client: TestClient) -> None:
    """Content Security Policy Level 3: nothing by default, no inline script or style, no framing."""
    headers = client.get(path).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == "'none'"
    for directive in ("script-src", "style-src", "connect-src", "form-action"):
        assert policy[directive] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("host", ["127.0.0.1:8080", "localhost:8080", "[::1]:8080", "127.0.0.2"])
def test_on_loopback_its_own_names_are_answered(host: str, client: TestClient) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example", "marram.local", ""]
)
def test_on_loopback_a_foreign_name_is_refused(host: str, client: TestClient) -> None:
    """DNS rebinding: a name of somebody else's that points at our address."""
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "At dawn" not in answer.text
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("192.168.1.20:8080", 200), ("[fe80::1]", 200), ("marram", 200), ("marram.local", 200),
        ("marram.home.arpa", 200), ("boat.example", 200), ("evil.example", 421), ("local", 200),
    ],
)  # fmt: skip
def test_on_the_boats_network_addresses_and_local_names_are_answered(
    host: str, status: int, well: CannedWatch
) -> None:
    """RFC 6762 (.local) and RFC 8375 (home.arpa): names that no stranger can own; others by setting."""
    client = TestClient(create_app(well, hosts=["boat.example"]), base_url="http://192.168.1.20:8080")
    assert client.get("/", headers={"Host": host}).status_code == status


def test_an_acknowledgement_is_asked_of_the_watch(client: TestClient, well: CannedWatch) -> None:
    """A plain form, without JavaScript: the wish goes down, the page comes back."""
    form = {"alert": "pump running on: pressure pump", "back": "/night"}
    answer = client.post("/acknowledge", data=form, headers=OWN)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/night"
    assert well.asked == [Command("acknowledge", "pump running on: pressure pump")]


def test_a_mode_is_asked_of_the_watch(client: TestClient, well: CannedWatch) -> None:
    form = {"place": "sailing", "people": "as detected"}
    assert client.post("/mode", data=form, headers=OWN).status_code == 303
    assert well.asked == [Command("mode", "boat", form)]


def test_a_refusal_is_told_in_its_own_words(client: TestClient) -> None:
    answer = client.post("/acknowledge", data={"alert": "refuse me"}, headers=OWN)
    assert answer.status_code == 409
    assert "This was not done: there is no such alert." in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "null"},
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:9090"},
        {**OWN, "Sec-Fetch-Site": "cross-site"},
        {**OWN, "Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_post_from_elsewhere_does_nothing(
    headers: dict[str, str], client: TestClient, well: CannedWatch
) -> None:
    """Fetch Metadata where the browser sends it, Origin (RFC 6454) where it does not, else nothing."""
    for path in ("/acknowledge", "/mode", "/light"):
        assert client.post(path, data={"alert": "x"}, headers=headers).status_code == 403
    assert well.asked == []


def test_a_post_past_a_forms_size_is_not_read(client: TestClient, well: CannedWatch) -> None:
    assert client.post("/acknowledge", data={"alert": "x" * 20_000}, headers=OWN).status_code == 413

    def endless() -> object:
        yield b"alert=x"

    answer = client.post("/acknowledge", content=endless(), headers=OWN)  # type: ignore[arg-type]
    assert answer.status_code == 413
    assert well.asked == []


@pytest.mark.parametrize("back", ["//evil.example", "https://evil.example", "/\\evil.example", "evil", ""])
def test_the_way_back_never_leaves_the_boat(back: str, client: TestClient) -> None:
    answer = client.post("/light", data={"light": "dim", "back": back}, headers=OWN)
    assert answer.headers["Location"] == "/"


def test_a_form_with_a_missing_field_is_told(client: TestClient) -> None:
    answer = client.post("/acknowledge", data={"back": "/"}, headers=OWN)
    assert answer.status_code == 422
    assert "The form was not filled in as expected: alert." in answer.text


def test_there_are_no_pages_for_programmers(client: TestClient) -> None:
    """A generated interface description would load its scripts from outside."""
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client.get(path).status_code == 404


def test_a_method_that_is_not_meant_is_refused_in_dress(client_of: ClientOf, well: CannedWatch) -> None:
    answer = client_of(well).delete("/", headers=OWN | {"Content-Length": "0"})
    assert answer.status_code == 405
    assert 'class="' in answer.text
