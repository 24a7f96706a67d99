"""Sessions as signed cookies: what is believed, for how long, and what a clock that errs does to them."""

import base64
import hashlib
import hmac
import struct
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as run
from hypothesis import strategies as st

from tests.web.crew import KEPT, NOW_S, OTHER, WORDS, Aboard, Clock
from web.sessions import Sessions

DAY_S = 86400.0
YEARS_S = 8 * 365.25 * DAY_S


@pytest.fixture
def aboard(tmp_path: Path) -> Aboard:
    return Aboard(tmp_path)


def acts(aboard: Aboard, cookie: str) -> bool:
    """Whether who bears this cookie is taken for the crew; never by a failing page."""
    client = aboard.browser()
    answer = client.get("/", headers={"Cookie": f"ebbwatch={cookie}"})
    assert answer.status_code == 200
    form = {"place": "sailing", "people": "awake"}
    assert client.post("/mode", data=form, headers={"Cookie": f"ebbwatch={cookie}"}).status_code in (303, 403)
    return "Sign out" in answer.text


def test_a_cookie_is_signed_as_its_parts_say() -> None:
    """By hand: HMAC-SHA256 (RFC 2104) over id.time under the key derived by HMAC from the salt "session"."""
    cookie = Sessions(KEPT.key, Clock()).begin()
    signed, _, signature = cookie.rpartition(".")
    derived = hmac.new(KEPT.key, b"session", hashlib.sha256).digest()
    expected = base64.urlsafe_b64encode(hmac.new(derived, signed.encode(), hashlib.sha256).digest())
    assert signature == expected.decode().rstrip("=")
    at = base64.urlsafe_b64decode(signed.rpartition(".")[2] + "==")
    assert struct.unpack(">I", at.rjust(4, b"\0"))[0] == NOW_S


def test_forged_cookies_are_as_if_absent(aboard: Aboard) -> None:
    good = Sessions(KEPT.key, aboard.clock).begin()
    assert acts(aboard, good)
    id, at, signature = good.rsplit(".", 2)
    forged = [
        Sessions(OTHER.key, aboard.clock).begin(), Sessions(b"\0" * 32, aboard.clock).begin(),
        good[:-1], good[1:], good + "A", good.swapcase(), f"{id}.{at}", f"{id}.{at}.", f"..{signature}", "..",
        "", f"A{id}.{at}.{signature}", f"{id}.zzzzzz.{signature}", good * 40, "A" * 60_000, "%00",
        '"\\303"',
    ]  # fmt: skip
    assert [cookie for cookie in forged if acts(aboard, cookie)] == []
    assert aboard.watch.asked == []


@run(max_examples=100, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(st.text(max_size=300))
def test_no_text_is_taken_for_a_session(cookie: str) -> None:
    assert Sessions(KEPT.key, Clock()).look(cookie) is None


def test_a_session_lasts_thirty_days_from_its_last_use(aboard: Aboard) -> None:
    client = aboard.signed_in()
    for _ in range(5):
        aboard.clock.now_s += 29 * DAY_S
        assert "Sign out" in client.get("/").text
    aboard.clock.now_s += 30 * DAY_S + 2
    assert "Look only" in client.get("/").text


def test_it_is_renewed_once_a_day_and_its_forms_stay_good(aboard: Aboard) -> None:
    client = aboard.signed_in()
    assert "Set-Cookie" not in client.get("/").headers
    before = client.get("/").text
    aboard.clock.now_s += DAY_S + 1
    renewed = client.get("/")
    assert renewed.headers["Set-Cookie"].startswith("ebbwatch=")
    assert renewed.text == before, "the token goes by the session, not by its cookie"
    assert "Set-Cookie" not in client.get("/").headers


def test_what_is_kept_by_browsers_never_carries_a_session(aboard: Aboard) -> None:
    client = aboard.signed_in()
    aboard.clock.now_s += 2 * DAY_S
    assert "Set-Cookie" not in client.get("/static/page.css?v=1").headers
    assert "Set-Cookie" not in client.post("/light", data={"light": "dim"}).headers.get("Set-Cookie", "")[:9]


def test_a_clock_that_stepped_back_years_locks_nobody_out(aboard: Aboard) -> None:
    """A board without a clock of its own starts in the past. A cookie from the future is ours by its
    signature: it is believed, and not signed anew by the wrong clock; set right, it goes on."""
    client = aboard.signed_in()
    aboard.clock.now_s -= YEARS_S
    assert "Sign out" in client.get("/").text
    assert "Set-Cookie" not in client.get("/").headers
    aboard.clock.now_s += YEARS_S + 10 * DAY_S
    assert "Sign out" in client.get("/").text
    aboard.clock.now_s += 31 * DAY_S
    assert "Look only" in client.get("/").text


def test_who_signs_in_by_a_clock_that_is_years_slow_signs_in_once_more(aboard: Aboard) -> None:
    aboard.clock.now_s -= YEARS_S
    client = aboard.signed_in()
    assert "Sign out" in client.get("/").text
    aboard.clock.now_s += YEARS_S
    assert "Look only" in client.get("/").text
    assert client.post("/signin", data={"password": WORDS}).status_code == 303
    assert "Sign out" in client.get("/").text


@pytest.mark.parametrize("now_s", [-1e9, 0.0, 2.0**31, 2.0**37])
def test_any_clock_signs_what_it_believes(now_s: float, aboard: Aboard) -> None:
    aboard.clock.now_s = now_s
    assert "Sign out" in aboard.signed_in().get("/").text


def test_a_year_beyond_all_calendars_fails_no_page(aboard: Aboard) -> None:
    """Python's calendar ends with the year 9999."""
    aboard.clock.now_s = 2.0**40
    assert not acts(aboard, Sessions(KEPT.key, aboard.clock).begin())
