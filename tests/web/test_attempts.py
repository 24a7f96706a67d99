"""How often a password may be tried: reckoned by hand from the two paces, before anything is hashed."""

from pathlib import Path

import pytest

from monitor.rights.password import Password
from tests.web.crew import WORDS, Aboard, Clock
from web.attempts import ALL, EACH, MOST_ADDRESSES, Attempts, network_of


@pytest.fixture
def clock() -> Clock:
    return Clock(1000.0)


def let_through(attempts: Attempts, address: str, tries: int) -> int:
    return sum(attempts.wait_s(address) == 0 for _ in range(tries))


def test_an_address_tries_five_times_and_then_every_half_minute(clock: Clock) -> None:
    attempts = Attempts(clock)
    assert let_through(attempts, "192.168.8.7", 100) == 5
    assert attempts.wait_s("192.168.8.7") == 30
    clock.now_s += 12.5
    assert attempts.wait_s("192.168.8.7") == 18
    clock.now_s += 17.5
    assert attempts.wait_s("192.168.8.7") == 0
    clock.now_s += 3600
    assert let_through(attempts, "192.168.8.7", 100) == 5


def test_all_together_try_twenty_times_and_then_every_six_seconds(clock: Clock) -> None:
    attempts = Attempts(clock)
    assert sum(let_through(attempts, f"192.168.8.{n}", 3) for n in range(100)) == 20
    assert attempts.wait_s("192.168.9.1") == 6
    clock.now_s += 60
    assert sum(let_through(attempts, f"192.168.10.{n}", 3) for n in range(100)) == 10


def test_two_hours_of_guessing_are_bounded(clock: Clock) -> None:
    """By hand: 20 + 7200 s / 6 s = 1220 from however many addresses; 5 + 7200 / 30 = 245 from one."""
    attempts, one = Attempts(clock), Attempts(clock)
    tried = alone = 0
    for second in range(7200):
        clock.now_s += 1
        tried += let_through(attempts, f"10.{second % 250}.{second % 199}.1", 2)
        alone += let_through(one, "10.0.0.1", 2)
    assert tried <= ALL.at_once + 7200 / ALL.every_s == 1220
    assert alone <= EACH.at_once + 7200 / EACH.every_s == 245
    assert min(tried / 1220, alone / 245) > 0.99


def test_what_is_remembered_of_addresses_is_bounded(clock: Clock) -> None:
    attempts = Attempts(clock)
    for n in range(50_000):
        clock.now_s += 7
        attempts.wait_s(f"10.{n >> 16}.{n >> 8 & 255}.{n & 255}")
    assert len(attempts) == MOST_ADDRESSES


def test_whoever_knows_it_starts_afresh(clock: Clock) -> None:
    attempts = Attempts(clock)
    for _ in range(50):
        assert attempts.wait_s("192.168.8.7") == 0
        attempts.succeeded("192.168.8.7")


def test_a_monotonic_clock_that_stands_still_or_errs_gives_nothing_away(clock: Clock) -> None:
    attempts = Attempts(clock)
    let_through(attempts, "192.168.8.7", 5)
    clock.now_s -= 500
    assert attempts.wait_s("192.168.8.7") > 0


@pytest.mark.parametrize(
    ("address", "one"),
    [
        ("192.168.8.7", "192.168.8.7"), ("::ffff:192.168.8.7", "192.168.8.7"), ("testclient", ""),
        ("", ""), ("fd00::1:2:3:4", "fd00::/64"), ("fd00::ffff:ffff:ffff:ffff", "fd00::/64"),
        ("fe80::1%wlan0", "fe80::/64"),
    ],
)  # fmt: skip
def test_a_network_of_ipv6_counts_as_one(address: str, one: str) -> None:
    """RFC 4291, 2.5.4: a host may take any of the 2^64 interface identifiers of its subnet."""
    assert network_of(address) == one


def test_nothing_is_hashed_past_the_limit(aboard: Aboard, monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 6585, 4, and RFC 9110, 10.2.3: 429 with Retry-After in whole seconds; the right word waits, too."""
    hashed: list[str] = []
    kept = Password.is_

    def counted(self: Password, text: str) -> bool:
        hashed.append(text)
        return kept(self, text)

    monkeypatch.setattr(Password, "is_", counted)
    client = aboard.browser()
    for n in range(5):
        assert client.post("/signin", data={"password": f"wrong {n}"}).status_code == 403
    for word in ("wrong", WORDS):
        answer = client.post("/signin", data={"password": word})
        assert answer.status_code == 429
        assert answer.headers["Retry-After"] == "30"
        assert "Too many attempts." in answer.text
    assert hashed == [f"wrong {n}" for n in range(5)]
    aboard.elapsed.now_s += 30
    assert client.post("/signin", data={"password": WORDS}).status_code == 303
    assert hashed[5:] == [WORDS]


@pytest.fixture
def aboard(tmp_path: Path) -> Aboard:
    return Aboard(tmp_path)
