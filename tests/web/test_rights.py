"""Acting needs a session and its token, on every address there is; a guest looks, or sees nothing."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from starlette.routing import Route

from monitor.records import Command
from tests.web.canned import STATES, canned
from tests.web.crew import OWN, WORDS, Aboard
from tests.web.test_pages import PAGES, Words
from web.rights import FREE_TO_READ, FREE_TO_WRITE, READING

ACKNOWLEDGE = {"alert": "pump running on: pressure pump", "back": "/night"}


@pytest.fixture
def aboard(tmp_path: Path) -> Aboard:
    return Aboard(tmp_path)


@pytest.fixture
def private(tmp_path: Path) -> Aboard:
    return Aboard(tmp_path, guests="nothing")


def addresses(aboard: Aboard) -> Iterator[tuple[str, str]]:
    """Every method and path that the app answers, its parameters filled in."""
    for route in aboard.app.routes:
        assert isinstance(route, Route) or route.path == "/static", route  # type: ignore[attr-defined]
        if isinstance(route, Route):
            for method in route.methods or ():
                yield method, re.sub(r"\{[^}]+\}", "2026-11-20", route.path)


def token(client: TestClient, path: str = "/") -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(path).text)
    assert found is not None
    return found[1]


# ---- whatever is not a reading


def test_every_write_there_is_needs_a_session(aboard: Aboard) -> None:
    """The routes as the app has them, so that one added tomorrow is asked, too."""
    writes = [(m, p) for m, p in addresses(aboard) if m not in READING and p not in FREE_TO_WRITE]
    assert len(writes) >= 11
    for method, path in writes:
        answer = aboard.browser().request(method, path, data=ACKNOWLEDGE)
        assert (answer.status_code, answer.headers["Location"]) == (303, "/signin?next=/"), path
        script = aboard.browser().request(method, path, data=ACKNOWLEDGE, headers={"Accept": "*/*"})
        assert script.status_code == 403, path
    assert aboard.watch.asked == []


def test_an_address_or_method_that_nobody_made_is_refused_before_it_is_looked_for(aboard: Aboard) -> None:
    for method in ("POST", "PUT", "PATCH", "DELETE", "PROPFIND"):
        for path in ("/", "/nowhere", "/static/page.css", "/signin/", "//signin", "/light/../acknowledge"):
            assert aboard.browser().request(method, path, data=ACKNOWLEDGE).status_code == 303


def test_every_write_there_is_needs_the_sessions_token(aboard: Aboard) -> None:
    client = aboard.signed_in()
    for method, path in addresses(aboard):
        if method in READING or path in FREE_TO_WRITE:
            continue
        for form in (ACKNOWLEDGE, {**ACKNOWLEDGE, "csrf": "x"}, {**ACKNOWLEDGE, "csrf": "\u00fc\x00" * 500}):
            answer = client.request(method, path, data=form)
            assert answer.status_code == 403, path
            assert "This form was drawn before you signed in" in answer.text
        assert client.request(method, path, json={**ACKNOWLEDGE, "csrf": token(client)}).status_code == 403
    assert aboard.watch.asked == []


def test_with_both_the_wish_goes_down(aboard: Aboard) -> None:
    """The token in the form, as the pages send it, or in a header."""
    client = aboard.signed_in()
    answer = client.post("/acknowledge", data={**ACKNOWLEDGE, "csrf": token(client)})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/night")
    assert client.post("/acknowledge", data=ACKNOWLEDGE, headers={"X-CSRF": token(client)}).status_code == 303
    assert aboard.watch.asked == 2 * [Command("acknowledge", ACKNOWLEDGE["alert"])]


def test_the_guard_stands_beside_it(aboard: Aboard) -> None:
    """A session and its token do not let another site post."""
    client = aboard.signed_in()
    form = {**ACKNOWLEDGE, "csrf": token(client)}
    assert (
        client.post("/acknowledge", data=form, headers={"Origin": "http://evil.example"}).status_code == 403
    )
    assert aboard.watch.asked == []


def test_a_token_of_another_session_is_none(aboard: Aboard) -> None:
    one, other = aboard.signed_in(), aboard.signed_in()
    assert token(one) != token(other)
    assert one.post("/acknowledge", data={**ACKNOWLEDGE, "csrf": token(other)}).status_code == 403


def test_htmx_is_sent_to_sign_in_and_back_again(aboard: Aboard) -> None:
    """HX-Redirect, as htmx reads it from an answer of any status."""
    headers = {"HX-Request": "true", "HX-Current-URL": "http://127.0.0.1:8080/water?from=1&to=2"}
    answer = aboard.browser().post("/acknowledge", data=ACKNOWLEDGE, headers=headers)
    assert answer.status_code == 403
    assert answer.headers["HX-Redirect"] == "/signin?next=/water%3Ffrom%3D1%26to%3D2"


def test_a_form_sent_too_late_leads_back_to_its_page(aboard: Aboard) -> None:
    headers = {"Referer": "http://127.0.0.1:8080/water?from=1"}
    answer = aboard.browser().post("/water/crew", data={"people": "3"}, headers=headers)
    assert answer.headers["Location"] == "/signin?next=/water%3Ffrom%3D1"
    for elsewhere in (
        "http://evil.example/water",
        "http://127.0.0.1:8080//evil.example",
        "http://[",
        "water",
    ):
        answer = aboard.browser().post("/water/crew", data={"people": "3"}, headers={"Referer": elsewhere})
        assert answer.headers["Location"] == "/signin?next=/"


# ---- forms


@pytest.mark.parametrize("state", STATES)
def test_every_form_that_posts_bears_the_token_or_is_not_there(state: str, tmp_path: Path) -> None:
    aboard = Aboard(tmp_path, state=state)
    crew, guest = aboard.signed_in(), aboard.browser()
    for path in PAGES if state == "alerts" else ("/", "/water", "/loads"):
        drawn = re.findall(r"<form\b[^>]*method=\"post\".*?</form>", crew.get(path).text, re.DOTALL)
        bare = [form for form in drawn if 'name="csrf" value="' not in form]
        assert len(drawn) >= 2
        assert [form for form in bare if 'action="/light"' not in form] == [], path
        seen = guest.get(path).text
        assert re.findall(r'<form\b[^>]*method="post"[^>]*action="([^"]+)"', seen) == ["/light"], path
        assert "csrf" not in seen
        assert "Look only" in Words(seen).text


def test_a_guest_is_told_where_to_sign_in_and_one_who_is_signed_in_is_told_so(aboard: Aboard) -> None:
    assert '<a href="/signin?next=/">Sign in to act</a>' in aboard.browser().get("/").text
    crew = aboard.signed_in().get("/").text
    assert "Sign in to act" not in crew
    assert "Signed in" in Words(crew).said


def test_without_a_password_nobody_signs_in(client: TestClient) -> None:
    """On loopback, as in the demo: forms without a token, for there is no session to borrow."""
    page = client.get("/").text
    assert 'action="/mode"' in page
    assert "csrf" not in page
    assert "Signed in" not in page
    assert "Look only" not in page
    assert "No password is set" in client.get("/signin").text
    assert client.post("/signin", data={"password": "x"}, headers=OWN).headers["Location"] == "/"


# ---- what guests see


def test_guests_look_at_every_page_and_at_the_live_stream(aboard: Aboard) -> None:
    for path in PAGES:
        assert aboard.browser().get(path).status_code in (200, 404)
    assert aboard.browser().get("/history/data?channel=house+voltage&from=1&to=9").status_code == 200


def test_guests_may_see_nothing_at_all(private: Aboard) -> None:
    """Every page, the stream, data and files; what nobody made tells by nothing that it is not there."""
    for method, path in [*addresses(private), ("GET", "/nowhere"), ("GET", "/night/2026-11-20.csv")]:
        if method in READING and path not in FREE_TO_READ:
            answer = private.browser().request(method, path)
            assert answer.status_code == 303, path
            assert answer.headers["Location"].startswith("/signin?next=/")
            assert private.browser().request(method, path, headers={"Accept": "*/*"}).status_code == 403
    answer = private.browser().get("/night", headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["HX-Redirect"]) == (403, "/signin?next=/")
    assert private.browser().get("/live", headers={"Accept": "text/event-stream"}).status_code == 403


def test_what_is_free_tells_nothing_of_the_boat_but_her_name(private: Aboard) -> None:
    assert private.browser().get("/static/page.css").status_code == 200
    private.watch.snapshot = canned("alerts").snapshot
    for path in ("/signin", "/phone"):
        page = private.browser().get(path).text
        assert "Marram" in page
        assert "/live" not in page
        assert not re.search(r"\d+ (Ah|V|L|%)|dawn|anchor|3 alerts|As of", page), path


def test_the_way_in_leads_back_to_the_page_that_was_asked_for(private: Aboard) -> None:
    client = private.browser()
    location = client.get("/water?from=1&to=2").headers["Location"]
    assert location == "/signin?next=/water%3Ffrom%3D1%26to%3D2"
    assert '<input type="hidden" name="next" value="/water?from=1&amp;to=2">' in client.get(location).text
    answer = client.post("/signin", data={"password": WORDS, "next": "/water?from=1&to=2"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/water?from=1&to=2")
    assert client.get("/").status_code == 200


@pytest.mark.parametrize(
    "next_",
    [
        "//evil.example", "/\\evil.example", "https://evil.example", "javascript:alert(1)", "evil", "",
        "/\t/evil.example", "/\n/evil.example", "\\\\evil.example", " //evil.example", "/\x00",
        "/" + "a" * 9999,
    ],
)  # fmt: skip
def test_the_way_back_never_leaves_the_boat(next_: str, aboard: Aboard) -> None:
    """What browsers take for another host: two strokes, a backslash, tabs and newlines (WHATWG URL, 4.4)."""
    client = aboard.browser()
    answer = client.post("/signin", data={"password": WORDS, "next": next_})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert 'name="next" value="/"' in aboard.browser().get("/signin", params={"next": next_}).text


def test_html_in_what_was_sent_is_text(aboard: Aboard) -> None:
    page = aboard.browser().get("/signin", params={"next": '/"><script>alert(1)</script>'}).text
    assert "<script" not in page
    form = {"password": '"><script>alert(1)</script>', "next": "/<b>"}
    answer = aboard.browser().post("/signin", data=form)
    assert answer.status_code == 403
    assert "alert(1)" not in answer.text
    assert "<b>" not in answer.text
