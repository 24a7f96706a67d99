"""The usual night and what was not as usual: by hand."""

from dataclasses import replace

import pytest

from monitor.estimation.ledger import STANDING
from monitor.estimation.unusual import changes, compared, usual
from monitor.records import NightLedger, Share

HOUR, DAY = 3600.0, 86400.0


def a_night(number: int, hours: float = 10.0, place: str = "at anchor", **Wh: float) -> NightLedger:
    shares = tuple(
        Share(STANDING if what == "standing" else what, float(each), 0.95, ((0.0, 1.0),), f"load of {what}")
        if what != "standing"
        else Share(STANDING, float(each), 0.9)
        for what, each in Wh.items()
    )
    used = sum(Wh.values()) + 50.0
    return NightLedger(
        number * DAY, number * DAY + hours * HOUR, used, 0.0, -used, shares, 50.0, 20.0,
        {}, 5, None, None, 0.0, False, place=place,
    )  # fmt: skip


BEFORE = [a_night(n, fridge=300.0, freezer=400.0, standing=100.0) for n in range(5)]


def test_the_usual_night_is_the_median_of_those_at_the_same_place() -> None:
    nights = [*BEFORE, a_night(5, place="alongside", fridge=900.0)]

    found = usual(a_night(6), nights)

    assert found is not None
    assert (found.used_Wh, found.nights, found.place) == (850.0, 5, "at anchor")
    assert found.by_Wh["load of fridge"] == 300.0
    assert found.water_L == 20.0


def test_two_nights_are_no_habit_and_a_place_unknown_is_none() -> None:
    assert usual(a_night(6), BEFORE[:2]) is None
    assert usual(replace(a_night(6), place=""), BEFORE) is None


def test_a_longer_night_is_held_against_longer_ones() -> None:
    """A clock that is set back makes a night of 11 h out of 10: by hand 850 x 1.1."""
    found = usual(a_night(6, hours=11.0), BEFORE)

    assert found is not None
    assert found.used_Wh == pytest.approx(935.0)


def test_a_freezer_that_ran_forty_per_cent_longer_is_told_first() -> None:
    told = compared(a_night(6, fridge=310.0, freezer=560.0, standing=130.0), BEFORE)

    assert [reason.id for reason in told.changed] == ["changed: ran longer", "changed: standing more"]
    assert told.changed[0].facts["name"] == "freezer"
    assert told.changed[0].facts["more"] == pytest.approx(40.0)
    assert told.changed[1].facts["W"] == pytest.approx(3.0)


def test_what_is_new_and_what_did_not_run() -> None:
    found = usual(a_night(6), BEFORE)
    assert found is not None

    told = changes(
        a_night(6, fridge=300.0, standing=100.0, inverter=90.0), found, {"load of freezer": "icebox"}
    )

    assert [(reason.id, reason.facts["name"]) for reason in told] == [
        ("changed: missing", "icebox"),
        ("changed: new", "inverter"),
    ]


def test_a_night_as_usual_has_nothing_to_tell() -> None:
    assert compared(a_night(6, fridge=305.0, freezer=390.0, standing=102.0), BEFORE).changed == ()


def test_a_night_half_heard_is_no_example() -> None:
    nights = [replace(n, missing_s=5 * HOUR) for n in BEFORE]

    assert usual(a_night(6), nights) is None
