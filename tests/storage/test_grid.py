"""One sample a second, none lost to jitter."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.storage.grid import place


def placed(times: list[float], last_second: int = -10, last_at_s: float = -10.0) -> dict[int, float]:
    """Second of the grid -> time of the sample that stands there."""
    count = np.array([len(times)])
    keep, slots, counts = place(np.array(times), np.array([0]), count, [last_second], [last_at_s])
    assert counts.tolist() == [len(keep)] == [len(slots)]
    return dict(zip(slots.tolist(), np.array(times)[keep].tolist(), strict=True))


@given(st.lists(st.floats(-0.24, 0.24), min_size=2, max_size=58), st.floats(0.3, 1.3))
def test_a_channel_of_one_hertz_keeps_every_sample_however_it_jitters(
    jitter: list[float], phase: float
) -> None:
    times = [at + phase + early for at, early in enumerate(jitter)]

    kept = placed(times)

    assert list(kept.values()) == times
    assert all(abs(slot - at_s) <= 1.5 for slot, at_s in kept.items())
    assert list(kept) == sorted(set(kept))


def test_two_on_the_same_second_half_a_second_apart_both_stay() -> None:
    assert placed([9.6, 10.4]) == {10: 9.6, 11: 10.4}


def test_closer_ones_leave_the_last() -> None:
    assert placed([9.7, 10.1, 10.4]) == {10: 10.4}


def test_ten_a_second_leave_the_last_of_each_second() -> None:
    times = [round(at / 10, 1) for at in range(600)]

    kept = placed(times)

    # Second 30 takes 29.5 up to 30.4; the last second of the minute has its first half only.
    assert kept[30] == 30.4
    assert kept[60] == 59.9
    assert len(kept) == 61


def test_the_last_second_of_the_minute_before_is_not_taken_twice() -> None:
    assert placed([0.3, 1.3], last_second=0, last_at_s=-0.4) == {1: 0.3, 2: 1.3}


def test_several_channels_do_not_touch_each_other() -> None:
    times = np.array([0.6, 1.4, 5.0, 0.7, 1.4])

    keep, slots, counts = place(times, np.array([0, 3]), np.array([3, 2]), [-9, -9], [-9.0, -9.0])

    assert keep.tolist() == [0, 1, 2, 3, 4]
    assert slots.tolist() == [1, 2, 5, 1, 2]
    assert counts.tolist() == [3, 2]
