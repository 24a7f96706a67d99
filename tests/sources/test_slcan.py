"""Serial CAN adapters: lines cut anywhere, opened listen-only, unplugged and back, on a full bus.

The line format is that of the Linux kernel's slcan driver (drivers/net/can/slcan/slcan-core.c,
comments); python-can's own reader of it is asked as an independent one.
"""

import random
import threading
from itertools import islice
from pathlib import Path

import pytest
from can.interfaces.slcan import slcanBus
from hypothesis import given
from hypothesis import strategies as st

from monitor.records import Frame
from monitor.settings import CanSource
from monitor.sources.health import Health
from monitor.sources.inbox import Inbox
from monitor.sources.slcan import Lines, SlcanThread
from monitor.system_clock import SystemClock
from tests.bench_bus import FULL_BUS_FRAMES_PER_S, mixed_frames, saturate_slcan
from tests.sources.listening import Adapter, eventually, hear, running


def reader() -> tuple[Lines, Health]:
    health = Health("adapter", "can")
    return Lines("adapter", health), health


def thread(path: Path, inbox: Inbox, bit_rate: int = 250_000) -> SlcanThread:
    settings = CanSource.model_validate(
        {"kind": "can", "name": "adapter", "interface": "slcan", "channel": str(path), "bit_rate": bit_rate}
    )
    return SlcanThread(settings, inbox, SystemClock(), first_retry_s=0.05)


FRAMES = [
    # The first three are the examples in the kernel driver's comments (from memory). The fourth is
    # an NMEA 2000 battery status with the four digits of time stamp that some adapters add.
    pytest.param("t1230", (0x123, b"", False), id="empty"),
    pytest.param("t4563112233", (0x456, b"\x11\x22\x33", False), id="three bytes"),
    pytest.param("T12ABCDEF2AA55", (0x12ABCDEF, b"\xaa\x55", True), id="extended"),
    pytest.param(
        "T19F21423800300584FF7774071A2B", (0x19F21423, bytes.fromhex("00300584FF777407"), True), id="stamped"
    ),
]


@pytest.mark.parametrize(("line", "expected"), FRAMES)
def test_the_published_examples(line: str, expected: tuple[int, bytes, bool]) -> None:
    lines, _ = reader()

    assert lines.feed(7.0, f"{line}\r".encode()) == [Frame(7.0, "adapter", *expected)]


@given(st.data())
def test_a_stream_cut_anywhere_gives_the_same_frames(data: st.DataObject) -> None:
    sent = [
        data.draw(st.tuples(st.integers(0, 0x1FFFFFFF), st.binary(max_size=8)), label="frame")
        for _ in range(data.draw(st.integers(0, 8)))
    ]
    stream = "".join(f"T{i:08X}{len(d)}{d.hex()}\r" for i, d in sent).encode()
    lines, health = reader()
    heard = []
    while stream:
        size = data.draw(st.integers(1, len(stream)))
        heard += lines.feed(0.0, stream[:size])
        stream = stream[size:]

    assert [(f.can_id, f.data) for f in heard if isinstance(f, Frame)] == sent
    assert health.unreadable == 0


def test_remote_frames_and_answers_are_no_frames_and_no_mistakes() -> None:
    lines, health = reader()

    assert lines.feed(0.0, b"\r\r\ar1230\rR12ABCDEF4\rt1000\r\n\r") == [
        Frame(0.0, "adapter", 0x100, b"", False)
    ]
    assert (health.remote_frames, health.unreadable) == (2, 0)
    assert health.snapshot().undecodable == 2


@pytest.mark.parametrize(
    "line",
    [
        "t12", "t123", "t1239", "t1231", "t12311", "t123111Z", "tXYZ0", "t8000", "T200000000", "t1232 1 2",
        "T+12345670", "T1_3456780", "x123", "t12318", "d1230", "t123²00", "T123456781AABBCCDD",
    ],
)  # fmt: skip
def test_a_bad_line_costs_one_line(line: str) -> None:
    lines, health = reader()

    heard = lines.feed(0.0, f"t1230\r{line}\rt4560\r".encode("latin-1"))

    assert [f.can_id for f in heard if isinstance(f, Frame)] == [0x123, 0x456]
    assert health.unreadable == 1


@given(st.binary(max_size=400), st.binary(max_size=400))
def test_noise_never_breaks_the_reader_nor_fills_the_memory(one: bytes, two: bytes) -> None:
    lines, _ = reader()
    for item in [*lines.feed(0.0, one), *lines.feed(0.0, two)]:
        assert isinstance(item, Frame)
        assert 0 <= item.can_id <= (0x1FFFFFFF if item.extended else 0x7FF)
        assert len(item.data) <= 8

    heard = lines.feed(1.0, b"\rt1230\r")

    assert heard[-1] == Frame(1.0, "adapter", 0x123, b"", False)


