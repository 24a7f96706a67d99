"""How fast frames are decoded: ours, the nmea2000 package and cantools on the same frames.

Everything runs in one process in interleaved rounds; the figures are medians. The frames are
seeded: 100,000 of 127508, and 100,000 of a mixed bus of single frames and interleaved fast packets.
Before anything is timed, every value of the three is compared.

    python -m tests.bench_decode
"""

import math
import random
import statistics
import time
from collections.abc import Callable, Iterator
from itertools import islice, zip_longest
from typing import Any

import can
import cantools
from nmea2000.decoder import NMEA2000Decoder

from monitor.channels import QUANTITIES
from monitor.wire.codes import STATES
from monitor.wire.fast_packet import Assembler, split_payload
from monitor.wire.identifier import join, split
from monitor.wire.layout import Field, Layout, Values
from monitor.wire.nmea2000 import LAYOUTS
from tests.wire.theirs import expected, pairs

FRAMES = 100_000
ROUNDS = 5
MASK = 0x01FFFF00
"""For cantools: the group number alone, whatever the priority and the sender."""

MIXED = {
    127508: 20, 127506: 7, 127507: 4, 127751: 20, 127744: 7, 127747: 7, 127503: 7, 127505: 8,
    127501: 7, 127488: 100, 127489: 20, 127257: 10, 130312: 5, 130316: 5, 130314: 5, 129025: 100,
    129026: 40, 129029: 10, 126992: 10, 129033: 10,
}  # fmt: skip
"""How often each message comes, in messages per 10 s: a motoring yacht's bus."""

Can = tuple[int, bytes]
Decode = Callable[[bytes], Values]
Feed = Callable[[float, bytes], bytes | None]


def measure(frames: int = FRAMES, rounds: int = ROUNDS) -> list[str]:
    """Lines to print: frames a second of each decoder and the ratios."""
    lines = []
    for title, bus in (
        ("127508 alone", list(islice(single_message(127508), frames))),
        ("mixed bus", list(islice(mixed_bus(), frames))),
    ):
        compare(bus)
        lines += [f"decoding {len(bus)} frames, {title}:", *_timed(bus, rounds)]
    return lines


def _timed(bus: list[Can], rounds: int) -> list[str]:
    messages = [can.Message(arbitration_id=i, data=data, is_extended_id=True) for i, data in bus]
    payloads = finished(bus)
    book = cantools_book()
    runs: dict[str, Callable[[], object]] = {
        "ours": lambda: ours(bus),
        "nmea2000": lambda: theirs(messages),
        "cantools": lambda: with_cantools(book, bus),
        "cantools, fast packets put together before": lambda: with_cantools_finished(book, payloads),
    }
    seconds: dict[str, list[float]] = {name: [] for name in runs}
    for _ in range(rounds):
        for name, run in runs.items():
            start = time.perf_counter()
            run()
            seconds[name].append(time.perf_counter() - start)
    rate = {name: len(bus) / statistics.median(took) for name, took in seconds.items()}
    return [
        f"  {name}: {per_s:,.0f} frames/s" + (f", ours {rate['ours'] / per_s:.1f}x" if name != "ours" else "")
        for name, per_s in rate.items()
    ]


# --- the three ---


def ours(bus: list[Can]) -> None:
    """As the live path does it: what an identifier needs is looked up once."""
    known: dict[int, tuple[Decode, Feed | None]] = {}
    assembler = Assembler()
    for can_id, data in bus:
        entry = known.get(can_id)
        if entry is None:
            _, number, source, _ = split(can_id)
            layout = LAYOUTS[number]
            put_together = assembler.stream(source, number).feed if layout.fast else None
            entry = known[can_id] = layout.decode, put_together
        decode, feed = entry
        if feed is None:
            decode(data)
        elif (payload := feed(0.0, data)) is not None:
            decode(payload)


def theirs(messages: list[can.Message]) -> None:
    decode = NMEA2000Decoder().decode
    for message in messages:
        decode(message)


def with_cantools(book: Any, bus: list[Can]) -> None:
    """It cannot put fast packets together: it is lent our assembler, in the same way."""
    known: dict[int, Feed | None] = {}
    assembler = Assembler()
    find = book.get_message_by_frame_id
    for can_id, data in bus:
        if can_id not in known:
            _, number, source, _ = split(can_id)
            known[can_id] = assembler.stream(source, number).feed if LAYOUTS[number].fast else None
        feed = known[can_id]
        if feed is None:
            find(can_id).decode(data, decode_choices=False)
        elif (payload := feed(0.0, data)) is not None:
            find(can_id).decode(payload, decode_choices=False)


def with_cantools_finished(book: Any, payloads: list[Can]) -> None:
    """The same with every payload put together beforehand, outside the time."""
    find = book.get_message_by_frame_id
    for can_id, data in payloads:
        find(can_id).decode(data, decode_choices=False)


