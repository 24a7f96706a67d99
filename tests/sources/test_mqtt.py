"""MQTT against mosquitto, an independent broker: both versions, passwords, TLS, a broker that dies."""

import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.errors import SourceError
from monitor.records import Message
from monitor.settings import MqttSource
from monitor.sources.embedded_broker import EmbeddedBroker
from monitor.sources.inbox import Inbox
from monitor.sources.mqtt import MqttThread
from monitor.system_clock import SystemClock
from tests.brokers import Mosquitto, free_port
from tests.sources.certificates import authority, certificate
from tests.sources.listening import eventually, hear, running

TOPICS = ["marram/panels", "marram/heater/+"]
STATUS = "marram/watch"


def thread(port: int, inbox: Inbox, topics: list[str] = TOPICS, **settings: object) -> MqttThread:
    source = MqttSource.model_validate({"kind": "mqtt", "name": "broker", "port": port, **settings})
    return MqttThread(source, topics, inbox, SystemClock(), first_retry_s=0.05)


class Voice:
    """A plain client that speaks, and remembers what it hears on the status topic."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[bytes, bool]] = []
        self.client = paho.Client(CallbackAPIVersion.VERSION2)
        subscribed = threading.Event()
        self.client.on_subscribe = lambda *_: subscribed.set()
        self.client.on_connect = lambda client, *_: client.subscribe(STATUS, 1)
        self.client.on_message = lambda _c, _d, m: self.heard.append((bytes(m.payload), m.retain))
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert subscribed.wait(15)

    def say(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        self.client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(15)


@contextmanager
def voice(port: int) -> Iterator[Voice]:
    speaker = Voice(port)
    try:
        yield speaker
    finally:
        speaker.client.disconnect()
        speaker.client.loop_stop()


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path_factory.mktemp("broker")) as started:
        yield started


@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_messages_are_heard_as_they_were_sent(tmp_path: Path, version: str) -> None:
    inbox = Inbox(100)
    with Mosquitto(tmp_path) as broker, voice(broker.port) as speaker:
        speaker.say("marram/heater/kept", "21.5", retain=True)
        source = thread(broker.port, inbox, version=version)
        with running(source):
            (old,) = hear(inbox, 1)
            speaker.say("marram/panels", b'{"power": 123.4}')
            speaker.say("marram/elsewhere", b"not asked for")
            speaker.say("marram/heater/element", b"\xff\x00")
            live = hear(inbox, 2)

    assert isinstance(old, Message)
    assert old[1:] == ("broker", "marram/heater/kept", b"21.5", True)
    assert [m[1:] for m in live] == [
        ("broker", "marram/panels", b'{"power": 123.4}', False),
        ("broker", "marram/heater/element", b"\xff\x00", False),
    ]
    assert source.health.snapshot().heard == 3


def test_topics_that_the_broker_refuses_are_named() -> None:
    """The bytes are those of MQTT 3.1.1: CONNACK (3.2), SUBACK with 0x80, "failure" (3.9.3)."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        source = thread(server.getsockname()[1], Inbox(100), ["allowed", "secret/#"])
        with running(source):
            line, _ = server.accept()
            with line:
                line.recv(4096)
                line.sendall(bytes([0x20, 2, 0, 0]))
                identifier = line.recv(4096)[2:4]
                line.sendall(bytes([0x90, 4, *identifier, 0, 0x80]))

                assert eventually(lambda: "refuses the topics secret/#" in source.health.trouble)
                assert source.health.up


def test_a_huge_payload_is_counted_and_dropped(broker: Mosquitto) -> None:
    inbox = Inbox(100)
    source = thread(broker.port, inbox, ["huge"])
    with voice(broker.port) as speaker, running(source):
        assert eventually(lambda: source.health.up)
        speaker.say("huge", bytes(5_000_000))
        speaker.say("huge", bytes(64 * 1024))

        (message,) = hear(inbox, 1)

    assert isinstance(message, Message)
    assert len(message.payload) == 64 * 1024
    assert source.health.unreadable == 1


def test_thousands_of_messages_are_heard_in_order(broker: Mosquitto) -> None:
    inbox = Inbox(10_000)
    source = thread(broker.port, inbox, ["count"])
    with voice(broker.port) as speaker, running(source):
        assert eventually(lambda: source.health.up)
        for n in range(2000):
            speaker.client.publish("count", str(n))

        heard = hear(inbox, 2000)

    assert [int(m.payload) for m in heard if isinstance(m, Message)] == list(range(2000))


def test_the_broker_dies_and_comes_back_and_the_subscriptions_with_it(tmp_path: Path) -> None:
    inbox = Inbox(100)
    with Mosquitto(tmp_path) as broker:
        source = thread(broker.port, inbox)
        with running(source):
            assert eventually(lambda: source.health.up)

            broker.kill()
            assert eventually(lambda: not source.health.up and "refused" in source.health.trouble)
            broker.start()
            assert eventually(lambda: source.health.up)
            assert source.health.trouble == ""
            with voice(broker.port) as speaker:
                speaker.say("marram/panels", "5")

                assert len(hear(inbox, 1)) == 1


def test_it_says_that_it_runs_and_that_it_has_stopped(broker: Mosquitto) -> None:
    source = thread(broker.port, Inbox(100), status_topic=STATUS)
    with voice(broker.port) as listener:
        with running(source):
            assert eventually(lambda: (b'{"watch":"running"}', False) in listener.heard)
            with voice(broker.port) as latecomer:
                assert eventually(lambda: latecomer.heard == [(b'{"watch":"running"}', True)])

        assert eventually(lambda: listener.heard[-1] == (b'{"watch":"stopped"}', False))


