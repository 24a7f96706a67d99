"""A crew with a password: what the tests of rights sign in with."""

from pathlib import Path

from fastapi.testclient import TestClient

from monitor.rights.password import Password, new_password, write_password
from tests.web.canned import CannedWatch, canned
from web.app import create_app
from web.rights import Rights

WORDS = "gaff ketch, wet oilskins"
KEPT = new_password(WORDS)
OTHER = new_password("somebody else's words")
OWN = {"Origin": "http://127.0.0.1:8080", "Accept": "text/html"}
NOW_S = 1_795_616_460.0
"""As tests.web.canned has it."""


class Clock:
    """Seconds that a test sets."""

    def __init__(self, now_s: float = NOW_S) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


class Aboard:
    """A watch behind a password, and browsers on it."""

    def __init__(self, folder: Path, *, guests: str = "look", state: str = "well", base: str = "") -> None:
        self.file = folder / "boat.db.password"
        self.clock, self.elapsed = Clock(), Clock(1000.0)
        self.watch: CannedWatch = canned(state)
        web = self.watch.settings.web.model_copy(update={"guests": guests})
        self.watch.settings = self.watch.settings.model_copy(update={"web": web})
        self.set(KEPT)
        rights = Rights(self.file, needed=True, now_s=self.clock, elapsed_s=self.elapsed)
        self.app = create_app(self.watch, rights=rights)
        self._base = base or "http://127.0.0.1:8080"

    def set(self, password: Password) -> None:
        write_password(self.file, password)

    def browser(self) -> TestClient:
        return TestClient(
            self.app, base_url=self._base, raise_server_exceptions=False, follow_redirects=False, headers=OWN
        )

    def signed_in(self) -> TestClient:
        client = self.browser()
        answer = client.post("/signin", data={"password": WORDS}, headers={"Origin": self._base})
        assert answer.status_code == 303
        return client
