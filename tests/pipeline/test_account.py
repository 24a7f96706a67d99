"""Nights of the independent generator, stored and explained again: the same sums, the names of today."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from monitor.clock import MINUTE_S, Anchor, Boot, Interval
from monitor.estimation.loads.book import LoadBook
from monitor.pipeline.account import account
from monitor.pipeline.explain import house_trace
from monitor.pipeline.house_current import HouseCurrent
from monitor.records import LoadKind
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.storage.history import History
from tests.estimation.loads.nights import Night, lives
from tests.pipeline.stored_nights import TEXT, minutes, store

NIGHTS = 2


@pytest.fixture(scope="module")
def settings() -> Settings:
    return parse_settings(TEXT, Path())


@pytest.fixture(scope="module")
def nights() -> list[Night]:
    boat = lives(11)
    return [boat.night(n) for n in range(NIGHTS)]


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory, nights: list[Night]) -> Iterator[History]:
    path = tmp_path_factory.mktemp("store") / "ebbwatch.db"
    store(path, nights)
    stored = History(path)
    yield stored
    stored.close()


@pytest.fixture(scope="module")
def kinds(history: History, settings: Settings, nights: list[Night]) -> tuple[LoadKind, ...]:
    book = LoadBook()
    for night in nights:
        book.learn(house_trace(history, settings, night.during), night.during)
    return book.kinds


def test_a_stored_night_adds_up_to_what_the_shunt_counted(
    history: History, settings: Settings, nights: list[Night], kinds: tuple[LoadKind, ...]
) -> None:
    """The truth is the generator's: what was used, within the instrument's offset of 0.05 A."""
    found = account(history, settings, kinds, nights[1].during, ())

    assert found is not None
    ledger = found.ledger
    assert ledger.used_Wh is not None
    assert ledger.made_Wh == 0.0
    assert ledger.net_Wh == -ledger.used_Wh
    named_Wh = sum(share.Wh for share in ledger.by if share.what)
    assert ledger.unexplained_Wh is not None
    assert named_Wh + ledger.unexplained_Wh == ledger.used_Wh
    true_Wh = sum(float(w[7200 : 14 * 3600].sum()) for w in nights[1].truth.values()) / 3600
    assert ledger.used_Wh == pytest.approx(true_Wh, abs=0.06 * 13.4 * 12)
    assert ledger.gaps == ()


def test_what_is_drawn_is_what_was_used(
    history: History, settings: Settings, nights: list[Night], kinds: tuple[LoadKind, ...]
) -> None:
    found = account(history, settings, kinds, nights[1].during, ())

    assert found is not None
    drawn = sum(np.array(w) for what, w in found.watts.items() if what != "made")
    assert float(np.nansum(drawn)) * found.step_s / 3600 == pytest.approx(found.ledger.used_Wh, rel=0.01)


def test_a_name_given_today_stands_in_the_past(
    history: History, settings: Settings, nights: list[Night], kinds: tuple[LoadKind, ...]
) -> None:
    book = LoadBook()
    for night in nights:
        book.learn(house_trace(history, settings, night.during), night.during)
    heaviest = max(book.kinds, key=lambda kind: kind.watts * kind.on_s * kind.runs)
    assert book.label(heaviest.id, "icebox")
    before = account(history, settings, kinds, nights[0].during, ())
    after = account(history, settings, book.kinds, nights[0].during, ())

    assert before is not None
    assert after is not None
    assert "icebox" not in {share.what for share in before.ledger.by}
    assert next(share for share in after.ledger.by if share.what == "icebox").Wh > 50
    assert after.ledger.used_Wh == before.ledger.used_Wh


def test_between_the_nights_nothing_was_heard(
    history: History, settings: Settings, nights: list[Night]
) -> None:
    """Eight hours of silence lie between what was stored of two nights."""
    middle_s = nights[0].start_s + 16 * 3600 + 60
    silent = Interval(middle_s, middle_s + 3600)
    across = Interval(nights[0].during.end_s, nights[1].during.start_s)

    assert account(history, settings, (), silent, ()) is None
    found = account(history, settings, (), across, ())
    assert found is not None
    assert found.ledger.missing_s == pytest.approx(8 * 3600, abs=120)
    assert len(found.ledger.gaps) == 1
    assert found.ledger.unexplained_Wh is not None


def test_the_memory_answers_like_the_store(history: History, settings: Settings, nights: list[Night]) -> None:
    """What the watch keeps of the last day and a half makes the same trace as what is on the card."""
    kept = HouseCurrent(settings)
    begins_s = nights[0].start_s
    boot = Boot(1, (Anchor(0.0, begins_s, "a test", 0.1),))
    for night in nights:
        for minute in minutes(night, 1, begins_s):
            kept.minute(minute.columns, (minute.index + 1) * MINUTE_S, boot)
    stored = house_trace(history, settings, nights[1].during)
    remembered = house_trace(kept, settings, nights[1].during)

    assert len(remembered.watts) == pytest.approx(len(stored.watts), abs=2)
    first, second = (float(np.nanmean(t.part(*nights[1].during).watts)) for t in (stored, remembered))
    assert first == pytest.approx(second, rel=1e-3)
    assert kept.samples("house current", Interval(begins_s, begins_s + 60))[0].size == 0
