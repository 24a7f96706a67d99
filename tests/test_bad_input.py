"""Whatever a bus or a broker may bring: nothing stops the watch, every valid reading is kept, and what
is wrong is counted and said. End to end, through the pipeline into a real store and out of it.
"""

import json
import random
import struct
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as run
from hypothesis import strategies as st

from monitor.records import Frame, Message
from monitor.sources.captures import Skipped, read_candump, write_candump
from monitor.wire import nmea2000, rvc
from tests.watched import (
    START_S,
    Watched,
    assert_the_good_is_kept,
    battery,
    good,
    marram,
    volts,
    watched_for_a_while,
)


@pytest.fixture
def watched(tmp_path: Path) -> Watched:
    return Watched(tmp_path / "boat.db")


# ---- noise

NUMBERS = sorted({*nmea2000.LAYOUTS, *rvc.LAYOUTS})
TOPICS = ["marram/heater", "marram/panels", "marram", "marram/heater/", "$SYS/broker/uptime", "/", "ü" * 50]
PAYLOADS = [
    b"", b"12.8", b"12,8", b"NaN", b"-Infinity", b"1e999", b"null", b"true", b"on", b'"', b"{", b"[]",
    b"\xff\xfe",
    b'{"power": NaN}', b'{"power": -Infinity}', b'{"power": "Infinity"}', b'{"power": "12,5"}',
    b'{"power": {"power": 1}}', b'{"power": 1e400}', b'{"power": 5e499}',
    b'{"power": null, "current": "3.5"}',
    b'{"water": [40]}', b'{"element": "perhaps"}', b"[" * 60_000, b'{"power": ' + b"9" * 5000 + b"}",
    b'{"power": "' + b"x" * 70_000 + b'"}',
    '{"power": "１２"}'.encode(), b'{"power": 12}\x00', b"\x00" * 9,
]  # fmt: skip


def _identifier(number: int, priority: int, address: int) -> int:
    return priority << 26 | number << 8 | address


# Not from address 0x23: those would be the valid instrument's own words.
addresses = st.integers(0, 255).filter(lambda a: a != 0x23)
frames = st.builds(
    Frame,
    at_s=st.just(0.0),
    source=st.sampled_from(["can0", "can1", "can2", "can9"]),
    can_id=st.one_of(
        st.builds(_identifier, st.sampled_from(NUMBERS), st.integers(0, 7), addresses),
        st.builds(_identifier, st.integers(0, 0x3FFFF), st.integers(0, 7), addresses),
        st.integers(0x100, 0x103),
        st.integers(0, 0x7FF),
    ),
    data=st.binary(max_size=8),
    extended=st.booleans(),
).map(lambda f: f if f.extended else f._replace(can_id=f.can_id & 0x7FF))
messages = st.builds(
    Message,
    at_s=st.just(0.0),
    source=st.sampled_from(["broker", "", "another"]),
    topic=st.one_of(st.sampled_from(["marram/panels", "elsewhere"]), st.text(min_size=1, max_size=30)),
    payload=st.one_of(
        st.sampled_from(PAYLOADS),
        st.binary(max_size=60),
        st.dictionaries(
            st.sampled_from(["power", "current", "water"]),
            st.one_of(st.floats(), st.integers(), st.text(max_size=9), st.booleans(), st.none()),
        ).map(lambda d: json.dumps(d).encode()),
    ),
    retained=st.booleans(),
)


@run(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.floats(1.0, 149.0), st.one_of(frames, messages)), max_size=40))
def test_any_noise_between_good_readings(noise: list[tuple[float, Frame | Message]]) -> None:
    spoiled = [item._replace(at_s=START_S + after_s) for after_s, item in noise]
    items = sorted([*good(150), *spoiled], key=lambda item: item.at_s)
    with watched_for_a_while() as watched:
        watched.feed(items)
        watched.end()

        assert_the_good_is_kept(watched, 150)
        assert watched.pipeline.frames + watched.pipeline.messages == len(items)
        assert watched.counted("heard") == len(items)
        wild = [i for i in spoiled if isinstance(i, Message) and i.topic not in TOPICS[:2]]
        assert watched.counted("unknown", "broker") == len(wild)


