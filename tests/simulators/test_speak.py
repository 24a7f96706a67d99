"""Speaking on real transports: the virtual bus of python-can, a real broker, and a clock that tests own."""

import threading
from pathlib import Path

import can
import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.errors import SourceError
from monitor.records import Frame, Message
from simulators.speak import BrokerSpeaker, BusSpeaker, Pace, speak
from tests.brokers import Mosquitto, free_port


class TestClock:
    """Time goes on only while somebody waits, or when told to."""

    __test__ = False

    def __init__(self) -> None:
        self.at_s = 50.0
        self.waits: list[float] = []

    def now_s(self) -> float:
        return self.at_s

    def wait(self, stop: threading.Event, seconds: float) -> None:
        self.waits.append(seconds)
        self.at_s += seconds


def frames(*times: float) -> list[Frame]:
    return [Frame(t, "can0", 0x19F21423, bytes(8)) for t in times]


def said_at(clock: TestClock, items: list[Frame], pace: Pace) -> list[float]:
    told: list[float] = []
    speak(items, pace, threading.Event(), lambda _: told.append(clock.at_s), lambda _: None)
    return told


def test_a_second_takes_a_second_and_at_sixty_a_sixtieth() -> None:
    clock = TestClock()
    assert said_at(clock, frames(1000, 1001, 1003), Pace(1.0, clock)) == pytest.approx(
        [50, 51, 53], abs=0.005
    )

    clock = TestClock()
    assert said_at(clock, frames(1000, 1060, 1180), Pace(60.0, clock)) == pytest.approx(
        [50, 51, 53], abs=0.005
    )


def test_the_pace_can_be_changed_while_it_runs() -> None:
    clock, told = TestClock(), []
    pace = Pace(1.0, clock)

    def on_frame(frame: Frame) -> None:
        told.append(clock.at_s)
        if frame.at_s == 1001:
            pace.speed = 10.0

    speak(frames(1000, 1001, 1002, 1012), pace, threading.Event(), on_frame, lambda _: None)

    assert told == pytest.approx([50, 51, 51, 52], abs=0.005)


def test_after_a_long_hold_up_nothing_is_rushed() -> None:
    clock, told = TestClock(), []

    def on_frame(frame: Frame) -> None:
        told.append(clock.at_s)
        if frame.at_s == 1001:
            clock.at_s += 30.0  # the computer slept

    speak(frames(1000, 1001, 1002, 1003), Pace(1.0, clock), threading.Event(), on_frame, lambda _: None)

    assert told == pytest.approx([50, 51, 81, 82], abs=0.005)


def test_told_to_stop_it_stops_at_once() -> None:
    stop, told = threading.Event(), []

    def on_frame(frame: Frame) -> None:
        told.append(frame)
        stop.set()

    assert speak(frames(1, 2, 3), Pace(1.0, TestClock()), stop, on_frame, lambda _: None) == 1


def test_frames_travel_on_the_bus_of_their_source_as_they_are() -> None:
    speaker = BusSpeaker.virtual({"can0": "marram-test-0", "can1": "marram-test-1"})
    with (
        can.Bus(interface="virtual", channel="marram-test-0") as backbone,
        can.Bus(interface="virtual", channel="marram-test-1") as battery,
    ):
        speaker.say(Frame(0.0, "can0", 0x19F21423, bytes.fromhex("00300584FF777407")))
        speaker.say(Frame(0.1, "can1", 0x100, b"\x01\x02", extended=False))
        one, other = backbone.recv(1.0), battery.recv(1.0)
    speaker.close()

    assert one is not None
    assert other is not None
    assert (one.arbitration_id, one.is_extended_id, one.data.hex()) == (0x19F21423, True, "00300584ff777407")
    assert (other.arbitration_id, other.is_extended_id, other.data.hex()) == (0x100, False, "0102")


def test_messages_reach_a_real_broker(tmp_path: Path) -> None:
    heard: list[tuple[str, bytes]] = []
    there, subscribed = threading.Event(), threading.Event()
    with Mosquitto(tmp_path) as broker:
        client = paho.Client(CallbackAPIVersion.VERSION2)

        def on_message(_client: object, _data: object, message: paho.MQTTMessage) -> None:
            heard.append((message.topic, bytes(message.payload)))
            there.set()

        client.on_message = on_message
        client.on_subscribe = lambda *_: subscribed.set()
        client.connect("127.0.0.1", broker.port)
        client.subscribe("marram/#")
        client.loop_start()
        assert subscribed.wait(10)
        speaker = BrokerSpeaker("127.0.0.1", broker.port)
        speaker.say(Message(0.0, "broker", "marram/panels", b'{"power":120.0}'))
        assert there.wait(10)
        speaker.close()
        client.disconnect()
        client.loop_stop()

    assert heard == [("marram/panels", b'{"power":120.0}')]


def test_no_broker_is_said_clearly() -> None:
    with pytest.raises(SourceError, match=r"broker 127\.0\.0\.1"):
        BrokerSpeaker("127.0.0.1", free_port())
