"""The crew's habits: seeded, and of the size that such crews report."""

import numpy as np
import pytest

from simulators.household import Household
from simulators.loads import compressors

MIDNIGHT = 1_790_805_600.0


def litres(place: str, watches: bool, seed: int) -> float:
    people = Household(seed)
    days = [people.day(n, MIDNIGHT + 86400 * n, place, watches) for n in range(60)]
    return float(np.mean([sum(d.litres for d in day.draws) for day in days])) / 3


@pytest.mark.parametrize(
    ("place", "watches", "low", "high"), [("at anchor", False, 9, 15), ("sailing", True, 6, 10)]
)
def test_they_use_what_careful_crews_use(place: str, watches: bool, low: float, high: float) -> None:
    """Litres a head a day: thrifty living aboard about 10, a family 11; under way 6 to 10 (common
    practice, from the trade)."""
    for seed in range(4):
        assert low <= litres(place, watches, seed) <= high


def test_guests_use_what_people_aboard_use() -> None:
    """Litres a head a day as the three themselves: 9 to 15 (common practice)."""
    people = Household(2)
    per_head = {
        heads: np.mean([sum(d.litres for d in people.guests(n, MIDNIGHT, heads)) for n in range(60)]) / heads
        for heads in (1, 3, 6)
    }

    assert all(9 <= litres_a_head <= 15 for litres_a_head in per_head.values())


def test_the_same_seed_is_the_same_day_and_another_is_another() -> None:
    assert Household(5).day(3, MIDNIGHT, "at anchor", False) == Household(5).day(
        3, MIDNIGHT, "at anchor", False
    )
    assert Household(5).day(3, MIDNIGHT, "at anchor", False) != Household(6).day(
        3, MIDNIGHT, "at anchor", False
    )


def test_nights_are_quiet_at_anchor() -> None:
    """Between 01:00 and 06:00 a tap opens at most every other night or so (common practice)."""
    people = Household(1)
    draws = [
        d.start_s - MIDNIGHT for n in range(60) for d in people.day(n, MIDNIGHT, "at anchor", False).draws
    ]

    assert sum(3600 < at < 6 * 3600 for at in draws) / 60 <= 0.8


def test_fridge_and_freezer_use_what_a_boats_do_and_more_in_the_warm() -> None:
    """A 12 V fridge 0.3 to 0.6 kWh a day, a freezer 0.5 to 1.0 kWh (40 to 80 Ah): common practice."""

    def daily_Wh(cabin: float) -> list[float]:
        machines = compressors(0.0, np.random.default_rng(2))
        return [
            sum((u.end_s - u.start_s) * u.watts for u in m.uses(10 * 86400.0, cabin)) / 36000
            for m in machines
        ]

    fridge, freezer = daily_Wh(20.0)
    warm_fridge, warm_freezer = daily_Wh(28.0)

    assert 300 <= fridge <= 600
    assert 450 <= freezer <= 1000
    assert warm_fridge > 1.2 * fridge
    assert warm_freezer > 1.1 * freezer
