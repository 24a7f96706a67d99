"""The boat's own authority, judged by openssl: whom it vouches for, for how long, and for whom it may not."""

import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.errors import RightsError
from monitor.rights.certificate import (
    LOCAL_NAMES,
    Certified,
    make_certificate,
    read_certified,
    served_with,
)
from monitor.rights.private_file import root_file, server_file
from web.guard import LOCAL_ENDINGS

NOW = datetime(2026, 11, 25, 14, 21, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "boat.db"


def made(store: Path, *names: str, now: datetime = NOW) -> tuple[Certified, Certified, bool]:
    return make_certificate(store, "Marram", names or ("boat.local", "192.168.8.1"), now)


def kept(file: Path) -> str:
    found = read_certified(file)
    assert found is not None
    return found.fingerprint


def served(store: Path, now: datetime) -> tuple[str, bool]:
    leaf, renewed = served_with(store, now)
    assert kept(server_file(store)) == leaf.fingerprint
    return leaf.fingerprint, renewed


def openssl(*arguments: object) -> str:
    done = subprocess.run(["openssl", *map(str, arguments)], capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def verified(store: Path, *how: object, at: datetime = NOW) -> str:
    """What openssl says of the certificate that is served with, the root being trusted."""
    when = int(at.timestamp())
    arguments = ("-x509_strict", "-purpose", "sslserver", "-attime", when, *how)
    return openssl("verify", "-CAfile", root_file(store), *arguments, server_file(store))


@pytest.mark.parametrize(
    ("how", "whom"),
    [("-verify_hostname", "boat.local"), ("-verify_hostname", "localhost"), ("-verify_ip", "192.168.8.1"),
     ("-verify_ip", "127.0.0.1"), ("-verify_ip", "::1")],
)  # fmt: skip
def test_openssl_believes_it_for_its_names_and_addresses(how: str, whom: str, store: Path) -> None:
    """X.509 strictly (RFC 5280), as a server's."""
    made(store)
    assert verified(store, how, whom).endswith(": OK\n")


@pytest.mark.parametrize(
    ("how", "whom"), [("-verify_hostname", "other.local"), ("-verify_ip", "192.168.8.2")]
)
def test_openssl_believes_it_for_nobody_else(how: str, whom: str, store: Path) -> None:
    made(store)
    assert "mismatch" in verified(store, how, whom)


def test_what_is_signed_lasts_397_days_and_the_root_ten_years(store: Path) -> None:
    """CA/Browser Forum Baseline Requirements, 6.3.2: 398 days at most, 397 recommended; the last second
    counts (RFC 5280, 4.1.2.5)."""
    root, leaf, _ = made(store)
    for certified, days in ((leaf, 397), (root, 3650)):
        lasts = certified.until - certified.certificate.not_valid_before_utc
        assert lasts + timedelta(seconds=1) == days * DAY
    assert verified(store, at=NOW - timedelta(hours=23)).endswith(": OK\n"), "a phone's clock may be behind"
    assert verified(store, at=NOW + 395 * DAY).endswith(": OK\n")
    assert "certificate has expired" in verified(store, at=NOW + 397 * DAY)


def test_it_is_a_servers_with_the_name_where_browsers_look(store: Path) -> None:
    """RFC 6125 and RFC 2818: the names stand in subjectAltName; RFC 5280: the key only signs."""
    made(store)
    told = openssl("x509", "-in", server_file(store), "-noout", "-text")
    assert "DNS:boat.local, IP Address:192.168.8.1, DNS:localhost, IP Address:127.0.0.1" in told
    assert "TLS Web Server Authentication" in told
    assert "CA:FALSE" in told
    assert "ecdsa-with-SHA256" in told
    assert "Digital Signature" in told
    assert "Certificate Sign" not in told


def test_the_root_may_vouch_for_the_boats_own_network_alone(store: Path, tmp_path: Path) -> None:
    """RFC 5280, 4.2.1.10, as openssl understands it: a certificate that the root's key signs for a name or an
    address on the internet is refused."""
    made(store)
    told = openssl("x509", "-in", root_file(store), "-noout", "-text")
    assert "X509v3 Name Constraints: critical" in told
    assert "CA:TRUE, pathlen:0" in told
    for alternative in (
        "DNS:bank.example",
        "IP:203.0.113.7",
        "IP:2001:db8::1",
        "DNS:evil.boat.local.example",
    ):
        assert "permitted subtree violation" in signed_by_hand(store, tmp_path, alternative)
    for alternative in ("DNS:other.local", "IP:10.9.8.7", "DNS:marram.home.arpa"):
        assert signed_by_hand(store, tmp_path, alternative).endswith(": OK\n")


def signed_by_hand(store: Path, folder: Path, alternative: str) -> str:
    """What openssl says of a certificate that it made itself with the root's key."""
    key, request, certificate = (folder / f"hand.{kind}" for kind in ("key", "csr", "crt"))
    curve = ("ec", "-pkeyopt", "ec_paramgen_curve:prime256v1")
    openssl("req", "-newkey", *curve, "-nodes", "-keyout", key, "-out", request, "-subj", "/CN=by hand")
    (folder / "hand.ext").write_text(f"subjectAltName={alternative}\n")
    signer = ("-CA", root_file(store), "-CAkey", root_file(store), "-CAcreateserial")
    extensions = ("-days", "2", "-extfile", folder / "hand.ext")
    openssl("x509", "-req", "-in", request, *signer, "-out", certificate, *extensions)
    return openssl("verify", "-CAfile", root_file(store), certificate)


def test_names_that_only_a_home_has_are_those_that_the_guard_answers_to() -> None:
    assert {f".{name}" for name in LOCAL_NAMES} == set(LOCAL_ENDINGS)


def test_the_fingerprint_is_the_one_that_openssl_tells(store: Path) -> None:
    root, _, _ = made(store)
    told = openssl("x509", "-in", root_file(store), "-noout", "-fingerprint", "-sha256")
    assert told.strip().partition("=")[2] == root.fingerprint
    assert len(root.fingerprint.split(":")) == 32


def test_both_files_are_the_owners_alone(store: Path) -> None:
    made(store)
    assert sorted(path.name for path in store.parent.iterdir()) == ["boat.db.root.pem", "boat.db.server.pem"]
    assert {path.stat().st_mode & 0o777 for path in store.parent.iterdir()} == {0o600}


# ---- making it again


def test_a_new_certificate_keeps_the_root_where_it_may_vouch_for_it(store: Path) -> None:
    """Phones have been told of it: as long as it serves, they need not be told again."""
    first, _, fresh = made(store)
    assert fresh
    second, leaf, fresh = made(store, "marram.local", "10.0.0.7", now=NOW + 400 * DAY)
    assert (second.fingerprint, fresh) == (first.fingerprint, False)
    assert leaf.names[:2] == ("marram.local", "10.0.0.7")


def test_a_name_of_the_internet_needs_a_root_that_may_vouch_for_it(store: Path) -> None:
    made(store)
    _, _, fresh = made(store, "marram.example", "203.0.113.7")
    assert fresh
    assert verified(store, "-verify_hostname", "marram.example").endswith(": OK\n")
    assert not made(store, "deck.marram.example")[2]
    assert made(store, "marram2.example")[2]


def test_a_root_near_its_end_is_replaced(store: Path) -> None:
    made(store)
    assert not made(store, now=NOW + 3200 * DAY)[2]
    assert made(store, now=NOW + 3300 * DAY)[2]


@pytest.mark.parametrize(
    "name", ["", "ma rram", "a" * 64, ".local", "*.local", "boat_1.local", "b\u00e4t", "1.2.3.4/8"]
)
def test_what_is_no_name_is_refused(name: str, store: Path) -> None:
    with pytest.raises(RightsError, match=r"expected a name like boat\.local or an address"):
        made(store, name)
    assert list(store.parent.iterdir()) == []


# ---- renewal at a start


def test_it_is_renewed_when_less_than_thirty_days_are_left(store: Path) -> None:
    root, leaf, _ = made(store)
    assert served(store, NOW + 365 * DAY) == (leaf.fingerprint, False)
    renewed, fresh = served_with(store, NOW + 366 * DAY)
    assert fresh
    assert renewed.names == leaf.names
    assert renewed.until - leaf.until == 366 * DAY
    assert kept(root_file(store)) == root.fingerprint
    assert verified(store, "-verify_ip", "192.168.8.1", at=NOW + 700 * DAY).endswith(": OK\n")
    assert served(store, NOW + 368 * DAY) == (renewed.fingerprint, False)


def test_it_is_renewed_long_after_it_has_run_out(store: Path) -> None:
    """A boat laid up for three years."""
    made(store)
    assert served_with(store, NOW + 1100 * DAY)[1]
    assert verified(store, at=NOW + 1101 * DAY).endswith(": OK\n")


def test_near_the_roots_end_it_ends_with_the_root(store: Path) -> None:
    root, _, _ = made(store)
    renewed, _ = served_with(store, NOW + 3600 * DAY)
    assert renewed.until <= root.until


@pytest.mark.parametrize("years", [-56, -3, 15])
def test_a_clock_outside_the_roots_years_renews_nothing(years: int, store: Path) -> None:
    """A board without a clock of its own starts in the past: what is there is served with as it is."""
    _, leaf, _ = made(store)
    assert served(store, NOW.replace(year=NOW.year + years)) == (leaf.fingerprint, False)


def test_what_a_clock_too_far_ahead_has_signed_is_signed_again(store: Path) -> None:
    made(store)
    ahead, _ = served_with(store, NOW + 800 * DAY)
    again, fresh = served_with(store, NOW + 2 * DAY)
    assert fresh
    assert again.until < ahead.until


def test_with_a_clock_before_the_root_nothing_is_made(store: Path) -> None:
    root, _, _ = made(store)
    with pytest.raises(RightsError, match="the clock says 1999-11-25, which is before the root was made"):
        made(store, now=NOW.replace(year=1999))
    assert kept(root_file(store)) == root.fingerprint


# ---- damage


def test_without_one_it_says_how_to_make_it(store: Path) -> None:
    with pytest.raises(RightsError, match=r"`ebbwatch certificate SETTINGS --name boat\.local` makes one"):
        served_with(store, NOW)


@pytest.mark.parametrize("file", [root_file, server_file])
def test_a_damaged_file_is_told(file: Callable[[Path], Path], store: Path) -> None:
    made(store)
    whole = file(store).read_bytes()
    other = store.with_name("other.db")
    made(other)
    half = whole.index(b"-----BEGIN PRIVATE")
    spoiled = (b"", b"x" * 100, whole[:half], whole[half:], whole[:-60], whole[:200] + whole[260:],
               whole[:half] + root_file(other).read_bytes()[half:])  # fmt: skip
    for data in spoiled:
        file(store).write_bytes(data)
        with pytest.raises(RightsError, match=r"pem: damaged: make it anew with `ebbwatch certificate`"):
            served_with(store, NOW)
    file(store).write_bytes(whole)
    file(store).chmod(0o644)
    with pytest.raises(RightsError, match="chmod 600"):
        served_with(store, NOW)