def test_an_hour_of_heavy_noise(watched: Watched) -> None:
    """40,000 spoiled frames and messages among an hour's good ones, from one seed."""
    rng = random.Random(11)
    items = good(3600)
    for _ in range(40_000):
        at_s = START_S + rng.uniform(1.0, 3599.0)
        address = rng.choice([1, 2, 0x24, 200, 254, 255])
        number = rng.choice(NUMBERS) if rng.random() < 0.9 else rng.randrange(1 << 18)
        can_id = _identifier(number, rng.randrange(8), address)
        if rng.random() < 0.1:
            topic = rng.choice(TOPICS[1:])
            items.append(Message(at_s, "broker", topic, rng.choice(PAYLOADS[:-6]), rng.random() < 0.2))
        elif rng.random() < 0.1:
            can_id = rng.choice([0x100, 0x101, 0x102, 0x103, rng.randrange(0x800)])
            items.append(Frame(at_s, "can1", can_id, rng.randbytes(rng.randrange(9)), extended=False))
        else:
            source = rng.choice(["can0", "can2"])
            items.append(Frame(at_s, source, can_id, rng.randbytes(rng.choice([8, 8, 8, rng.randrange(9)]))))
    items.sort(key=lambda item: item.at_s)

    watched.feed(items)
    watched.end()

    assert_the_good_is_kept(watched, 3600)
    assert watched.counted("heard") == watched.fed == len(items)
    assert watched.counted("undecodable") > 1000
    assert watched.counted("unknown") > 1000
    assert watched.counted("implausible") > 100
    snapshot = watched.pipeline.snapshot(watched.pipeline.now_s)
    for reading in snapshot.values.values():
        assert reading.value is None or abs(reading.value) < 1e7
    for estimate in snapshot.estimates.values():
        for figure in (estimate.value, estimate.low, estimate.high):
            assert figure is None or abs(figure) < 1e7


# ---- messages, one kind at a time

REFUSED = {
    "NaN": (b'{"power": NaN}', "not a finite number"),
    "infinity": (b'{"power": Infinity}', "not a finite number"),
    "infinity in words": (b'{"power": "-inf"}', "not a finite number"),
    "a number beyond all": (b'{"power": 1e999}', "not a finite number"),
    "a decimal comma": (b'{"power": "12,5"}', "decimal comma"),
    "a word": (b'{"power": "plenty"}', "not a finite number"),
    "a list": (b'{"power": [12.5]}', "got a JSON list"),
    "an object": (b'{"power": {}}', "got a JSON object"),
    "another document": (b'{"strength": 12.5}', "nothing at /power"),
    "half a document": (b'{"power": 12.', "not JSON"),
    "no JSON": (b"power=12.5", "not JSON"),
    "nothing": (b"", "not JSON"),
    "another encoding": (b'{"power": "\xff"}', "not UTF-8"),
    "a tower": (b"[" * 60_000, "not JSON"),
    "a flood": (b'{"power": 1, "more": "' + b"x" * 70_000 + b'"}', "at most 65536 are read"),
}


@pytest.mark.parametrize(("payload", "why"), REFUSED.values(), ids=REFUSED)
def test_a_payload_that_says_nothing_is_counted_and_said(tmp_path: Path, payload: bytes, why: str) -> None:
    watched = Watched(
        tmp_path / "boat.db", marram({'topic = "marram/panels", pointer = "/current"': 'topic = "other"'})
    )
    said = Message(START_S + 30.5, "broker", "marram/panels", payload)
    watched.feed(sorted([*good(90), said], key=lambda i: i.at_s))
    watched.end()

    assert_the_good_is_kept(watched, 90)
    assert watched.samples("panels power") == {}
    assert watched.counted("undecodable") == 1
    assert watched.trouble("broker").startswith("marram/panels: ")
    told = [s.trouble for s in watched.pipeline.snapshot(START_S + 90.0).sources if s.name == "broker"]
    assert told == [watched.trouble("broker")]
    assert why in watched.trouble("broker")


def test_a_share_where_percent_is_meant_is_refused_with_what_to_set(tmp_path: Path) -> None:
    """0.4 of a tank is no 0.4 %; an instrument that has said more than 1 speaks in percent."""
    tank = '{ source = "broker", topic = "tank", quantity = "level" }'
    settings = marram({"# wedge_bottom = 0\nfeeds = [": f"# wedge_bottom = 0\nfeeds = [{tank}, "})
    watched = Watched(tmp_path / "boat.db", settings)
    said = ["0.4", "0.39", "0", "40", "0.9", "1"]
    watched.feed(Message(START_S + 10.0 * n, "broker", "tank", text.encode()) for n, text in enumerate(said))
    watched.end()

    assert watched.samples("forward level") == {
        START_S + 20: 0.0, START_S + 30: 40.0, START_S + 40: 0.9, START_S + 50: 1.0
    }  # fmt: skip
    assert watched.counted("undecodable") == 2
    assert "looks like a share of 1, not percent: set scale = 100 in tanks[0]" in watched.trouble("broker")


def test_a_retained_value_hours_old_is_not_believed_unless_the_settings_say_so(tmp_path: Path) -> None:
    settings = marram(
        {'pointer = "/power", quantity = "power"': 'pointer = "/power", quantity = "power", retained = true'}
    )
    watched = Watched(tmp_path / "boat.db", settings)
    kept = b'{"power": 300, "current": 21}'
    watched.feed([*good(70), Message(START_S + 70.0, "broker", "marram/panels", kept, retained=True)])
    watched.feed([Message(START_S + 80.0, "broker", "marram/panels", b'{"power": 280, "current": 20}')])
    watched.end()

    assert watched.samples("panels power") == {START_S + 70: 300.0, START_S + 80: 280.0}
    assert watched.samples("panels current") == {START_S + 80: 20.0}
    assert watched.counted("retained", "broker") == 1


