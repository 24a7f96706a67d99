"""What a minute adds up to, at full rate and over its borders."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.records import Minute
from monitor.storage.digest import Digester, parts_of
from tests.storage.minutes import column, minute

CURRENT, POWER = "house current", "mains power"


def test_a_steady_current_carries_itself_times_the_time() -> None:
    # -7.5 A for 60 s are -450 As; the reading at the start stands for the whole minute.
    digest = Digester().digest(minute(1, 10, {CURRENT: lambda t: -7.5}))

    assert digest.integral.tolist() == [-450.0]
    assert digest.covered_s.tolist() == [60.0]
    assert digest.n.tolist() == [60]


def test_each_reading_stands_until_the_next_and_over_the_minute() -> None:
    # Current is told as silent after 30 s. Minute 0: 4 A at 50 s -> 10 s x 4 = 40 As.
    # Minute 1: 4 A until 5 s, 2 A from 5 s for 30 s -> 20 + 60 = 80 As over 35 s.
    digester = Digester()
    first = digester.digest(Minute(1, 0, {CURRENT: column([50.0], [4.0])}, {}))
    second = digester.digest(Minute(1, 1, {CURRENT: column([65.0], [2.0])}, {}))
    third = digester.digest(Minute(1, 2, {}, {}))

    assert (first.integral.tolist(), first.covered_s.tolist()) == ([40.0], [10.0])
    assert (second.integral.tolist(), second.covered_s.tolist()) == ([80.0], [35.0])
    assert third.names == ()


def test_a_slow_channel_stands_through_a_minute_without_a_reading() -> None:
    # A temperature is silent after 120 s: 20 degrees at 30 s stand until 150 s.
    digester = Digester()
    minutes = [
        Minute(1, 0, {"box temperature": column([30.0], [20.0])}, {}),
        *(Minute(1, m, {}, {}) for m in (1, 2)),
    ]

    digests = [digester.digest(each) for each in minutes]

    assert [digest.covered_s.tolist() for digest in digests] == [[30.0], [60.0], [30.0]]
    assert [digest.integral.tolist() for digest in digests] == [[600.0], [1200.0], [600.0]]
    assert [digest.n.tolist() for digest in digests] == [[1], [0], [0]]


def test_not_available_ends_what_stood_and_adds_nothing() -> None:
    said = column([0.0, 10.0, 20.0], [5.0, float("nan"), 3.0])

    digest = Digester().digest(Minute(1, 0, {CURRENT: said}, {}))

    # 5 A x 10 s, then unknown, then 3 A for the 30 s it may stand.
    assert digest.integral.tolist() == [140.0]
    assert digest.covered_s.tolist() == [40.0]
    assert (digest.n.tolist(), digest.low.tolist(), digest.high.tolist()) == ([2], [3.0], [5.0])


def test_a_fast_channel_is_summed_in_full_though_one_a_second_is_kept() -> None:
    # Ten a second, one spike of 100 ms between two seconds of the grid.
    digest = Digester().digest(
        minute(1, 0, {CURRENT: lambda t: 90.0 if abs(t - 30.2) < 0.01 else 1.0}, every_s=0.1)
    )

    assert digest.n.tolist() == [600]
    assert digest.high.tolist() == [90.0]
    assert digest.values.max() == 1.0
    assert digest.integral.tolist() == [pytest.approx(60 + 0.1 * 89)]


def test_another_boot_begins_with_nothing_standing() -> None:
    digester = Digester()
    digester.digest(Minute(1, 0, {CURRENT: column([59.0], [4.0])}, {}))

    assert digester.digest(Minute(2, 1, {}, {})).names == ()


readings = st.lists(
    st.tuples(st.floats(0.01, 50.0), st.floats(-500, 500, allow_subnormal=False)), min_size=1, max_size=60
)


@given(readings)
def test_the_minutes_add_up_to_the_whole(steps: list[tuple[float, float]]) -> None:
    """The integral of what stands, by hand over the whole span, is the sum of the minutes'."""
    at_s, times, values = 0.0, [], []
    for after_s, value in steps:
        at_s += after_s
        times.append(at_s)
        values.append(value)
    hold_s = 30.0
    expected = sum(
        value * min(then - now, hold_s)
        for value, (now, then) in zip(values, pairwise((*times, 1e9)), strict=True)
    )
    digester, total = Digester(), 0.0
    for index in range(int(at_s // 60) + 2):
        mine = [(t, v) for t, v in zip(times, values, strict=True) if index * 60 <= t < index * 60 + 60]
        columns = {CURRENT: column(*zip(*mine, strict=True))} if mine else {}
        total += digester.digest(Minute(1, index, columns, {})).integral.sum()

    assert total == pytest.approx(expected, abs=1e-6)


def test_times_out_of_order_are_put_in_order() -> None:
    digest = Digester().digest(Minute(1, 0, {CURRENT: column([20.0, 10.0], [2.0, 1.0])}, {}))

    assert digest.slots.tolist() == [10, 20]
    assert digest.values.tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    ("name", "subject", "quantity"),
    [
        ("house current", "house", "current"),
        ("house current (opinion 2)", "house", "current"),
        ("house cell 12 voltage", "house", "cell 12 voltage"),
        ("port bow tank level", "port bow tank", "level"),
        ("something else", "something else", ""),
    ],
)
def test_a_channel_is_known_by_the_longest_quantity_it_ends_with(
    name: str, subject: str, quantity: str
) -> None:
    found, row = parts_of(name)

    assert (found, row.name) == (subject, quantity)
