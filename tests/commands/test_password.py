"""`ebbwatch password`, and what `ebbwatch run` says without one."""

import getpass
import io
import sys
from pathlib import Path

import pytest

from monitor.rights.password import Password, read_password
from tests.commands.conftest import Ebbwatch

BOAT = '[boat]\nname = "Tern"\n[store]\npath = "kept/tern.db"\n'


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    (tmp_path / "kept").mkdir()
    (tmp_path / "boat.toml").write_text(BOAT)
    return tmp_path / "boat.toml"


def kept(boat: Path) -> Password | None:
    return read_password(boat.parent / "kept" / "tern.db.password")


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> "Given":
    return Given(monkeypatch)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Given:
    """What stands on standard input, or is typed at a terminal."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._monkeypatch = monkeypatch

    def line(self, data: bytes) -> None:
        self._monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))

    def typed(self, *answers: str) -> list[str]:
        """Returns the questions, as they are asked."""
        asked: list[str] = []
        waiting = iter(answers)
        self._monkeypatch.setattr(sys, "stdin", Terminal())

        def ask(prompt: str) -> str:
            asked.append(prompt)
            return next(waiting)

        self._monkeypatch.setattr(getpass, "getpass", ask)
        return asked


def test_it_is_read_from_a_line_where_there_is_no_terminal(
    ebbwatch: Ebbwatch, boat: Path, given: Given
) -> None:
    given.line("wet oilskins, señal\r\nmore".encode())
    said = ebbwatch("password", boat)
    assert (said.code, said.mistakes) == (0, [])
    assert "tern.db.password. Whoever was signed in must sign in again." in said.out
    password = kept(boat)
    assert password is not None
    assert password.is_("wet oilskins, señal")


def test_it_is_asked_for_twice_at_a_terminal(ebbwatch: Ebbwatch, boat: Path, given: Given) -> None:
    asked = given.typed("wet oilskins", "wet oilskins")
    assert ebbwatch("password", boat).code == 0
    assert len(asked) == 2
    password = kept(boat)
    assert password is not None
    assert password.is_("wet oilskins")


def test_two_that_differ_change_nothing(ebbwatch: Ebbwatch, boat: Path, given: Given) -> None:
    given.typed("wet oilskins", "wet oilskin")
    assert ebbwatch("password", boat).mistakes == ["ebbwatch: the two differ: nothing was changed"]
    assert kept(boat) is None


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "the password has 0 characters: at least 8 are needed"),
        (b"\n", "the password has 0 characters"),
        (b"seven77\n", "the password has 7 characters: at least 8 are needed, for whoever is on the boat's"),
        (b"\xff\xfe wet oilskins\n", "the password is not UTF-8 text"),
        (b"a" * 10_000_000, "the password is longer than 1000 characters"),
        ("\u00e4".encode() * 1001, "the password is longer than 1000 characters"),
    ],
)
def test_what_is_refused_is_told_in_a_line(
    data: bytes, why: str, ebbwatch: Ebbwatch, boat: Path, given: Given
) -> None:
    given.line(data)
    said = ebbwatch("password", boat)
    assert said.code == 2
    assert len(said.mistakes) == 1
    assert said.mistakes[0].startswith(f"ebbwatch: {why}")
    assert kept(boat) is None


def test_a_missing_folder_is_told(ebbwatch: Ebbwatch, boat: Path, given: Given) -> None:
    (boat.parent / "kept").rmdir()
    given.line(b"wet oilskins\n")
    said = ebbwatch("password", boat)
    assert (said.code, len(said.mistakes)) == (2, 1)
    assert "kept: No such file or directory: tern.db.password cannot be written there" in said.mistakes[0]


def test_settings_that_cannot_be_read_are_told(ebbwatch: Ebbwatch, tmp_path: Path, given: Given) -> None:
    given.line(b"wet oilskins\n")
    assert ebbwatch("password", tmp_path / "none.toml").code == 2


@pytest.mark.parametrize("host", ["0.0.0.0", "[::]", "192.0.2.1"])
def test_it_listens_to_others_only_with_a_password(
    host: str, ebbwatch: Ebbwatch, boat: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One clear line that names the command. 192.0.2.0/24 is for documents (RFC 5737): nobody has it."""
    said = ebbwatch("run", "--settings", boat, "--listen", f"{host}:48471")
    assert said.code == 2
    assert len(said.mistakes) == 1
    if host == "192.0.2.1":
        assert "cannot listen on" in said.mistakes[0]
    else:
        assert "no password is set" in said.mistakes[0]
        assert f"`ebbwatch password {boat}`" in said.mistakes[0]
    assert not (boat.parent / "kept" / "tern.db").exists()


def test_a_damaged_password_stops_it_even_on_loopback(ebbwatch: Ebbwatch, boat: Path) -> None:
    file = boat.parent / "kept" / "tern.db.password"
    file.touch(mode=0o600)
    said = ebbwatch("run", "--settings", boat, "--listen", "127.0.0.1:48472")
    assert said.code == 2
    assert said.mistakes == [f"ebbwatch: {file}: damaged: set the password anew with `ebbwatch password`"]
