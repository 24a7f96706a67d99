"""Ten thousand wrong passwords do not slow the watch: counts, no timings."""

import threading
from pathlib import Path

import pytest

from monitor.rights.password import Password, write_password
from tests.watched import Watched, assert_the_good_is_kept, good
from tests.web.canned import canned
from tests.web.crew import KEPT, Clock
from tests.web.flood import flood
from web.app import create_app
from web.rights import Rights

POSTS, AT_ONCE = 10_000, 50
EVERY_S = 0.01
"""By the clock of the attempts, which the test moves: ten thousand in a hundred seconds."""
WATCHED_S = 600


class Watching(threading.Thread):
    """A real pipeline and store beside it: ten minutes of readings, a second at a time."""

    def __init__(self, store: Path, begun: threading.Event) -> None:
        super().__init__()
        self._store = store
        self._begun = begun
        self.steps = 0
        self.kept = False

    def run(self) -> None:
        watched = Watched(self._store)
        items = good(WATCHED_S)
        for second in range(WATCHED_S):
            moment = [item for item in items if item.at_s - items[0].at_s == second]
            watched.feed(moment)
            self.steps += 1
            self._begun.set()
        watched.end()
        assert_the_good_is_kept(watched, WATCHED_S)
        self.kept = True


def test_ten_thousand_wrong_passwords(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 20 at once, and one more every 6 s of 100 s: at most 36 are hashed, one at a time; the others
    are turned away before. The watch makes each of its steps, and what it heard is in its store."""
    hashed, busy, most = 0, 0, 0
    counting = threading.Lock()
    kept = Password.is_

    def counted(self: Password, text: str) -> bool:
        nonlocal hashed, busy, most
        with counting:
            hashed, busy = hashed + 1, busy + 1
            most = max(most, busy)
        try:
            return kept(self, text)
        finally:
            with counting:
                busy -= 1

    monkeypatch.setattr(Password, "is_", counted)
    file = tmp_path / "boat.db.password"
    write_password(file, KEPT)
    clock = Clock(1000.0)
    rights = Rights(file, needed=True, elapsed_s=clock)
    app = create_app(canned("well"), rights=rights)

    def passes() -> None:
        clock.now_s += EVERY_S

    begun = threading.Event()
    watching = Watching(tmp_path / "boat.db", begun)
    watching.start()
    assert begun.wait(60)
    statuses = flood(app, POSTS, AT_ONCE, passes)
    watching.join()

    assert hashed == 36
    assert most == 1
    assert statuses == {403: 36, 429: POSTS - 36}
    assert len(rights.attempts) <= 256
    assert watching.steps == WATCHED_S
    assert watching.kept
