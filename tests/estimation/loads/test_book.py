"""What is learned of loads, on simulated nights whose truth is known."""

from dataclasses import replace

import pytest

from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import name_loads
from monitor.estimation.loads.trace import Trace, trace_of
from monitor.records import LoadKind
from tests.estimation.loads.appliances import Compressor
from tests.estimation.loads.nights import Boat, Night, lives

_SEED = 31


def _with(boat: Boat, name: str, watts: float) -> Boat:
    """The same boat with an appliance of other watts."""
    aboard = tuple(
        replace(a, takes_W=watts) if isinstance(a, Compressor) and a.name == name else a
        for a in boat.appliances
    )
    return replace(boat, appliances=aboard)


def _heard(night: Night) -> Trace:
    return trace_of(night.heard.utc_s, night.heard.amps, night.heard.utc_s, night.heard.volts)


def _learned(nights: list[Night], book: LoadBook | None = None) -> LoadBook:
    book = book or LoadBook()
    for night in nights:
        book.learn(_heard(night), night.during)
    return book


def _near(book: LoadBook, watts: float) -> LoadKind:
    return min((k for k in book.kinds if k.how == "cycles"), key=lambda k: abs(k.watts - watts))


def _watts(boat: Boat, name: str) -> float:
    return next(a.takes_W for a in boat.appliances if isinstance(a, Compressor) and a.name == name)


def test_one_night_tells_both_compressors_and_the_pump() -> None:
    boat = lives(_SEED)
    book = _learned([boat.night(0)])

    for name in ("fridge", "freezer"):
        assert _near(book, _watts(boat, name)).watts == pytest.approx(_watts(boat, name), rel=0.03)
    assert [kind.suggestion for kind in book.kinds if kind.how == "pulses"] == ["pump"]


def test_a_new_freezer_is_a_new_load_in_two_nights() -> None:
    """The old one's name is not given to the new one's runs."""
    boat = lives(_SEED)
    old_W = _watts(boat, "freezer")
    book = _learned([boat.night(n) for n in range(3)])
    old = _near(book, old_W)
    book.label(old.id, "freezer")
    other = _with(boat, "freezer", 1.3 * old_W)

    book = _learned([other.night(3), other.night(4)], book)

    new = _near(book, 1.3 * old_W)
    assert new.id != old.id
    assert new.name == ""
    assert new.watts == pytest.approx(1.3 * old_W, rel=0.03)
    night = other.night(5)
    named = name_loads(_heard(night), book.kinds, night.during)
    assert len(named.runs[new.id]) == pytest.approx(len(night.runs["freezer"]), abs=12)
    assert named.watts[old.id].sum() < 0.05 * named.watts[new.id].sum()


def test_drift_is_followed_under_the_same_name() -> None:
    """A compressor that takes 1.5 % more each night, as one whose condenser gets dusty."""
    boat = lives(_SEED)
    begun_W = _watts(boat, "fridge")
    book = _learned([boat.night(0)])
    book.label(_near(book, begun_W).id, "fridge")

    for night in range(1, 9):
        book = _learned([_with(boat, "fridge", begun_W * 1.015**night).night(night)], book)

    (fridge,) = [kind for kind in book.kinds if kind.name == "fridge"]
    assert fridge.watts == pytest.approx(begun_W * 1.015**8, rel=0.03)
    assert fridge.nights == 9


def test_what_is_known_survives_being_put_away() -> None:
    boat = lives(_SEED)
    book = _learned([boat.night(0), boat.night(1)])
    other = LoadBook()
    other.restore(book.state())

    assert other.kinds == book.kinds
    # Runs that wait are put away to 0.1 W.
    went_on, kept = _learned([boat.night(2)], book).kinds, _learned([boat.night(2)], other).kinds
    assert [k.id for k in kept] == [k.id for k in went_on]
    assert [k.watts for k in kept] == pytest.approx([k.watts for k in went_on], abs=0.1)


def test_a_name_is_given_and_withdrawn() -> None:
    book = _learned([lives(_SEED).night(0)])
    load = book.kinds[0].id

    assert book.label(load, " fridge ")
    assert next(k for k in book.kinds if k.id == load).name == "fridge"
    assert book.label(load, "")
    assert next(k for k in book.kinds if k.id == load).name == ""
    assert not book.label("load 999", "fridge")


def test_what_cannot_be_seen_is_not_learned() -> None:
    """Heard every 10 s, a run of some seconds is one reading or none."""
    boat = lives(_SEED, 10.0)
    book = _learned([boat.night(n) for n in range(3)])

    assert all(kind.on_s >= 10 for kind in book.kinds)
