"""CAN through python-can: the virtual bus, UDP multicast with junk in it, and a bus that is not there."""

import socket
import threading
from itertools import islice

import can
import msgpack
import pytest
from can.interfaces.virtual import VirtualBus
from hypothesis import given
from hypothesis import strategies as st

from monitor.records import Frame
from monitor.settings import CanSource
from monitor.sources.can_bus import CanBusThread
from monitor.sources.health import Health
from monitor.sources.inbox import Inbox
from monitor.sources.multicast import Datagrams
from monitor.system_clock import SystemClock
from tests.bench_bus import FULL_BUS_FRAMES_PER_S, allow_multicast, mixed_frames, saturate_multicast
from tests.brokers import free_port
from tests.sources.listening import eventually, hear, running

GROUP = "239.74.163.2"


def thread(inbox: Inbox, **settings: object) -> CanBusThread:
    source = CanSource.model_validate({"kind": "can", "name": "backbone", **settings})
    return CanBusThread(source, inbox, SystemClock(), first_retry_s=0.05)


DATA = can.Message(arbitration_id=0x19F21423, data=bytes.fromhex("00300584FF777407"))
SHORT = can.Message(arbitration_id=0x7FF, data=b"\x01", is_extended_id=False)
NO_DATA_FRAMES = [
    can.Message(is_error_frame=True),
    can.Message(arbitration_id=0x123, is_remote_frame=True),
    can.Message(arbitration_id=0x123, data=bytes(12), is_fd=True),
]


def test_frames_on_the_virtual_bus_are_heard_and_error_and_remote_frames_are_only_counted() -> None:
    inbox = Inbox(100)
    source = thread(inbox, interface="virtual", channel="counting")
    with can.Bus("counting", "virtual", ignore_config=True) as sender, running(source):
        assert eventually(lambda: source.health.up)
        for message in (DATA, *NO_DATA_FRAMES, SHORT):
            sender.send(message)

        first, second = hear(inbox, 2)

    assert first[1:] == ("backbone", 0x19F21423, bytes.fromhex("00300584FF777407"), True)
    assert second[1:] == ("backbone", 0x7FF, b"\x01", False)
    health = source.health
    assert (health.error_frames, health.remote_frames, health.unreadable) == (1, 1, 1)
    assert (health.snapshot().heard, health.snapshot().undecodable) == (2, 3)
    assert not health.up


def test_it_says_nothing_on_the_bus() -> None:
    source = thread(Inbox(100), interface="virtual", channel="quiet")
    with can.Bus("quiet", "virtual", ignore_config=True) as other:
        with running(source):
            assert eventually(lambda: source.health.up)
            other.send(DATA)
            assert eventually(lambda: source.health.heard == 1)

        assert other.recv(0) is None


def test_several_buses_are_kept_apart() -> None:
    inbox = Inbox(100)
    one = thread(inbox, name="one", interface="virtual", channel="bus 1")
    two = thread(inbox, name="two", interface="virtual", channel="bus 2")
    with (
        can.Bus("bus 1", "virtual", ignore_config=True) as sender,
        can.Bus("bus 2", "virtual", ignore_config=True) as other,
        running(one),
        running(two),
    ):
        assert eventually(lambda: one.health.up and two.health.up)
        sender.send(DATA)
        other.send(SHORT)

        heard = {(item.source, item[2]) for item in hear(inbox, 2)}

    assert heard == {("one", 0x19F21423), ("two", 0x7FF)}


def test_thousands_at_once_are_all_heard_in_order() -> None:
    inbox = Inbox(10_000)
    source = thread(inbox, interface="virtual", channel="many")
    with can.Bus("many", "virtual", ignore_config=True) as sender, running(source):
        assert eventually(lambda: source.health.up)
        for n in range(5000):
            sender.send(can.Message(arbitration_id=n))

        heard = hear(inbox, 5000)

    assert [item[2] for item in heard] == list(range(5000))


JUNK = [
    b"",
    b"junk",
    b"\xff" * 200,
    msgpack.packb([1, 2, 3]),
    msgpack.packb({"arbitration_id": 1}),
    msgpack.packb({"arbitration_id": 1, "data": b"", "is_extended_id": True}),
    b"\x91" * 3000,
]


