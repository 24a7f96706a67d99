"""The crew's password: what is kept of it, and how one is checked.

Argon2id (RFC 9106) with the least that the OWASP Password Storage Cheat Sheet asks for: 19 MiB, two passes,
one lane. Beside the hash lies a random key that signs sessions: a new password has a new key, and so ends
every session.
"""

import json
import secrets
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from argon2 import PasswordHasher, Type, extract_parameters
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from monitor.errors import RightsError
from monitor.rights.private_file import read_private, write_private

SHORTEST, LONGEST = 8, 1000
"""In characters. NIST SP 800-63B asks for eight at least, and for no other rule than length."""
KEY_BYTES = 32
HASHER = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1, hash_len=32, type=Type.ID)


@dataclass(frozen=True, slots=True)
class Password:
    hash: str
    key: bytes

    def is_(self, text: str) -> bool:
        """Whether this is the password. Takes tens of milliseconds and 19 MiB, and lets other threads run."""
        try:
            return HASHER.verify(self.hash, _plain(text))
        except (VerifyMismatchError, UnicodeEncodeError):
            return False


def new_password(text: str) -> Password:
    """Raises RightsError where it is too short or too long, or no text."""
    if len(text) < SHORTEST:
        raise RightsError(
            f"the password has {len(text)} characters: at least {SHORTEST} are needed, for whoever is on the"
            " boat's network may guess at it. Three or four words that nobody would put together do well"
        )
    if len(text) > LONGEST:
        raise RightsError(f"the password is longer than {LONGEST} characters")
    try:
        return Password(HASHER.hash(_plain(text)), secrets.token_bytes(KEY_BYTES))
    except UnicodeEncodeError as error:
        raise RightsError("the password is not UTF-8 text") from error


def write_password(path: Path, password: Password) -> None:
    """Raises RightsError where it cannot be written."""
    kept = {"hash": password.hash, "key": password.key.hex()}
    write_private(path, json.dumps(kept, indent=1).encode() + b"\n")


def read_password(path: Path) -> Password | None:
    """None where none is set. Raises RightsError where the file is damaged or others may read it."""
    data = read_private(path)
    if data is None:
        return None
    try:
        kept = json.loads(data)
        found = Password(kept["hash"], bytes.fromhex(kept["key"]))
        extract_parameters(found.hash)
    except (ValueError, LookupError, TypeError, AttributeError, InvalidHashError, RecursionError) as error:
        raise RightsError(f"{path}: damaged: set the password anew with `ebbwatch password`") from error
    if len(found.key) != KEY_BYTES:
        raise RightsError(f"{path}: damaged: set the password anew with `ebbwatch password`")
    return found


def _plain(text: str) -> bytes:
    """One form for what two keyboards may type differently (NIST SP 800-63B: NFKC)."""
    return unicodedata.normalize("NFKC", text).encode()
