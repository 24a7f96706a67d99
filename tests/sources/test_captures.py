"""Recordings, read and written: python-can's candump reader and writer are the independent ones."""

import io
import json
from pathlib import Path

import can
import pytest
from can.io.canutils import CanutilsLogReader, CanutilsLogWriter
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import CaptureError
from monitor.records import Frame, Message
from monitor.sources.captures import Skipped, merge, read_candump, read_messages, write_candump, write_message

TIMES = st.integers(0, 4_000_000_000_000_000).map(lambda us: us / 1e6)
EXTENDED = st.builds(
    Frame,
    TIMES,
    st.sampled_from(["can0", "vcan1", "slcan0"]),
    st.integers(0, 0x1FFFFFFF),
    st.binary(max_size=8),
    st.just(True),
)
STANDARD = st.builds(
    Frame, TIMES, st.just("can1"), st.integers(0, 0x7FF), st.binary(max_size=8), st.just(False)
)
MESSAGES = st.builds(
    Message,
    TIMES,
    st.sampled_from(["", "broker"]),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=60).map(str.encode),
    st.booleans(),
)


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("captures") / "bus.log"


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("captures") / "mqtt.jsonl"


@given(frames=st.lists(EXTENDED | STANDARD, max_size=20))
def test_frames_written_are_frames_read(log: Path, frames: list[Frame]) -> None:
    with log.open("w") as file:
        for frame in frames:
            write_candump(file, frame)
    skipped = Skipped()

    read = list(read_candump(log, skipped))

    assert [f[1:] for f in read] == [f[1:] for f in frames]
    assert [f.at_s for f in read] == pytest.approx([f.at_s for f in frames], abs=1e-6)
    assert skipped == Skipped()


@given(frames=st.lists(EXTENDED | STANDARD, max_size=20))
def test_python_can_reads_what_we_write(log: Path, frames: list[Frame]) -> None:
    with log.open("w") as file:
        for frame in frames:
            write_candump(file, frame)

    with CanutilsLogReader(log) as theirs:
        read = [(m.timestamp, m.channel, m.arbitration_id, bytes(m.data), m.is_extended_id) for m in theirs]

    assert read == [tuple(f) for f in read_candump(log)]


def test_we_read_what_python_can_writes_and_set_aside_what_is_no_data_frame(log: Path) -> None:
    with CanutilsLogWriter(log) as theirs:
        theirs.on_message_received(
            can.Message(timestamp=1.5, arbitration_id=0x19F21423, data=b"\x01\x02", channel="vcan0")
        )
        theirs.on_message_received(can.Message(timestamp=2.0, is_error_frame=True))
        theirs.on_message_received(
            can.Message(timestamp=2.5, arbitration_id=0x123, is_extended_id=False, is_remote_frame=True)
        )
        theirs.on_message_received(
            can.Message(
                timestamp=3.0, arbitration_id=0x7FF, is_extended_id=False, channel="can1", is_rx=False
            )
        )
    skipped = Skipped()

    assert list(read_candump(log, skipped)) == [
        Frame(1.5, "vcan0", 0x19F21423, b"\x01\x02", True),
        Frame(3.0, "can1", 0x7FF, b"", False),
    ]
    assert (skipped.lines, skipped.error_frames, skipped.remote_frames) == (0, 1, 1)


def test_the_format_of_the_candump_manual(log: Path) -> None:
    """Lines as `candump -L` prints them (can-utils, candump.c and lib.h; from memory)."""
    log.write_text(
        "(1436509052.249713) vcan0 044#2A366C2BBA\n"
        "(1436509052.449847) vcan0 0F6#7ADFE07BD2\n"
        "(1436509053.650000) can1 1F334455#1122334455667788\n"
        "(1436509053.850870) can1 0A1#\n"
        "(1436509054.000000) can1 5AA#R\n"
    )

    assert list(read_candump(log)) == [
        Frame(1436509052.249713, "vcan0", 0x44, bytes.fromhex("2A366C2BBA"), False),
        Frame(1436509052.449847, "vcan0", 0xF6, bytes.fromhex("7ADFE07BD2"), False),
        Frame(1436509053.65, "can1", 0x1F334455, bytes.fromhex("1122334455667788"), True),
        Frame(1436509053.85087, "can1", 0xA1, b"", False),
    ]


