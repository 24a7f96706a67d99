"""Sessions in a signed cookie: nothing of them is kept here, and a new key ends them all."""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from itsdangerous import BadSignature, Signer, TimestampSigner

from monitor.clock import DAY_S

EXPIRES_S = 30 * DAY_S
RENEWED_AFTER_S = DAY_S
LONGEST_COOKIE = 200
HOW: dict[str, Any] = {"key_derivation": "hmac", "digest_method": hashlib.sha256}


@dataclass(frozen=True, slots=True)
class Session:
    id: str
    age_s: float
    """Since it was signed; negative where the computer's clock has been set back since."""

    @property
    def wants_renewal(self) -> bool:
        """One from the future is believed, for its signature is ours, and left as it is: signed anew by
        a clock that has stepped back years, it would be over as soon as the clock is right again."""
        return self.age_s > RENEWED_AFTER_S


class Sessions:
    """Those of one key. `now_s` tells UTC seconds as the computer believes them."""

    def __init__(self, key: bytes, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._signer = _Timed(key, now_s, salt=b"session", **HOW)
        self._tokens = Signer(key, salt=b"csrf", **HOW)

    def begin(self) -> str:
        """The cookie of a new session."""
        return self.renewed(secrets.token_urlsafe(16))

    def renewed(self, id: str) -> str:
        return self._signer.sign(id).decode("ascii")

    def look(self, cookie: str | None) -> Session | None:
        """None where it is absent, forged, of another key, or signed more than thirty days ago."""
        if cookie is None or len(cookie) > LONGEST_COOKIE:
            return None
        try:
            id, signed = self._signer.unsign(cookie, return_timestamp=True)
        except (BadSignature, ValueError, OverflowError, OSError):  # The last three: no year we know.
            return None
        age_s = self._now_s() - signed.timestamp()
        return Session(id.decode("ascii"), age_s) if age_s <= EXPIRES_S else None

    def token(self, session: Session) -> str:
        """What every form of this session carries, and no other page can know."""
        return self._tokens.get_signature(session.id).decode("ascii")


class _Timed(TimestampSigner):
    def __init__(self, key: bytes, now_s: Callable[[], float], **how: Any) -> None:
        super().__init__(key, **how)
        self._now_s = now_s

    def get_timestamp(self) -> int:
        return max(0, int(self._now_s()))
