"""Every value against the nmea2000 package's decode of the same bytes."""

import math
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nmea2000.backend import is_fast_pgn

from monitor.wire.layout import Field, Layout
from monitor.wire.nmea2000 import LAYOUTS
from tests.bench_decode import compare as compare_all_three
from tests.bench_decode import mixed_bus
from tests.wire.golden import NMEA2000, Golden
from tests.wire.theirs import decode, expected, pairs

MESSAGES = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda x: f"{x.number} {x.name}")


def compare(layout: Layout, payload: bytes) -> None:
    ours = layout.decode_all(payload)
    theirs = decode(layout.number, payload)
    assert len(ours) == len(theirs)
    for our_line, their_line in zip(ours, theirs, strict=True):
        for at, field, their_id in pairs(layout):
            value = expected(field, their_line[their_id])
            if value is None and their_own_absence(field, our_line[at]):
                continue
            assert our_line[at] == (None if value is None else pytest.approx(value, rel=1e-12, abs=1e-9)), (
                f"{field.name} in {payload.hex()}"
            )


LOWEST = {
    "yaw": -180.0, "pitch": -180.0, "heel": -180.0, "latitude": -90.0, "longitude": -180.0,
    "power factor": -1.0,
}  # fmt: skip


def their_own_absence(field: Field, ours: float | None) -> bool:
    """Where the package says None and we do not.

    It drops what is under the lower end of a published range and keeps what is over the upper
    one; here both ends are left to plausibility, which says so. A NAME has no "not available".
    """
    if ours is None:
        return False
    return field.kind == "bits" or ours < LOWEST.get(field.name, -math.inf)


@pytest.mark.parametrize("golden", NMEA2000, ids=lambda g: g.what)
def test_golden_frames_are_decoded_alike(golden: Golden) -> None:
    compare(LAYOUTS[golden.number], golden.payload)


@MESSAGES
@settings(max_examples=150)
@given(data=st.data())
def test_any_bytes_are_decoded_alike(layout: Layout, data: st.DataObject) -> None:
    payload = bytearray(data.draw(st.binary(min_size=layout.length, max_size=layout.length)))
    if layout.repeats is not None:
        payload[1] = 1
    compare(layout, bytes(payload))


@MESSAGES
def test_all_ones_and_all_zeros_are_decoded_alike(layout: Layout) -> None:
    for fill in (b"\xff", b"\xfe", b"\xfd", b"\xfc", b"\x80", b"\x7f", b"\x00"):
        payload = bytearray(fill * layout.length)
        if layout.repeats is not None:
            payload[1] = 1
        compare(layout, bytes(payload))


@MESSAGES
def test_the_transport_is_the_published_one(layout: Layout) -> None:
    # A fast packet stays one however short it is: 127507 has 6 bytes, 127509 has 4.
    assert is_fast_pgn(layout.number) is layout.fast


@pytest.mark.parametrize("number", [127503, 127504])
@pytest.mark.parametrize("lines", [1, 2, 3])
def test_every_line_of_an_ac_message_is_decoded_alike(number: int, lines: int) -> None:
    layout = LAYOUTS[number]
    one = layout.encode(
        {"instance": 2, "lines": lines, "code": 0, "ac voltage": 229.6, "ac power": 1900, "breaker": 16}
    )
    payload = one[:2] + b"".join(bytes([n | 0xFC]) + one[3:] for n in range(lines))

    compare(layout, payload)
    assert [values[layout.place["code"]] for values in layout.decode_all(payload)] == list(range(lines))


def test_a_mixed_bus_is_decoded_alike_by_all_three() -> None:
    # nmea2000 and cantools on one seeded bus, fast packets of two senders interleaved.
    assert compare_all_three(list(islice(mixed_bus(), 5000))) > 15_000
