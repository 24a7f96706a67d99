"""Whole numbers come back as they went in, small and checked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from monitor.errors import StoreDamaged
from monitor.storage.codec import NOTHING, pack, quantise, restore, seal, unpack, unseal, zigzag

whole_numbers = arrays(np.int32, st.integers(0, 300), elements=st.integers(NOTHING, 2**31 - 1))


@given(whole_numbers)
def test_every_run_of_whole_numbers_comes_back(numbers: np.ndarray) -> None:
    assert unpack(pack(numbers)).tolist() == numbers.tolist()


def test_small_numbers_of_either_sign_become_small_ones() -> None:
    # The mapping as published for protocol buffers' signed integers ("ZigZag" encoding):
    # 0 -> 0, -1 -> 1, 1 -> 2, -2 -> 3, 2147483647 -> 4294967294, -2147483648 -> 4294967295.
    signed = np.array([0, -1, 1, -2, 2147483647, -2147483648], np.int32)

    assert zigzag(signed).tolist() == [0, 1, 2, 3, 4294967294, 4294967295]


def test_a_block_carries_the_usual_crc_32() -> None:
    # The check value of CRC-32 (ISO-HDLC, as in Ethernet and zip) for "123456789" is CBF43926.
    assert seal(b"123456789")[:4] == bytes.fromhex("2639f4cb")


@given(st.binary(min_size=1, max_size=200), st.data())
def test_one_flipped_bit_anywhere_is_seen(body: bytes, data: st.DataObject) -> None:
    # CRC-32 finds every single-bit error, whatever the length.
    blob = bytearray(seal(body))
    bit = data.draw(st.integers(0, len(blob) * 8 - 1))
    blob[bit // 8] ^= 1 << bit % 8

    with pytest.raises(StoreDamaged):
        unseal(bytes(blob))


@given(
    arrays(np.float64, st.integers(1, 50), elements=st.floats(-2000, 2000) | st.just(float("nan"))),
    st.sampled_from([0.0001, 0.001, 0.01, 0.1, 0.5, 1.0]),
)
def test_a_value_comes_back_to_half_its_step_and_nothing_stays_nothing(
    values: np.ndarray, step: float
) -> None:
    back = restore(quantise(values, np.full(len(values), step)), step)

    assert np.isnan(back).tolist() == np.isnan(values).tolist()
    assert np.nanmax(np.abs(back - values), initial=0.0) <= step / 2 * (1 + 1e-9)


@pytest.mark.parametrize("noise_steps", [1.0, 2.5, 10.0])
def test_noise_costs_hardly_more_than_its_entropy(noise_steps: float) -> None:
    # Shannon: independent draws of a normal distribution on whole steps cannot be coded in less
    # than their entropy, for a wide one log2(sd * sqrt(2 pi e)) bits. Within 15 % for an hour of it,
    # tables and head included.
    draws = np.rint(np.random.default_rng(5).normal(1300, noise_steps, 3600)).astype(np.int32)
    odds = np.unique(draws, return_counts=True)[1] / len(draws)
    entropy_bytes = -(odds * np.log2(odds)).sum() / 8 * len(draws)

    assert entropy_bytes * 0.97 < len(pack(draws)) < entropy_bytes * 1.15
