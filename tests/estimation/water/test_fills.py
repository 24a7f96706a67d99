"""Fills: found by themselves, while the pump runs, and confirmed by the crew."""

import pytest

from monitor.errors import CommandError
from monitor.estimation.tank_orders import obey
from monitor.estimation.tanks import TankLevel
from monitor.records import Command, Event, EventKind
from monitor.settings import Tank
from tests.estimation.water.tankage import minute

TANK = Tank(name="midship", capacity_L=200, unusable_L=10)
HOUR = 3600.0


def lived(level: TankLevel, readings: list[float], start: int = 0, pumped_L: float = 0.0) -> list[Event]:
    """One steady reading a minute, and so much pumped in each."""
    told = []
    for n, reading in enumerate(readings, start):
        told += level.take(minute(n, *[reading] * 6))
        if pumped_L:
            level.pumped(pumped_L)
    return told


def filled(pumped_L: float = 0.0) -> tuple[TankLevel, list[Event]]:
    """From 40 to 70 % of 200 L in ten minutes: 60 L more."""
    level = TankLevel(TANK)
    lived(level, [40.0] * 20)
    told = lived(level, [40.0 + 3.0 * n for n in range(1, 11)], 20, pumped_L)
    return level, told + lived(level, [70.0] * 20, 30)


def said(level: TankLevel, at_s: float, **facts: object) -> Event:
    event = obey({"midship": level}, Command("fill", "midship", facts), at_s)
    assert event is not None
    return event


def test_what_was_drawn_meanwhile_was_poured_in_too() -> None:
    """By hand: the tank rose by 60 L while the pump took 10 of what came in."""
    _, (event,) = filled(pumped_L=1.0)

    assert event.facts["litres"] == pytest.approx(70, abs=3)


def test_the_crew_confirms_the_latest_fill() -> None:
    level, (found,) = filled()

    event = said(level, 5 * HOUR, litres=62.0, source="quay at Muros", treated=True)

    assert (event.kind, event.subject, event.start_s) == (EventKind.FILL, "midship", found.start_s)
    assert event.end_s == found.end_s
    assert event.facts["source"] == "quay at Muros"
    assert event.facts["treated"] is True
    assert event.facts["confirmed"] is True
    assert event.facts["litres"] == 62.0
    assert event.facts["measured_L"] == pytest.approx(60, abs=3)


def test_without_litres_the_measured_ones_stand() -> None:
    level, _ = filled()

    event = said(level, HOUR, source="rain", treated=False)

    assert event.facts["litres"] == pytest.approx(60, abs=3)
    assert "measured_L" not in event.facts


def test_what_is_said_half_a_day_later_is_a_fill_of_its_own() -> None:
    level, (found,) = filled()

    event = said(level, 13 * HOUR, litres=20.0, source="cans")

    assert event.start_s == 13 * HOUR != found.start_s
    assert event.facts == {"litres": 20.0, "source": "cans", "treated": None, "confirmed": True}


def test_what_is_said_while_it_is_filled_stays_with_it() -> None:
    level = TankLevel(TANK)
    lived(level, [40.0] * 20 + [40.0 + 3.0 * n for n in range(1, 6)])

    now = said(level, 25 * 60.0, source="quay", treated=False)
    (over,) = lived(level, [55.0 + 3.0 * n for n in range(1, 6)] + [70.0] * 20, 25)

    assert now.end_s is None
    assert over.start_s == now.start_s
    assert over.facts["source"] == "quay"
    assert over.facts["litres"] == pytest.approx(60, abs=3)


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"litres": "many"}, "expected a number"),
        ({"litres": -3}, "do not go into"),
        ({"litres": 201}, "do not go into a tank of 200 L"),
        ({"litres": float("nan")}, "do not go into"),
        ({"treated": "perhaps"}, "expected yes or no"),
    ],
)
def test_what_makes_no_sense_is_refused_with_the_reason(facts: dict[str, object], told: str) -> None:
    with pytest.raises(CommandError, match=told):
        said(TankLevel(TANK), 0.0, **facts)


def test_a_tank_that_is_not_there_is_named() -> None:
    with pytest.raises(CommandError, match="no tank is called 'bow'; there are: midship"):
        obey({"midship": TankLevel(TANK)}, Command("fill", "bow"), 0.0)


def test_litres_that_were_said_teach_the_table() -> None:
    level, _ = filled()
    said(level, HOUR, litres=62.0)

    ((low, high, litres, by_crew),) = level.state()["teaching"]["pieces"]

    assert (low, high) == pytest.approx((40, 70), abs=1)
    assert litres == 62.0
    assert by_crew