BAD_LINES = [
    "(1.0) can0", "(1.0) can0 123", "(1.0) can0 123#1", "(1.0) can0 123#112233445566778899", "garbage",
    "(x) can0 123#00", "1.0 can0 123#00", "(nan) can0 123#00", "(inf) can0 123#00", "(-1.0) can0 123#00",
    "(1.0) can0 800#00", "(1.0) can0 3FFFFFFFF#00", "(1.0) can0 FFFFFFFF#00", "(1.0) can0 +23#00",
    "(1.0) can0 0x1#00", "(1.0) can0 1_3#00", "(1.0) can0 #00", "(1.0) can0 123##300", "(1.0) can0 123#GG",
    "(1.0) can0 123#00 X", "(1.0) can0 123#00 R R", "\x00\x01\x02",
]  # fmt: skip


@pytest.mark.parametrize("bad", BAD_LINES)
def test_a_bad_line_costs_one_line_and_is_named(log: Path, bad: str) -> None:
    log.write_text(f"# made by hand\n\n(1.0) can0 123#00\n{bad}\n(2.0) can0 124#00\n")
    skipped = Skipped()

    read = list(read_candump(log, skipped))

    assert [f.can_id for f in read] == [0x123, 0x124]
    assert skipped.lines == 1
    assert skipped.first == [f"{log}:4: {bad!r}"]


@given(noise=st.binary(max_size=300))
def test_noise_in_a_log_never_stops_its_reader(log: Path, noise: bytes) -> None:
    log.write_bytes(b"(1.0) can0 123#00\n" + noise + b"\n(2.0) can0 124#00\n")

    read = list(read_candump(log, Skipped()))

    assert (read[0].can_id, read[-1].can_id) == (0x123, 0x124)
    assert all(len(f.data) <= 8 and 0 <= f.can_id <= 0x1FFFFFFF and f.at_s >= 0 for f in read)


@given(messages=st.lists(MESSAGES, max_size=20))
def test_messages_written_are_messages_read(lines: Path, messages: list[Message]) -> None:
    with lines.open("w") as file:
        for message in messages:
            write_message(file, message)

    read = list(read_messages(lines))

    assert [m[1:] for m in read] == [m[1:] for m in messages]
    assert [m.at_s for m in read] == pytest.approx([m.at_s for m in messages], abs=1e-6)


def test_a_line_of_json_by_hand(lines: Path) -> None:
    lines.write_text(
        '{"time": 1782039600, "topic": "marram/panels", "payload": "{\\"power\\": 123.5}"}\n'
        '{"time": 1782039601.5, "topic": "marram/heater", "payload": {"element": true}, "retained": true}\n'
        '{"payload": 12.5, "topic": "tank", "time": 1782039602, "qos": 1}\n'
    )

    assert list(read_messages(lines)) == [
        Message(1782039600.0, "", "marram/panels", b'{"power": 123.5}'),
        Message(1782039601.5, "", "marram/heater", b'{"element": true}', True),
        Message(1782039602.0, "", "tank", b"12.5"),
    ]


