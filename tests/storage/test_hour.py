"""Minute blocks turned into hours, and both read again."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import StoreDamaged
from monitor.records import Minute
from monitor.storage.digest import Digester
from monitor.storage.hot import Block, block_of, body_of, read_block
from monitor.storage.hour import pack_minutes, pack_samples, turn, unpack_minutes, unpack_samples
from tests.storage.minutes import column

STEPS = {1: 0.1, 2: 0.01, 3: 1.0}
NAMES = {1: "house current", 2: "house voltage", 3: "pump running"}
values = st.floats(-80, 80) | st.just(float("nan"))
says = st.dictionaries(st.sampled_from([1, 2, 3]), st.lists(values, min_size=1, max_size=60), max_size=3)


def blocks_of(said: list[dict[int, list[float]]]) -> list[Block]:
    """A block for each minute; each channel says its values once a second from the minute's start."""
    digester, ids, found = Digester(), {name: number for number, name in NAMES.items()}, []
    for index, minute in enumerate(said):
        columns = {
            NAMES[number]: column((index * 60 + at for at in range(len(each))), each)
            for number, each in minute.items()
        }
        digest = digester.digest(Minute(1, index, columns, {}))
        found.append(read_block(block_of([ids[name] for name in digest.names], body_of(digest))))
    return found


@settings(max_examples=60)
@given(st.lists(says, min_size=1, max_size=6))
def test_what_was_said_comes_out_of_the_hour_to_half_a_step(said: list[dict[int, list[float]]]) -> None:
    hours = {hour.id: hour for hour in turn(list(enumerate(blocks_of(said))), STEPS)}

    for number, step in STEPS.items():
        times = [m * 60 + at for m, minute in enumerate(said) for at in range(len(minute.get(number, ())))]
        expected = np.array([value for minute in said for value in minute.get(number, ())])
        if number not in hours:
            assert not times
            continue
        slots, whole = unpack_samples(pack_samples(hours[number].slots, hours[number].values))
        assert slots.tolist() == times
        back = np.where(whole == -(2**31), np.nan, whole * step)
        np.testing.assert_allclose(back, expected, atol=step / 2 * 1.000001)
        assert hours[number].n == np.count_nonzero(~np.isnan(expected))


@settings(max_examples=60)
@given(st.lists(says, min_size=1, max_size=6))
def test_minutes_hold_their_lowest_mean_and_highest(said: list[dict[int, list[float]]]) -> None:
    for hour in turn(list(enumerate(blocks_of(said))), STEPS):
        step = STEPS[hour.id]
        packed = unpack_minutes(pack_minutes(hour.minutes, step), step)
        some = [
            (m, known)
            for m, minute in enumerate(said)
            if (known := [value for value in minute.get(hour.id, ()) if value == value])
        ]
        assert packed.minute.tolist() == [m for m, _ in some]
        for at, (_, known) in enumerate(some):
            assert packed.low[at] == pytest.approx(min(known), abs=step / 2 + 1e-9)
            assert packed.high[at] == pytest.approx(max(known), abs=step / 2 + 1e-9)
            # Each reading stands a second, the last up to the minute's end or the next not available.
            assert min(known) - step / 8 - 1e-4 <= packed.mean[at] <= max(known) + step / 8 + 1e-4


@pytest.mark.parametrize("at", [0, 3, 5, 20, -1])
def test_a_flipped_byte_of_a_minute_is_seen(at: int) -> None:
    digest = Digester().digest(Minute(1, 0, {"house current": column(range(60), range(60))}, {}))
    blob = bytearray(block_of([1], body_of(digest)))
    blob[at] ^= 0x40

    with pytest.raises(StoreDamaged):
        read_block(bytes(blob))


def test_one_channel_alone_is_what_it_is_among_the_others() -> None:
    (block,) = blocks_of([{1: [1.0, 2.0], 2: [13.2, 13.25], 3: [1.0]}])

    alone = block.only(2)

    assert alone is not None
    assert alone.values.tolist() == [1320, 1325]
    assert alone.slots.tolist() == [0, 1]
    assert (alone.low.tolist(), alone.high.tolist()) == ([1320], [1325])
    assert block.only(9) is None