# --- the frames ---


def single_message(number: int, seed: int = 1) -> Iterator[Can]:
    rng = random.Random(seed)
    can_id = join(6, number, 0x23)
    while True:
        yield can_id, LAYOUTS[number].encode(random_values(LAYOUTS[number], rng))


def mixed_bus(seed: int = 2) -> Iterator[Can]:
    """Three senders; the fast packets of two of them interleave frame by frame."""
    rng = random.Random(seed)
    numbers, often = list(MIXED), list(MIXED.values())
    sequence = 0
    while True:
        packets = []
        for source in rng.sample((0x23, 0x42, 0x80), 2):
            (number,) = rng.choices(numbers, often)
            payload = LAYOUTS[number].encode(random_values(LAYOUTS[number], rng))
            data = split_payload(payload, sequence) if LAYOUTS[number].fast else [payload]
            packets.append([(join(6, number, source), frame) for frame in data])
        sequence = (sequence + 1) % 8
        for pair in zip_longest(*packets):
            yield from (frame for frame in pair if frame is not None)


def random_values(layout: Layout, rng: random.Random) -> dict[str, float | None]:
    """Anything plausible that the fields can say, one in twenty "not available"."""
    values = {f.name: None if rng.random() < 0.05 else _random_value(f, rng) for f in layout.fields}
    return values | {"lines": 1} if layout.repeats else values


def _random_value(field: Field, rng: random.Random) -> float:
    if (states := STATES.get(field.name)) is not None:
        return states.index(rng.choice(list(field.codes.values())))
    lowest, highest = -field.highest if field.signed else 0, field.highest
    bounds = QUANTITIES.get("heel" if field.name == "yaw" else field.name)
    if bounds is not None:
        lowest = max(lowest, math.ceil((bounds.lowest - field.offset) / field.scale))
        highest = min(highest, math.floor((bounds.highest - field.offset) / field.scale))
    return rng.randint(lowest, highest) * field.scale + field.offset


# --- the same values ---


def compare(bus: list[Can]) -> int:
    """Compare every value of the three; how many there were. Raises AssertionError."""
    decoder, book, assembler = NMEA2000Decoder(), cantools_book(), Assembler()
    compared = 0
    for can_id, data in bus:
        _, number, source, _ = split(can_id)
        layout = LAYOUTS[number]
        payload = assembler.feed(0.0, source, number, data) if layout.fast else data
        message = decoder.decode(can.Message(arbitration_id=can_id, data=data, is_extended_id=True))
        assert (payload is None) == (message is None)
        if payload is None or message is None:
            continue
        values = layout.decode(payload)
        fields = {f.id: f for f in message.fields}
        fields |= fields["##list##"].value[0] if "##list##" in fields else {}
        signals = book.get_message_by_frame_id(can_id).decode(payload, decode_choices=False)
        for at, field, their_id in pairs(layout):
            _same(field, values[at], expected(field, fields[their_id]))
            _same_as_signal(field, values[at], signals[field.name.replace(" ", "_")])
            compared += 1
    return compared


def _same(field: Field, value: float | None, other: float | None) -> None:
    if other is None or value is None:
        assert value is other, (field.name, value, other)
    else:
        assert abs(value - other) <= 1e-9 + 1e-12 * abs(other), (field.name, value, other)


def _same_as_signal(field: Field, value: float | None, signal: float) -> None:
    """cantools knows no "not available": it shows such codes as numbers beyond the readings."""
    if (states := STATES.get(field.name)) is not None:
        assert value is None or states[int(value)] == field.codes[int(signal)]
    elif value is None:
        raw = (signal - field.offset) / field.scale
        assert raw > field.highest * (1 - 1e-12), (field.name, signal)
    else:
        _same(field, value, signal)


def finished(bus: list[Can]) -> list[Can]:
    """The payloads with the identifiers they came under."""
    assembler, payloads = Assembler(), []
    for can_id, data in bus:
        _, number, source, _ = split(can_id)
        payload = assembler.feed(0.0, source, number, data) if LAYOUTS[number].fast else data
        if payload is not None:
            payloads.append((can_id, payload))
    return payloads


def cantools_book() -> Any:
    """Our layouts as a DBC, loaded with the mask."""
    text = ['VERSION ""', "NS_ :", "BS_:", "BU_: X"]
    for number in MIXED:
        text.append(f"BO_ {join(6, number, 0) | 1 << 31} M{number}: {LAYOUTS[number].length} X")
        for f in LAYOUTS[number].fields:
            if f.bits:
                place = f"{f.bit}|{f.bits}@1{'-' if f.signed else '+'} ({f.scale!r},{f.offset!r})"
                text.append(f' SG_ {f.name.replace(" ", "_")} : {place} [0|0] "" X')
    return cantools.database.load_string("\n".join(text), "dbc", frame_id_mask=MASK)


if __name__ == "__main__":
    print("\n".join(measure()))