# ---- frames, one kind at a time


def test_readings_that_cannot_be_are_not_available_and_counted(watched: Watched) -> None:
    spoiled = [battery(START_S + s, v, 0.0) for s, v in ((90, 81.0), (91, -3.0), (92, 327.64))]
    watched.feed([*good(90), *spoiled])
    watched.end()

    assert_the_good_is_kept(watched, 90)
    stored = watched.samples("house voltage")
    assert all(stored[START_S + s] != stored[START_S + s] for s in (90, 91, 92))
    assert watched.counted("implausible", "backbone") == 3
    health = next(s for s in watched.pipeline.snapshot(START_S + 92.0).sources if s.name == "backbone")
    assert health.implausible == 3


@pytest.mark.parametrize("length", range(8))
def test_a_truncated_frame_costs_itself(watched: Watched, length: int) -> None:
    whole = battery(START_S + 30.5, 12.0, 99.0)
    watched.feed(sorted([*good(90), whole._replace(data=whole.data[:length])], key=lambda i: i.at_s))
    watched.end()

    assert watched.counted("undecodable", "backbone") == 1
    assert_the_good_is_kept(watched, 90)


DETAIL = 0x19F21223
"""PGN 127506, DC detailed status, from address 0x23."""


def detail(at_s: float, instance: int, charge_pct: int, sequence: int, address: int = 0x23) -> list[Frame]:
    """A fast packet of two frames: SID, instance, type, charge, health, minutes left, ripple, capacity."""
    payload = struct.pack("<BBBBBHHH", 0xFF, instance, 0, charge_pct, 0xFF, 0xFFFF, 0xFFFF, 0xFFFF)
    head = sequence << 5
    first = bytes((head, len(payload))) + payload[:6]
    second = bytes((head + 1,)) + payload[6:].ljust(7, b"\xff")
    can_id = DETAIL & ~0xFF | address
    return [Frame(at_s, "can0", can_id, first), Frame(at_s + 0.01, "can0", can_id, second)]


def test_orphans_and_interleaved_fast_packets(watched: Watched) -> None:
    a, b = detail(START_S + 10, 0, 71, 0), detail(START_S + 10, 1, 62, 0, address=0x30)
    late = detail(START_S + 20, 0, 99, 1)
    items = [
        a[0], b[0], b[1], a[1],  # two senders, frame between frame
        *[f._replace(at_s=START_S + 15.0) for f in reversed(detail(0, 0, 98, 2))],  # reversed
        late[0], late[1]._replace(at_s=START_S + 21.0),  # the second after more than 750 ms
        detail(START_S + 25, 0, 97, 3)[1],  # an end alone
        *detail(START_S + 30, 0, 70, 4),
    ]  # fmt: skip
    watched.feed(sorted([*good(90), *items], key=lambda i: i.at_s))
    watched.end()

    assert_the_good_is_kept(watched, 90)
    assert watched.samples("house charge") == {START_S + 10: 71.0, START_S + 30: 70.0}
    assert watched.samples("navigation charge") == {START_S + 10: 62.0}
    # The reversed pair, the late pair and the lone end; a beginning without an end is lost with the
    # next packet of its sequence, and none came.
    assert watched.counted("undecodable", "backbone") == 4
    assert "fast packet" in watched.trouble("backbone")


def test_error_and_remote_frames_in_a_capture_are_only_counted(watched: Watched, tmp_path: Path) -> None:
    """As `candump -L` writes them: error frames have bit 29 set, remote frames an R for their data."""
    capture, skipped = tmp_path / "bus.log", Skipped()
    with capture.open("w", encoding="ascii") as file:
        for item in good(90):
            if isinstance(item, Frame):
                write_candump(file, item)
            if item.at_s % 30 == 0:
                file.write(f"({item.at_s:.6f}) can0 20000088#0000040000000000\n")
                file.write(f"({item.at_s:.6f}) can0 19F21423#R\n({item.at_s:.6f}) can0 123#R8\n")
                file.write("candump: no buffer space\n\n")

    watched.feed(read_candump(capture, skipped))
    watched.end()

    assert watched.samples("house voltage") == {START_S + s: volts(s) for s in range(90)}
    rounds = sum(i.at_s % 30 == 0 for i in good(90))
    assert (skipped.error_frames, skipped.remote_frames, skipped.lines) == (rounds, 2 * rounds, rounds)
    assert watched.counted("heard") == sum(isinstance(i, Frame) for i in good(90))
