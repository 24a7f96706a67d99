"""The household that the judge is tried on: it must neither make nor lose water."""

from itertools import pairwise

import pytest

from tests.estimation.water.household import DAY, House, Plumbing


@pytest.mark.parametrize("leak", [0.0, 0.5, 5.0])
def test_what_is_pumped_has_gone_somewhere(leak: float) -> None:
    plumbing = Plumbing()
    house = House(11, plumbing)
    house.leak = leak

    for _ in range(20):
        house.day()

    gone = house.drawn_L + house.leaked_L
    # The accumulator's content may differ by a drawdown; refills scatter by 3 % of one each,
    # which stays within it, so it does not add up.
    assert house.pumped_L == pytest.approx(gone, abs=0.02 * gone + plumbing.drawdown_L)
    # Within the time that draws take, up to 2 % of a day, the leak rests.
    assert house.leaked_L == pytest.approx(leak * 480, rel=0.02)


def test_runs_follow_each_other_and_stand_on_the_grid() -> None:
    house = House(3, Plumbing(edges_s=1.0))

    runs = [run for _ in range(5) for run in house.day()[0]]

    assert all(a.end_s <= b.start_s + 1.0 for a, b in pairwise(runs))
    lengths = [run.end_s - run.start_s for run in runs]
    assert max(abs(length - round(length)) for length in lengths) < 1e-6
    assert 0 <= runs[0].start_s < runs[-1].end_s < 5 * DAY + 60


def test_three_people_use_what_people_use() -> None:
    """Ten to twenty litres a head a day (common practice for a careful crew)."""
    house = House(1, Plumbing())

    for _ in range(30):
        house.day()

    assert 10 <= house.drawn_L / 90 <= 20