def row(**changes: object) -> bytes:
    """A datagram as python-can packs it, with something wrong."""
    good = {
        "timestamp": 0.0, "arbitration_id": 5, "is_extended_id": True, "is_remote_frame": False,
        "is_error_frame": False, "channel": None, "dlc": 1, "data": b"\x01", "is_fd": False,
        "bitrate_switch": False, "error_state_indicator": False,
    }  # fmt: skip
    packed: bytes = msgpack.packb({**good, **changes})
    return packed


WRONG = [
    row(arbitration_id=1 << 29), row(arbitration_id=-1), row(arbitration_id="5"), row(data="text"),
    row(data=bytes(9)), row(is_fd=True), row(is_extended_id=None),
    row(is_extended_id=False, arbitration_id=0x800),
]  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def _multicast() -> None:
    allow_multicast(GROUP)


def test_junk_datagrams_are_counted_and_the_bus_goes_on() -> None:
    inbox, port = Inbox(100), free_port()
    source = thread(inbox, interface="udp_multicast", channel=GROUP, port=port)
    with (
        can.Bus(GROUP, "udp_multicast", ignore_config=True, port=port, hop_limit=0) as sender,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as stranger,
        running(source),
    ):
        stranger.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 0)
        assert eventually(lambda: source.health.up)
        for junk in JUNK + WRONG:
            stranger.sendto(junk, (GROUP, port))
        for message in (*NO_DATA_FRAMES, DATA):
            sender.send(message)

        (frame,) = hear(inbox, 1)
        assert source.health.up

    assert frame[1:] == ("backbone", 0x19F21423, bytes.fromhex("00300584FF777407"), True)
    health = source.health
    assert (health.error_frames, health.remote_frames) == (1, 1)
    assert health.unreadable == len(JUNK + WRONG) + 1
    assert health.trouble == ""


@given(st.binary(max_size=400))
def test_no_datagram_stops_the_reader(noise: bytes) -> None:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    with ours, theirs:
        health = Health("backbone", "can")
        datagrams = Datagrams("backbone", ours, health)
        theirs.send(noise)
        theirs.send(row())

        assert datagrams.read(3.0)[-1] == Frame(3.0, "backbone", 5, b"\x01", True)
        assert health.unreadable + health.remote_frames + health.error_frames <= 1


def test_a_full_bus_through_multicast_loses_nothing() -> None:
    seconds, port = 2.0, free_port()
    total = round(seconds * FULL_BUS_FRAMES_PER_S)
    inbox = Inbox(10_000)
    source = thread(inbox, interface="udp_multicast", channel=GROUP, port=port)
    with running(source):
        assert eventually(lambda: source.health.up)
        sender = threading.Thread(target=saturate_multicast, args=(GROUP, port, seconds))
        sender.start()
        heard = hear(inbox, total)
        sender.join()

    assert [(f.can_id, f.data) for f in heard if isinstance(f, Frame)] == list(islice(mixed_frames(), total))
    assert source.health.snapshot().undecodable == 0


@pytest.mark.parametrize(
    ("interface", "channel"), [("socketcan", "can-missing"), ("udp_multicast", "192.0.2.7")]
)
def test_a_bus_that_is_not_there_is_told_and_tried_again(interface: str, channel: str) -> None:
    source = thread(Inbox(100), interface=interface, channel=channel)
    with running(source):
        assert eventually(lambda: channel in source.health.trouble)
        source.health.trouble = ""
        assert eventually(lambda: channel in source.health.trouble)

    assert not source.health.up


def test_a_bus_that_breaks_is_opened_again(monkeypatch: pytest.MonkeyPatch) -> None:
    inbox = Inbox(100)
    source = thread(inbox, interface="virtual", channel="breaking")
    receive = VirtualBus._recv_internal
    broken = threading.Event()

    def once_broken(bus: VirtualBus, timeout: float | None) -> tuple[can.Message | None, bool]:
        if not broken.is_set():
            broken.set()
            raise can.CanOperationError("Network is down")
        return receive(bus, timeout)

    with can.Bus("breaking", "virtual", ignore_config=True) as sender:
        monkeypatch.setattr(VirtualBus, "_recv_internal", once_broken)
        with running(source):
            assert eventually(lambda: "Network is down" in source.health.trouble)
            assert eventually(lambda: source.health.up)
            sender.send(DATA)

            assert len(hear(inbox, 1)) == 1
