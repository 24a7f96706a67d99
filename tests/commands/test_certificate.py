"""`ebbwatch certificate`, and `ebbwatch run --tls` with what it made, as a browser meets it."""

import http.client
import re
import ssl
import subprocess
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import pytest

from monitor.rights.password import new_password, write_password
from monitor.rights.private_file import password_file, root_file, server_file
from tests.brokers import free_port
from tests.commands.conftest import Ebbwatch
from tests.commands.test_run import DASHBOARD_S, ends_in_order, process
from tests.sources.listening import eventually

WORDS = "gaff ketch, wet oilskins"


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    bus = '[[sources]]\nkind = "can"\nname = "bus"\ninterface = "virtual"\nchannel = "tern"\n'
    (tmp_path / "boat.toml").write_text('[boat]\nname = "Tern"\n[store]\npath = "tern.db"\n' + bus)
    return tmp_path / "boat.toml"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "tern.db"


def test_it_tells_what_to_compare_and_what_to_do_next(ebbwatch: Ebbwatch, boat: Path, store: Path) -> None:
    said = ebbwatch("certificate", boat, "--name", "tern.local", "--name", "192.168.8.1")
    assert (said.code, said.mistakes) == (0, [])
    assert said.out.startswith("Signed for tern.local, 192.168.8.1, localhost, 127.0.0.1, ::1; good until 2")
    assert "A new root" in said.out
    told = re.findall(r"^  ((?:[0-9A-F]{2} ?){16})$", said.out, re.MULTILINE)
    command = ["openssl", "x509", "-in", str(root_file(store)), "-noout", "-fingerprint", "-sha256"]
    fingerprint = subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()
    assert " ".join(told).replace(" ", ":") == fingerprint.partition("=")[2]
    assert "ebbwatch run --tls" in said.out
    again = ebbwatch("certificate", boat, "--name", "tern.local")
    assert "A new root" not in again.out


def test_without_a_name_it_takes_the_computers_own(ebbwatch: Ebbwatch, boat: Path) -> None:
    assert re.match(r"Signed for [\w-]+\.local, [\w-]+, localhost", ebbwatch("certificate", boat).out)


def test_what_is_no_name_is_told_in_a_line(ebbwatch: Ebbwatch, boat: Path) -> None:
    said = ebbwatch("certificate", boat, "--name", "two words")
    assert (said.code, len(said.mistakes)) == (2, 1)
    assert "expected a name like boat.local or an address, got 'two words'" in said.mistakes[0]


def test_tls_without_a_certificate_is_told_in_a_line(ebbwatch: Ebbwatch, boat: Path) -> None:
    said = ebbwatch("run", "--settings", boat, "--listen", f"127.0.0.1:{free_port()}", "--tls")
    assert (said.code, len(said.mistakes)) == (2, 1)
    assert "`ebbwatch certificate SETTINGS --name boat.local` makes one" in said.mistakes[0]


def test_it_serves_encrypted_to_others_and_lets_who_signs_in_act(
    ebbwatch: Ebbwatch, boat: Path, store: Path
) -> None:
    """A client that trusts the root alone: the name is checked (RFC 6125), the cookie is a Secure one."""
    write_password(password_file(store), new_password(WORDS))
    assert ebbwatch("certificate", boat, "--name", "127.0.0.2").code == 0
    port = free_port()
    trusting = ssl.create_default_context(cafile=str(root_file(store)))
    base = f"https://127.0.0.2:{port}"
    opener = urllib.request.build_opener(
        urllib.request.HTTPSHandler(context=trusting), urllib.request.HTTPCookieProcessor()
    )

    def page(path: str, form: dict[str, str] | None = None) -> str:
        data = None if form is None else urllib.parse.urlencode(form).encode()
        request = urllib.request.Request(base + path, data, {"Origin": base, "Accept": "text/html"})
        with opener.open(request, timeout=10) as answer:
            text: str = answer.read().decode()
            return text

    def answers() -> bool:
        try:
            return "Look only" in page("/")
        except (urllib.error.URLError, ConnectionError):
            return False

    arguments = ("run", "--settings", "boat.toml", "--listen", f"0.0.0.0:{port}", "--tls")
    with process(boat.parent, *arguments) as started:
        assert eventually(answers, DASHBOARD_S)
        assert "Signed in" in page("/signin", {"password": WORDS, "next": "/"})
        token = re.search(r'name="csrf" value="([^"]+)"', page("/"))
        assert token is not None
        form = {"place": "sailing", "people": "awake", "csrf": token[1]}
        assert "Sailing, awake" in page("/mode", form)
        assert "Compare before you trust" in page("/phone")
        with pytest.raises(urllib.error.URLError, match="certificate verify failed"):
            urllib.request.urlopen(base, timeout=10)
        with pytest.raises((http.client.BadStatusLine, ConnectionError, urllib.error.URLError)):
            urllib.request.urlopen(f"http://127.0.0.2:{port}/", timeout=10)
        ends_in_order(started, boat.parent)
    assert server_file(store).stat().st_mode & 0o777 == 0o600
