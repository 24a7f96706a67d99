"""Signing in and out, and the password's file while the watch runs."""

from http.cookies import SimpleCookie
from pathlib import Path

import pytest

from tests.web.crew import KEPT, OTHER, WORDS, Aboard
from tests.web.test_rights import ACKNOWLEDGE, token


@pytest.fixture
def aboard(tmp_path: Path) -> Aboard:
    return Aboard(tmp_path)


def test_the_cookie_is_kept_from_scripts_and_other_sites(aboard: Aboard, tmp_path: Path) -> None:
    """RFC 6265bis: HttpOnly, SameSite=Strict; under https Secure, and with the __Host- prefix no Domain."""
    answer = aboard.browser().post("/signin", data={"password": WORDS})
    ((name, cookie),) = SimpleCookie(answer.headers["Set-Cookie"]).items()
    assert name == "ebbwatch"
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "strict", "/")
    assert (cookie["secure"], cookie["domain"], cookie["max-age"]) == ("", "", str(30 * 86400))
    tls = Aboard(tmp_path, base="https://127.0.0.1:8080")
    answer = tls.browser().post(
        "/signin", data={"password": WORDS}, headers={"Origin": "https://127.0.0.1:8080"}
    )
    ((name, cookie),) = SimpleCookie(answer.headers["Set-Cookie"]).items()
    assert (name, cookie["secure"], cookie["domain"]) == ("__Host-ebbwatch", True, "")


def test_signing_out_takes_the_cookie_back(aboard: Aboard) -> None:
    """Also when the session is old enough to be renewed by anything that is read."""
    client = aboard.signed_in()
    aboard.clock.now_s += 20 * 86400
    form = {"csrf": token(client), "back": "/night"}
    answer = client.post("/signout", data=form)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/night")
    assert answer.headers.get_list("Set-Cookie")[0].startswith('ebbwatch=""; ')
    assert len(answer.headers.get_list("Set-Cookie")) == 1
    assert client.post("/acknowledge", data={**ACKNOWLEDGE, **form}).status_code == 303
    assert aboard.watch.asked == []


def test_a_wrong_password_is_told_and_nothing_is_given(aboard: Aboard) -> None:
    for wrong in (
        "x",
        "",
        WORDS.upper(),
        WORDS + "\x00",
        WORDS + " ",
        "\x00" * 12,
        "\ud7ff\uffff",
        "a" * 9000,
    ):
        answer = aboard.browser().post("/signin", data={"password": wrong})
        assert answer.status_code in (403, 429)
        assert "Set-Cookie" not in answer.headers
    assert "That is not the password." in Aboard(aboard.file.parent).browser().post("/signin").text


def test_bytes_that_are_no_text_are_no_password(aboard: Aboard) -> None:
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    for body in (b"password=%ff%fe", b"password=\xff\xfe", b"password=%00", b"\xff=\xff", b"&&&=&", b""):
        answer = Aboard(aboard.file.parent).browser().post("/signin", content=body, headers=headers)
        assert answer.status_code == 403


def test_a_password_of_ten_million_bytes_is_not_read(aboard: Aboard) -> None:
    assert aboard.browser().post("/signin", data={"password": "a" * 10_000_000}).status_code == 413


# ---- the file, while the watch runs


def test_a_new_password_ends_every_session_at_once(aboard: Aboard) -> None:
    client = aboard.signed_in()
    form = {**ACKNOWLEDGE, "csrf": token(client)}
    aboard.set(OTHER)
    assert client.post("/acknowledge", data=form).headers["Location"].startswith("/signin")
    assert "Look only" in client.get("/").text
    assert aboard.watch.asked == []


@pytest.mark.parametrize(
    "spoiled", ["{", "[]", "null", '{"hash": "x", "key": "00"}', "\x00\xff", "[" * 50_000]
)
def test_a_damaged_file_lets_nobody_act_until_it_is_set_anew(spoiled: str, aboard: Aboard) -> None:
    client = aboard.signed_in()
    form = {**ACKNOWLEDGE, "csrf": token(client)}
    aboard.file.write_text(spoiled, "latin-1")
    assert client.post("/acknowledge", data=form).status_code == 303
    assert client.get("/").status_code == 200
    for answer in (client.get("/signin"), client.post("/signin", data={"password": WORDS})):
        assert answer.status_code == 503
        assert "Nobody can sign in" in answer.text
    aboard.set(KEPT)
    assert aboard.signed_in().get("/").status_code == 200
    assert aboard.watch.asked == []


def test_a_file_that_is_gone_or_open_to_others_lets_nobody_act(aboard: Aboard) -> None:
    client = aboard.signed_in()
    form = {**ACKNOWLEDGE, "csrf": token(client)}
    aboard.file.chmod(0o640)
    assert client.post("/acknowledge", data=form).status_code == 303
    assert client.get("/signin").status_code == 503
    aboard.file.unlink()
    assert client.post("/acknowledge", data=form).status_code == 303
    assert client.post("/signin", data={"password": WORDS}).status_code == 503
    assert aboard.watch.asked == []