def test_an_endless_line_is_given_up() -> None:
    lines, health = reader()
    for _ in range(100):
        lines.feed(0.0, b"A" * 1000)

    assert health.unreadable == 100


def test_python_can_reads_the_same_frames_from_the_same_line(tmp_path: Path) -> None:
    """python-can 4.6's slcan reader, on the same bytes."""
    rng = random.Random(5)
    ids = [rng.randrange(1 << 29) for _ in range(40)]
    stream = "".join(f"T{i:08X}{i % 9}{rng.randbytes(i % 9).hex().upper()}\r" for i in ids)
    lines, _ = reader()
    with Adapter(tmp_path / "tty") as adapter:
        theirs = slcanBus(str(adapter.path), sleep_after_open=0, timeout=0.1, bitrate=250_000)
        assert eventually(lambda: adapter.open)
        adapter.say(stream)
        read = [m for m in (theirs.recv(1.0) for _ in ids) if m is not None]
        theirs.shutdown()

    ours = [f for f in lines.feed(0.0, stream.encode()) if isinstance(f, Frame)]

    assert [(f.can_id, f.data) for f in ours] == [(m.arbitration_id, bytes(m.data)) for m in read]


# The codes S0 to S8 as the protocol's published command list has them.
@pytest.mark.parametrize(
    ("bit_rate", "code"),
    [(10_000, "S0"), (20_000, "S1"), (50_000, "S2"), (100_000, "S3"), (125_000, "S4"),
     (250_000, "S5"), (500_000, "S6"), (800_000, "S7"), (1_000_000, "S8")],
)  # fmt: skip
def test_it_opens_listen_only_at_its_bit_rate_and_never_sends_a_frame(
    tmp_path: Path, bit_rate: int, code: str
) -> None:
    inbox = Inbox(100)
    with Adapter(tmp_path / "tty") as adapter:
        with running(thread(adapter.path, inbox, bit_rate)) as source:
            assert eventually(lambda: source.health.up)
            adapter.say("t1230\r")
            (frame,) = hear(inbox, 1)
            assert eventually(lambda: source.health.heard == 1)
        assert eventually(lambda: adapter.commands[-1] == "C" and len(adapter.commands) > 3)

        assert frame[1:] == ("adapter", 0x123, b"", False)
        assert adapter.commands == ["C", code, "L", "C"]


def test_an_adapter_without_listen_only_is_opened_all_the_same(tmp_path: Path) -> None:
    inbox = Inbox(100)
    with Adapter(tmp_path / "tty", refuses="L") as adapter, running(thread(adapter.path, inbox)) as source:
        assert eventually(lambda: source.health.up)

        assert adapter.commands == ["C", "S5", "L", "O"]


def test_a_refused_bit_rate_is_told(tmp_path: Path) -> None:
    with Adapter(tmp_path / "tty", refuses="S") as adapter:
        with running(thread(adapter.path, Inbox(100))) as source:
            assert eventually(lambda: "refuses 250000 bit/s" in source.health.trouble)

        assert not source.health.up


def test_unplugged_and_back(tmp_path: Path) -> None:
    inbox = Inbox(100)
    with Adapter(tmp_path / "tty") as adapter, running(thread(adapter.path, inbox)) as source:
        assert eventually(lambda: source.health.up)
        adapter.say("t1230\r")
        assert len(hear(inbox, 1)) == 1

        adapter.unplug()
        assert eventually(lambda: not source.health.up and "No such file" in source.health.trouble)
        adapter.plug()
        assert eventually(lambda: source.health.up)
        assert source.health.trouble == ""
        adapter.say("t4560\r")

        (frame,) = hear(inbox, 1)
        assert isinstance(frame, Frame)
        assert frame.can_id == 0x456


def test_a_file_is_no_serial_port(tmp_path: Path) -> None:
    path = tmp_path / "plain"
    path.write_text("t1230\r")
    with running(thread(path, Inbox(100))) as source:
        assert eventually(lambda: "not a serial port" in source.health.trouble)


def test_a_full_bus_for_three_seconds_loses_nothing(tmp_path: Path) -> None:
    seconds = 3.0
    total = round(seconds * FULL_BUS_FRAMES_PER_S)
    inbox = Inbox(10_000)
    with Adapter(tmp_path / "tty") as adapter, running(thread(adapter.path, inbox)) as source:
        assert eventually(lambda: source.health.up)
        sender = threading.Thread(target=saturate_slcan, args=(adapter.master, seconds))
        sender.start()
        heard = hear(inbox, total)
        sender.join()

        assert [(f.can_id, f.data) for f in heard if isinstance(f, Frame)] == list(
            islice(mixed_frames(), total)
        )
        assert inbox.dropped == {"adapter": 0}
        assert source.health.snapshot().undecodable == 0
        assert source.health.heard == total
