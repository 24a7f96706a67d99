"""Every golden frame, all the way: identifier, fast packet, decode, and back."""

import pytest

from monitor.wire import nmea2000, rvc
from monitor.wire.fast_packet import Assembler, split_payload
from monitor.wire.identifier import join, split
from monitor.wire.layout import Layout
from tests.wire.golden import NMEA2000, QUANTISATION, RVC, RVC_BY_HAND, Golden

ALL = [(nmea2000.LAYOUTS, g) for g in NMEA2000] + [(rvc.LAYOUTS, g) for g in (*RVC, *RVC_BY_HAND)]
GOLDEN = pytest.mark.parametrize(("layouts", "golden"), ALL, ids=[g.what for _, g in ALL])


@GOLDEN
def test_a_golden_payload_says_what_it_is_known_to_say(layouts: dict[int, Layout], golden: Golden) -> None:
    layout = layouts[golden.number]

    values = layout.decode(golden.payload)

    said = {name: values[layout.place[name]] for name in golden.values}
    assert said == {
        name: None if value is None else pytest.approx(value, rel=1e-12, abs=QUANTISATION.get(name, 1e-9))
        for name, value in golden.values.items()
    }


@GOLDEN
def test_a_golden_identifier_comes_apart_and_together(layouts: dict[int, Layout], golden: Golden) -> None:
    priority, number, source, destination = split(golden.can_id)

    assert (number, destination) == (golden.number, 255)
    assert source in (0x23, 0x80, 0x48)
    assert join(priority, number, source) == golden.can_id


@GOLDEN
def test_encoding_what_was_decoded_gives_the_golden_bytes(layouts: dict[int, Layout], golden: Golden) -> None:
    layout = layouts[golden.number]
    values = dict(zip((f.name for f in layout.fields), layout.decode(golden.payload), strict=True))

    assert layout.encode(values) == golden.payload


@pytest.mark.parametrize("golden", [g for g in NMEA2000 if g.frames], ids=lambda g: g.what)
def test_golden_fast_packets_are_split_and_put_together(golden: Golden) -> None:
    frames = [bytes.fromhex(frame) for frame in golden.frames]
    assembler = Assembler()

    assert nmea2000.LAYOUTS[golden.number].fast
    assert split_payload(golden.payload, 2) == frames
    *early, last = [assembler.feed(0.0, 0x23, golden.number, frame) for frame in frames]
    assert (last, early, assembler.dropped) == (golden.payload, [None] * len(early), 0)
