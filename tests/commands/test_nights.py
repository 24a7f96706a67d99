"""`ebbwatch nights`: stored nights explained anew, and what was learned kept under the names given before."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.commands.nights import carry_names
from monitor.estimation.loads.book import LoadBook
from monitor.storage.history import History
from tests.commands.conftest import Ebbwatch
from tests.estimation.loads.nights import lives
from tests.pipeline.stored_nights import TEXT, store


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    boat = lives(12)
    path = tmp_path_factory.mktemp("nights") / "ebbwatch.db"
    store(path, [boat.night(n) for n in range(2)])
    path.with_name("boat.toml").write_text(TEXT)
    return path


def test_each_night_has_a_line_and_each_load_one(ebbwatch: Ebbwatch, stored: Path) -> None:
    said = ebbwatch("nights", "--settings", stored.with_name("boat.toml"), "--store", stored)

    assert said.code == 0, said.mistakes
    lines = said.out.splitlines()
    assert sum("Wh: loads" in line for line in lines) == 2
    assert sum("cycles" in line for line in lines) >= 2


def test_what_was_learned_is_kept_when_asked(ebbwatch: Ebbwatch, stored: Path) -> None:
    said = ebbwatch("nights", "--settings", stored.with_name("boat.toml"), "--store", stored, "--keep")

    assert said.code == 0, said.mistakes
    history = History(stored)
    book = LoadBook()
    book.restore(history.recall()["loads"])
    history.close()
    assert len(book.kinds) >= 2


def test_a_name_goes_to_the_load_most_like_the_one_that_bore_it(stored: Path) -> None:
    history = History(stored)
    before, again = LoadBook(), LoadBook()
    state = history.recall()["loads"] if "loads" in history.recall() else before.state()
    history.close()
    before.restore(state)
    again.restore(state)
    old = [replace(kind, name="icebox" if n == 0 else "") for n, kind in enumerate(before.kinds)]

    carry_names(old, again)

    assert [kind.name for kind in again.kinds if kind.name] == (["icebox"] if old else [])


def test_a_store_without_nights_is_told(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    (tmp_path / "boat.toml").write_text(TEXT)
    none = ebbwatch("nights", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "none.db")
    assert none.code == 2
    assert "none.db is not a file" in none.mistakes[0]


def test_nights_of_which_nothing_is_stored_are_no_obstacle(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    store(tmp_path / "ebbwatch.db", [lives(12).night(0)])
    (tmp_path / "boat.toml").write_text(TEXT.replace('"house"', '"other"'))

    said = ebbwatch("nights", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "ebbwatch.db")

    assert said.code == 0, said.mistakes
    assert "too little of it was heard" in said.out