@pytest.mark.parametrize(
    "bad",
    [
        "{", "[]", "7", "null", '"text"', '{"time": 1, "topic": "a"}', '{"topic": "a", "payload": "1"}',
        '{"time": "1", "topic": "a", "payload": "1"}', '{"time": NaN, "topic": "a", "payload": "1"}',
        '{"time": true, "topic": "a", "payload": "1"}', '{"time": -1, "topic": "a", "payload": "1"}',
        '{"time": 1e300, "topic": "a", "payload": "1"}', '{"time": 1, "topic": "", "payload": "1"}',
        '{"time": 1, "topic": 5, "payload": "1"}', '{"time": 1, "topic": "a", "payload": "\\ud800"}',
        '{"time": 1, "topic": "a", "payload": "1", "retained": "yes"}', "[" * 100_000, "9" * 5000,
        '{"time": 1, "topic": "a", "payload": "1", "source": 1}',
    ],
)  # fmt: skip
def test_a_bad_line_of_json_costs_one_line(lines: Path, bad: str) -> None:
    good = json.dumps({"time": 1, "topic": "a", "payload": "1"})
    lines.write_text(f"{good}\n{bad}\n{good}\n")
    skipped = Skipped()

    assert len(list(read_messages(lines, skipped))) == 2
    assert skipped.lines == 1
    assert skipped.first[0].startswith(f"{lines}:2: ")


@given(noise=st.binary(max_size=300))
def test_noise_in_json_lines_never_stops_their_reader(lines: Path, noise: bytes) -> None:
    good = b'{"time": 1, "topic": "a", "payload": "1"}'
    lines.write_bytes(good + b"\n" + noise + b"\n" + good + b"\n")

    assert len(list(read_messages(lines, Skipped()))) >= 2


def test_a_payload_that_is_no_text_is_kept_as_far_as_it_is(lines: Path) -> None:
    file = io.StringIO()
    write_message(file, Message(1.0, "broker", "a", b"1\xff2"))
    lines.write_text(file.getvalue())

    assert next(read_messages(lines)).payload == "1\N{REPLACEMENT CHARACTER}2".encode()


@given(
    st.lists(st.lists(st.integers(0, 1000), max_size=30), min_size=1, max_size=4),
)
def test_recordings_are_merged_by_time(
    tmp_path_factory: pytest.TempPathFactory, times: list[list[int]]
) -> None:
    folder = tmp_path_factory.mktemp("merge")
    paths = []
    for n, each in enumerate(times):
        path = folder / f"{n}.log"
        path.write_text("".join(f"({t}.0) can{n} 123#00\n" for t in sorted(each)))
        paths.append(path)

    merged = list(merge(paths))

    assert [f.at_s for f in merged] == sorted(t for each in times for t in each)
    assert sorted(f.source for f in merged) == sorted(f"can{n}" for n, each in enumerate(times) for _ in each)


def test_frames_and_messages_are_merged_and_a_clock_set_back_keeps_the_order_of_the_day(
    tmp_path: Path,
) -> None:
    """Both recordings were running when the clock went back from 1000 s to 10 s."""
    bus, mqtt = tmp_path / "bus.log", tmp_path / "mqtt.jsonl"
    bus.write_text("".join(f"({t}.0) can0 123#00\n" for t in (998, 1000, 10, 12)))
    mqtt.write_text("".join(f'{{"time": {t}, "topic": "a", "payload": "1"}}\n' for t in (999, 11, 13)))

    merged = list(merge([bus, mqtt]))

    assert [m.at_s for m in merged] == [998, 999, 1000, 10, 11, 12, 13]


@pytest.mark.parametrize("name", ["missing.log", "missing.jsonl"])
def test_a_recording_that_is_not_there_is_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(CaptureError, match=rf"{name}: cannot be read: No such file"):
        list(merge([tmp_path / name]))


@pytest.mark.parametrize("name", ["photo.log", "photo.jsonl"])
def test_a_file_that_is_no_recording_is_named_with_its_first_line(tmp_path: Path, name: str) -> None:
    good = tmp_path / "good.log"
    good.write_text("(1.0) can0 123#00\n")
    path = tmp_path / name
    path.write_bytes(bytes(range(256)) * 40_000)

    with pytest.raises(CaptureError, match=rf"{name}:1: .*not a recording"):
        list(merge([good, path]))


def test_an_empty_recording_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty.log"
    path.touch()

    assert list(merge([path])) == []
    assert list(merge([])) == []