SPEAKER = """
import sys, threading
from monitor.system_clock import SystemClock
from monitor.settings import MqttSource
from monitor.sources.inbox import Inbox
from monitor.sources.mqtt import MqttThread
settings = MqttSource(kind="mqtt", name="broker", port=int(sys.argv[1]), status_topic=sys.argv[2])
MqttThread(settings, [], Inbox(10), SystemClock()).start()
threading.Event().wait()
"""


def test_its_last_will_says_that_it_has_stopped_when_it_is_killed(broker: Mosquitto) -> None:
    with voice(broker.port) as listener:
        command = [sys.executable, "-c", SPEAKER, str(broker.port), STATUS]
        with subprocess.Popen(command, cwd=Path(__file__).parents[2]) as watch:
            running_now = eventually(lambda: listener.heard[-1:] == [(b'{"watch":"running"}', False)])
            watch.kill()

        assert running_now
        assert eventually(lambda: listener.heard[-1] == (b'{"watch":"stopped"}', False))


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    folder = tmp_path_factory.mktemp("guarded")
    passwords = folder / "passwords"
    passwords.touch(mode=0o600)
    subprocess.run(["mosquitto_passwd", "-b", str(passwords), "ebbwatch", "rightly guessed"], check=True)
    with Mosquitto(folder, "allow_anonymous false", f"password_file {passwords}") as started:
        yield started


def test_user_and_password(guarded: Mosquitto, tmp_path: Path) -> None:
    file = tmp_path / "password"
    file.write_text("rightly guessed\n")
    for how in ({"password": "rightly guessed"}, {"password_file": file}):
        source = thread(guarded.port, Inbox(100), username="ebbwatch", **how)
        with running(source) as listening:
            assert eventually(partial(getattr, listening.health, "up"))


@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_a_wrong_password_is_told(guarded: Mosquitto, version: str) -> None:
    source = thread(guarded.port, Inbox(100), username="ebbwatch", password="wrong", version=version)
    with running(source):
        assert eventually(lambda: "the broker refuses: Not authorized" in source.health.trouble)

    assert not source.health.up


def test_a_missing_password_file_is_told(tmp_path: Path) -> None:
    source = thread(1, Inbox(100), username="a", password_file=tmp_path / "gone")
    with running(source):
        assert eventually(lambda: "gone: the password cannot be read" in source.health.trouble)


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("keys")
    authority(folder)
    certificate(folder, "broker")
    certificate(folder, "client")
    authority(folder, "stranger")
    return folder


@pytest.fixture(scope="module")
def secured(keys: Path) -> Iterator[Mosquitto]:
    lines = (
        "allow_anonymous true",
        f"cafile {keys / 'ca.crt'}",
        f"certfile {keys / 'broker.crt'}",
        f"keyfile {keys / 'broker.key'}",
        "require_certificate true",
    )
    with Mosquitto(keys, *lines) as started:
        yield started


def test_tls_with_an_authority_and_a_client_certificate(secured: Mosquitto, keys: Path) -> None:
    inbox = Inbox(100)
    tls = {"ca": keys / "ca.crt", "certificate": keys / "client.crt", "key": keys / "client.key"}
    source = thread(secured.port, inbox, [STATUS], tls=tls, status_topic=STATUS)
    with running(source):
        (message,) = hear(inbox, 1)

    assert isinstance(message, Message)
    assert message.payload == b'{"watch":"running"}'


def test_a_broker_of_another_authority_is_not_believed(secured: Mosquitto, keys: Path) -> None:
    source = thread(secured.port, Inbox(100), tls={"ca": keys / "stranger.crt"})
    with running(source):
        assert eventually(lambda: "certificate verify failed" in source.health.trouble)


def test_without_its_certificate_a_client_is_turned_away(secured: Mosquitto, keys: Path) -> None:
    source = thread(secured.port, Inbox(100), tls={"ca": keys / "ca.crt"})
    with running(source):
        assert eventually(lambda: source.health.trouble != "")

        assert not source.health.up


def test_a_missing_certificate_is_named(keys: Path) -> None:
    source = thread(1, Inbox(100), tls={"ca": keys / "nowhere.crt"})
    with running(source):
        assert eventually(lambda: "nowhere.crt: no such file" in source.health.trouble)


def test_no_broker_there_is_told() -> None:
    source = thread(free_port(), Inbox(100))
    with running(source):
        assert eventually(lambda: "Connection refused" in source.health.trouble)


def test_the_embedded_broker_serves_the_demonstration() -> None:
    inbox = Inbox(100)
    embedded = EmbeddedBroker()
    port = embedded.start()
    try:
        source = thread(port, inbox)
        with voice(port) as speaker, running(source):
            assert eventually(lambda: source.health.up)
            assert eventually(
                lambda: bool(speaker.client.publish("marram/panels", "7")) and bool(inbox.take(0.05))
            )
    finally:
        embedded.stop()


def test_an_embedded_broker_that_cannot_start_says_so() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        embedded = EmbeddedBroker(taken.getsockname()[1])

        with pytest.raises(SourceError, match=r"does not start: .*address already in use"):
            embedded.start()


def test_a_machine_without_mosquitto_is_told_which_package_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.which", lambda *_, **__: None)

    with pytest.raises(pytest.fail.Exception, match="install the Debian package mosquitto"):
        Mosquitto(tmp_path).start()
