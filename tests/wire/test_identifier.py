"""Identifiers: worked examples decoded by the nmea2000 package too, and the J1939 rules."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nmea2000.decoder import NMEA2000Decoder  # noqa: F401  (the package registers its formats here)
from nmea2000.decoder_formats import DecoderBase

from monitor.wire.identifier import GLOBAL, join, split


@pytest.mark.parametrize(
    ("can_id", "priority", "number", "source", "destination"),
    [
        (0x19F21423, 6, 127508, 0x23, GLOBAL),
        (0x09F20023, 2, 127488, 0x23, GLOBAL),
        (0x15FD0823, 5, 130312, 0x23, GLOBAL),
        (0x09F80123, 2, 129025, 0x23, GLOBAL),
        (0x19FFFD80, 6, 0x1FFFD, 0x80, GLOBAL),
        # PDU1 (PF below 240): the low byte is the destination and not part of the number.
        (0x18EA0523, 6, 59904, 0x23, 0x05),
        (0x18EEFF23, 6, 60928, 0x23, GLOBAL),
    ],
)
def test_worked_identifiers(can_id: int, priority: int, number: int, source: int, destination: int) -> None:
    assert split(can_id) == (priority, number, source, destination)
    assert join(priority, number, source, destination) == can_id


@settings(max_examples=500)
@given(st.integers(0, 0x1FFFFFFF))
def test_every_identifier_is_split_as_the_nmea2000_package_does(can_id: int) -> None:
    number, source, destination, priority = DecoderBase.extract_header(can_id)

    assert split(can_id) == (priority, number, source, destination)


@settings(max_examples=500)
@given(st.integers(0, 0x1FFFFFFF))
def test_apart_and_together(can_id: int) -> None:
    parts = split(can_id)
    if parts[1] <= 0x1FFFF:
        assert join(*parts) == can_id
    else:
        # Bit 25 set: neither standard's frame, and no number of theirs.
        assert can_id >> 25 & 1


@pytest.mark.parametrize("parts", [(8, 127508, 0, 255), (6, 1 << 17, 0, 255), (6, 0, 256, 0), (6, 0, 0, 256)])
def test_parts_that_do_not_fit(parts: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match="no identifier"):
        join(*parts)
