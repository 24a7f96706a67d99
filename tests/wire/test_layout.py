"""Short and long payloads, repeats, encoding, and what the tables as a whole must keep to."""

import random
from collections import Counter
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.channels import QUANTITIES
from monitor.errors import UndecodableError
from monitor.settings import SUBJECT_GROUPS
from monitor.wire import nmea2000, rvc
from monitor.wire.codes import STATES
from monitor.wire.layout import Field, Layout
from tests.bench_decode import random_values

LAYOUTS = [*nmea2000.LAYOUTS.values(), *rvc.LAYOUTS.values()]


def always_says_something(field: Field) -> bool:
    """Bits and pairs of bits of which every number has a meaning: they have no "not available"."""
    return field.kind == "bits" or field.name in ("acceptability", "integrity")


EVERY_LAYOUT = pytest.mark.parametrize("layout", LAYOUTS, ids=lambda x: f"{x.number} {x.name}")


@EVERY_LAYOUT
def test_a_payload_that_does_not_hold_every_field_is_undecodable(layout: Layout) -> None:
    for length in range(layout.least):
        with pytest.raises(UndecodableError, match=f"{layout.name}.*{length} bytes"):
            layout.decode(bytes(length))


@EVERY_LAYOUT
def test_bytes_that_no_field_needs_may_be_missing_or_many(layout: Layout) -> None:
    # 127751 travels with two more bytes from some senders; the tail of a layout is reserved bits.
    whole = layout.decode(bytes(layout.length))

    assert layout.decode(bytes(layout.least)) == whole
    assert layout.decode(bytes(layout.length) + b"\x55" * 9) == whole
    assert len(whole) == len(layout.fields)


@EVERY_LAYOUT
@settings(max_examples=60)
@given(payload=st.binary(max_size=64))
def test_junk_raises_nothing_but_undecodable(layout: Layout, payload: bytes) -> None:
    for decode in (layout.decode, layout.decode_all):
        with suppress(UndecodableError):
            decode(payload)


@EVERY_LAYOUT
def test_what_is_encoded_is_decoded(layout: Layout) -> None:
    rng = random.Random(3)
    for _ in range(50):
        values = random_values(layout, rng)
        if "resolution" in values:
            values |= {"resolution": 200, "level": rng.randint(0, 200) / 2}
        decoded = layout.decode(layout.encode(values))

        for field, value in zip(layout.fields, decoded, strict=True):
            sent = values[field.name]
            if field.bits == 0 or (sent is None and always_says_something(field)):
                continue
            assert value == (None if sent is None else pytest.approx(sent, rel=1e-9, abs=1e-9)), field.name


@EVERY_LAYOUT
def test_nothing_to_say_is_not_available_everywhere(layout: Layout) -> None:
    decoded = layout.decode(layout.encode({}))

    for field, value in zip(layout.fields, decoded, strict=True):
        assert value is None or field.bits == 0 or always_says_something(field), field.name


def test_a_value_that_does_not_fit_is_not_sent() -> None:
    battery = nmea2000.LAYOUTS[127508]

    with pytest.raises(ValueError, match=r"voltage 400.* does not fit"):
        battery.encode({"voltage": 400})
    with pytest.raises(ValueError, match="does not fit"):
        # Its raw number would be the code for "not available".
        battery.encode({"voltage": 327.67})
    with pytest.raises(ValueError, match="no code for 'storage'"):
        nmea2000.LAYOUTS[127507].encode({"charger state": STATES["charger state"].index("storage")})
    with pytest.raises(KeyError, match="no field volts"):
        battery.encode({"volts": 12})


def test_lines_that_are_announced_but_missing_are_undecodable() -> None:
    layout = nmea2000.LAYOUTS[127503]
    one = layout.encode({"instance": 0, "lines": 2, "ac power": 100})

    with pytest.raises(UndecodableError, match="20 bytes for 2 lines"):
        layout.decode_all(one)
    with pytest.raises(UndecodableError):
        layout.decode_all(b"")
    assert layout.decode_all(b"\x00\x00") == []


@EVERY_LAYOUT
def test_fields_lie_apart_and_inside_the_message(layout: Layout) -> None:
    claimed = Counter(bit for f in layout.fields for bit in range(f.bit, f.bit + f.bits))

    assert max(claimed.values()) == 1
    assert max(claimed) < 8 * layout.length
    assert len(layout.place) == len(layout.fields)
    assert layout.length == 8 or layout.fast


@EVERY_LAYOUT
def test_a_layout_feeds_something_that_exists(layout: Layout) -> None:
    assert layout.subject in (*SUBJECT_GROUPS, "clock", "devices", "")
    for field in layout.fields:
        quantity = QUANTITIES.get(field.name)
        # A quantity that is a state decodes to the one numbering, whatever the protocol.
        if quantity is not None and quantity.state:
            assert field.name in STATES
            assert set(field.codes.values()) <= set(STATES[field.name])
            assert len(STATES[field.name]) - 1 <= quantity.highest


def test_every_message_of_the_scope_has_a_row() -> None:
    assert nmea2000.LAYOUTS.keys() == {
        127505, 127506, 127508, 127507, 127509, 127513, 127751, 127750, 127744, 127745, 127746,
        127747, 127748, 127749, 127503, 127504, 127488, 127489, 127501, 127502, 127257, 127491,
        130312, 130314, 130316, 130567, 129025, 129026, 129029, 129033, 126992, 60928,
    }  # fmt: skip
    assert rvc.LAYOUTS.keys() == {
        0x1FFFD, 0x1FFFC, 0x1FFFB, 0x1FEC9, 0x1FEC8, 0x1FEC7, 0x1FED0, 0x1FFC7, 0x1FEA3, 0x1FFDC,
        0x1FFDB, 0x1FFB7, 0x1FFB3,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("bit", "bits", "signed"),
    [(0, 8, True), (3, 5, True), (8, 24, True), (8, 24, False), (5, 12, False), (21, 11, False)],
)
def test_odd_places_are_cut_out_as_plain_arithmetic_does(bit: int, bits: int, signed: bool) -> None:
    layout = Layout(1, "odd", "", (Field("x", bit, bits, signed=signed, kind="bits"),))
    rng = random.Random(4)
    for _ in range(200):
        payload = rng.randbytes(8)
        raw = int.from_bytes(payload, "little") >> bit & ((1 << bits) - 1)

        assert layout.decode(payload) == (raw - (1 << bits) if signed and raw >> (bits - 1) else raw,)
