"""The password's file: its parameters are the published minimum, and nobody else may read it."""

import json
import os
import re
import unicodedata
from pathlib import Path

import argon2
import pytest

from monitor.errors import RightsError
from monitor.rights.password import new_password, read_password, write_password
from monitor.rights.private_file import password_file

WORDS = "gaff ketch, wet oilskins"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return password_file(tmp_path / "boat.db")


def test_the_hash_is_argon2id_with_the_published_minimum() -> None:
    """OWASP Password Storage Cheat Sheet: "Argon2id with a minimum configuration of 19 MiB of memory, an
    iteration count of 2, and 1 degree of parallelism". RFC 9106: version 0x13, a salt of 128 bits; the tag of
    256 bits as its recommended options have it. The string is the one of the reference implementation."""
    encoded = new_password(WORDS).hash
    found = re.fullmatch(r"\$argon2id\$v=(\d+)\$m=(\d+),t=(\d+),p=(\d+)\$([\w+/]+)\$([\w+/]+)", encoded)
    assert found is not None
    version, memory_KiB, passes, lanes = map(int, found.groups()[:4])
    assert (version, memory_KiB, passes, lanes) == (0x13, 19 * 1024, 2, 1)
    salt, tag = (len(text) * 6 // 8 for text in found.groups()[4:])
    assert (salt, tag) == (16, 32)


def test_the_library_is_the_reference_one() -> None:
    """The vector of the reference implementation's test.c: "password", "somesalt", t=2, m=2^16, p=1."""
    tag = argon2.low_level.hash_secret_raw(b"password", b"somesalt", 2, 65536, 1, 32, argon2.Type.ID)
    assert tag.hex() == "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"


def test_every_password_has_its_own_salt_and_key() -> None:
    one, other = new_password(WORDS), new_password(WORDS)
    assert one.hash != other.hash
    assert one.key != other.key
    assert len(one.key) == 32


def test_only_the_very_word_is_it() -> None:
    password = new_password(WORDS)
    assert password.is_(WORDS)
    wrong = (
        WORDS.upper(),
        WORDS[:-1],
        WORDS + " ",
        "",
        WORDS + "\0",
        "\0" + WORDS,
        "\ud800" * 9,
        "x" * 100_000,
    )
    assert [text for text in wrong if password.is_(text)] == []


def test_a_word_is_the_same_from_every_keyboard() -> None:
    """NIST SP 800-63B: normalised by NFKC before hashing, for an accent may come as one character or two."""
    word = "ría de Arousa, señal"
    assert new_password(unicodedata.normalize("NFD", word)).is_(unicodedata.normalize("NFC", word))


@pytest.mark.parametrize("text", ["", "seven77", "\u00e4" * 7, "a" * 1001, "\ud800" * 8])
def test_what_is_too_short_too_long_or_no_text_is_refused(text: str) -> None:
    with pytest.raises(RightsError):
        new_password(text)


@pytest.mark.parametrize("text", ["eight888", "\u00e4" * 8, "a" * 1000, "\0" * 8, "  spaces  "])
def test_what_is_long_enough_is_taken_as_it_is(text: str) -> None:
    assert new_password(text).is_(text)


def test_the_file_is_the_owners_alone_whatever_the_mask(file: Path) -> None:
    mask = os.umask(0)
    try:
        write_password(file, new_password(WORDS))
    finally:
        os.umask(mask)
    assert file.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in file.parent.iterdir()] == ["boat.db.password"]
    assert set(json.loads(file.read_text())) == {"hash", "key"}
    assert WORDS not in file.read_text()


def test_it_is_written_whole_or_not_at_all(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = new_password(WORDS)
    write_password(file, old)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    for step in ("fsync", "replace"):
        with monkeypatch.context() as context:
            context.setattr(os, step, full)
            with pytest.raises(RightsError, match="No space left on device"):
                write_password(file, new_password("another password"))
        assert read_password(file) == old
        assert [path.name for path in file.parent.iterdir()] == ["boat.db.password"]


def test_written_by_root_it_belongs_to_whoever_owns_the_folder(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`sudo ebbwatch password` writes for a service that runs under a user of its own."""
    given: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(os, "fchown", lambda _, user, group: given.append((user, group)))
    write_password(file, new_password(WORDS))
    owner = file.parent.stat()
    assert given == [(owner.st_uid, owner.st_gid)]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(RightsError, match=r"nowhere: No such file or directory: boat\.db\.password"):
        write_password(tmp_path / "nowhere" / "boat.db.password", new_password(WORDS))
    assert read_password(tmp_path / "nowhere" / "boat.db.password") is None


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o601, 0o660])
def test_a_file_that_others_may_open_is_refused_with_what_to_do(mode: int, file: Path) -> None:
    write_password(file, new_password(WORDS))
    file.chmod(mode)
    with pytest.raises(RightsError, match=rf"mode 0{mode:o}\): chmod 600 .*boat\.db\.password"):
        read_password(file)


GOOD = new_password(WORDS)
SPOILED = {
    "nothing": b"",
    "half of it": json.dumps({"hash": GOOD.hash, "key": GOOD.key.hex()}).encode()[:150],
    "no object": b"[1, 2]",
    "a number": b"3",
    "no key": json.dumps({"hash": GOOD.hash}).encode(),
    "a short key": json.dumps({"hash": GOOD.hash, "key": "00ff"}).encode(),
    "a key that is no text": json.dumps({"hash": GOOD.hash, "key": 7}).encode(),
    "a hash of another kind": json.dumps({"hash": "$6$x$y", "key": GOOD.key.hex()}).encode(),
    "a hash that is no text": json.dumps({"hash": None, "key": GOOD.key.hex()}).encode(),
    "noise": bytes(range(256)) * 4,
    "a tower": b"[" * 60_000,
    "a flood": b" " * 1_000_000,
}


@pytest.mark.parametrize("data", SPOILED.values(), ids=SPOILED)
def test_a_damaged_file_says_what_to_do(data: bytes, file: Path) -> None:
    file.touch(mode=0o600)
    file.write_bytes(data)
    with pytest.raises(RightsError, match="damaged: set the password anew with `ebbwatch password`"):
        read_password(file)


def test_a_folder_or_a_pipe_in_its_place_is_refused(file: Path, tmp_path: Path) -> None:
    file.mkdir(mode=0o700)
    with pytest.raises(RightsError, match="not a plain file"):
        read_password(file)
    os.mkfifo(tmp_path / "pipe.password", 0o600)
    with pytest.raises(RightsError, match="not a plain file"):
        read_password(tmp_path / "pipe.password")
