"""Fast packets: the rules of the standard as stated in `monitor.wire.fast_packet`.

Order, interleaving, loss, repetition and lengths follow those rules one by one; splitting is
compared with the nmea2000 package's own.
"""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nmea2000 import _canboat

from monitor.wire.fast_packet import LONGEST, Assembler, split_payload

PAYLOAD = bytes(range(100, 126))
FRAMES = split_payload(PAYLOAD, 2)
PGN = 127489


def feed(assembler: Assembler, frames: list[bytes], source: int = 0x23, pgn: int = PGN) -> list[bytes]:
    out = [assembler.feed(0.0, source, pgn, frame) for frame in frames]
    return [payload for payload in out if payload is not None]


def test_in_order() -> None:
    assembler = Assembler()

    assert len(FRAMES) == 4
    assert feed(assembler, FRAMES) == [PAYLOAD]
    assert assembler.dropped == 0


@pytest.mark.parametrize("length", [1, 4, 6, 7, 8, 13, 14, 26, 43, 222, 223])
def test_splitting_is_what_the_nmea2000_package_does(length: int) -> None:
    payload = random.Random(length).randbytes(length)

    for sequence in (0, 5, 7):
        assert split_payload(payload, sequence) == _canboat.fast_packet_fragment(sequence, payload)


@pytest.mark.parametrize("length", range(1, LONGEST + 1))
def test_every_length_comes_back(length: int) -> None:
    payload = random.Random(length).randbytes(length)

    assert feed(Assembler(), split_payload(payload, length)) == [payload]


def test_interleaved_sources() -> None:
    assembler = Assembler()
    other = split_payload(PAYLOAD[::-1], 2)
    out = [
        payload
        for mine, theirs in zip(FRAMES, other, strict=True)
        for payload in feed(assembler, [mine], 0x23) + feed(assembler, [theirs], 0x42)
    ]

    assert (out, assembler.dropped) == ([PAYLOAD, PAYLOAD[::-1]], 0)


def test_interleaved_groups_of_one_source() -> None:
    assembler = Assembler()
    other = split_payload(PAYLOAD[::-1], 2)
    out = [
        payload
        for mine, theirs in zip(FRAMES, other, strict=True)
        for payload in feed(assembler, [mine], pgn=127489) + feed(assembler, [theirs], pgn=129029)
    ]

    assert (out, assembler.dropped) == ([PAYLOAD, PAYLOAD[::-1]], 0)


def test_interleaved_sequences_of_one_group() -> None:
    assembler = Assembler()
    other = split_payload(PAYLOAD[::-1], 3)
    frames = [frame for pair in zip(FRAMES, other, strict=True) for frame in pair]

    assert (feed(assembler, frames), assembler.dropped) == ([PAYLOAD, PAYLOAD[::-1]], 0)


@pytest.mark.parametrize(
    ("what", "order"),
    [
        ("frame 1 lost", [0, 2, 3]),
        ("frame 1 repeated", [0, 1, 1, 2, 3]),
        ("frame 1 before 0", [1, 0, 2, 3]),
        ("the last frame lost", [0, 1, 2]),
        ("no first frame", [1, 2, 3]),
        ("frames swapped", [0, 2, 1, 3]),
    ],
)
def test_a_broken_packet_gives_nothing_and_the_next_one_is_whole(what: str, order: list[int]) -> None:
    assembler = Assembler()

    assert feed(assembler, [FRAMES[n] for n in order]) == []
    assert feed(assembler, split_payload(PAYLOAD[::-1], 2)) == [PAYLOAD[::-1]]
    # Whatever was heard in vain is counted, each frame once.
    assert assembler.dropped == len(order)


def test_a_sender_that_starts_again_in_the_middle() -> None:
    assembler = Assembler()

    assert feed(assembler, [*FRAMES[:2], *FRAMES]) == [PAYLOAD]
    assert assembler.dropped == 2


def test_sequences_go_on_from_7_to_0() -> None:
    assembler = Assembler()
    frames = [frame for sequence in (6, 7, 8, 9) for frame in split_payload(PAYLOAD, sequence)]

    assert [frame[0] >> 5 for frame in frames[:: len(FRAMES)]] == [6, 7, 0, 1]
    assert feed(assembler, frames) == [PAYLOAD] * 4


@pytest.mark.parametrize(
    ("gap_s", "whole"), [(0.7, True), (0.75, True), (0.8, False), (3600.0, False), (-5.0, False)]
)
def test_a_packet_that_stands_still_for_750_ms_is_given_up(gap_s: float, whole: bool) -> None:
    # A negative gap is a recording that starts again.
    assembler = Assembler()
    for frame in FRAMES[:2]:
        assembler.feed(10.0, 0x23, PGN, frame)
    rest = [assembler.feed(10.0 + gap_s, 0x23, PGN, frame) for frame in FRAMES[2:]]

    assert rest[-1] == (PAYLOAD if whole else None)
    assert assembler.dropped == (0 if whole else 4)


@pytest.mark.parametrize(
    ("announced", "frames"),
    [(0, None), (1, 1), (6, 1), (7, 2), (8, 2), (223, 32), (224, None), (255, None)],
)
def test_announced_lengths(announced: int, frames: int | None) -> None:
    assembler = Assembler()
    data = [bytes([announced, *range(6)]), *(bytes(range(7)) for _ in range(31))]
    sent = [bytes([n]) + d for n, d in enumerate(data)][: frames or 32]

    out = feed(assembler, sent)

    assert [len(payload) for payload in out] == ([] if frames is None else [announced])
    assert assembler.dropped == (32 if frames is None else 0)


@pytest.mark.parametrize("length", [0, LONGEST + 1])
def test_what_does_not_fit_is_not_split(length: int) -> None:
    with pytest.raises(ValueError, match=f"not {length}"):
        split_payload(bytes(length), 0)


@settings(max_examples=300)
@given(
    st.lists(
        st.tuples(
            st.sampled_from((0.0, 0.1, 0.9)),
            st.sampled_from((1, 2)),
            st.sampled_from((127489, 129029)),
            st.one_of(
                st.binary(max_size=9),
                st.sampled_from([f for s in (0, 1) for f in split_payload(PAYLOAD, s)]),
            ),
        ),
        max_size=60,
    )
)
def test_any_frames_in_any_order_are_counted_and_never_raise(
    heard: list[tuple[float, int, int, bytes]],
) -> None:
    assembler, at_s, whole = Assembler(), 0.0, 0
    for gap_s, source, pgn, data in heard:
        at_s += gap_s
        payload = assembler.feed(at_s, source, pgn, data)
        if payload is not None:
            assert 1 <= len(payload) <= LONGEST
            whole += 1 if len(payload) <= 6 else 1 + (len(payload)) // 7
    # Every frame is in a payload, dropped, or in one of at most 8 packets a stream still open.
    assert whole + assembler.dropped <= len(heard)
    assert len(heard) - whole - assembler.dropped <= 2 * 2 * 8 * 32


def test_lost_frames_cost_only_their_own_packets() -> None:
    # 1 % of frames lost at random: every payload that comes out is one that was sent.
    rng = random.Random(5)
    assembler, sent, out, lost = Assembler(), [], [], 0
    for n in range(2000):
        payload = rng.randbytes(26)
        frames = split_payload(payload, n)
        kept = [frame for frame in frames if rng.random() > 0.01]
        lost += len(kept) < len(frames)
        if len(kept) == len(frames):
            sent.append(payload)
        out += feed(assembler, kept)

    assert out == sent
    assert lost > 50
