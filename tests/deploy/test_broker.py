"""The broker's configuration, in a real broker: who may hear and who may speak."""

import queue
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from tests.brokers import Mosquitto

DEPLOY = Path(__file__).parents[2] / "deploy"
ALLOWED = ReasonCode(PacketTypes.PUBACK, "Success")
REFUSED = ReasonCode(PacketTypes.PUBACK, "Not authorized")
WAIT_S = 10.0


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    folder = tmp_path_factory.mktemp("broker")
    program = shutil.which("mosquitto_passwd", path="/usr/bin:/usr/sbin:/usr/local/bin")
    if program is None:
        pytest.fail("mosquitto_passwd is missing: install the Debian package mosquitto")
    passwords, access = folder / "boat.passwd", folder / "boat.acl"
    shutil.copy(DEPLOY / "mosquitto.acl", access)
    passwords.touch()
    for name in ("ebbwatch", "marram"):
        subprocess.run([program, "-b", str(passwords), name, "secret"], check=True, capture_output=True)
    for file in (passwords, access):
        file.chmod(0o600)
    lines = [
        line.replace("/etc/mosquitto/", f"{folder}/")
        for line in (DEPLOY / "mosquitto.conf").read_text("utf-8").splitlines()
        if not line.startswith(("listener", "#"))
    ]
    with Mosquitto(folder, *lines) as running:
        yield running


class Client:
    """Somebody on the broker. What it hears and what it is answered stand in queues."""

    def __init__(self, broker: Mosquitto, name: str, password: str = "secret") -> None:
        self.connected: queue.Queue[ReasonCode] = queue.Queue()
        self.heard: queue.Queue[str] = queue.Queue()
        self.answered: queue.Queue[ReasonCode] = queue.Queue()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self._client.username_pw_set(name, password)
        self._client.on_connect = lambda *a: self.connected.put(a[3])
        self._client.on_subscribe = lambda *a: self.answered.put(a[3][0])
        self._client.on_publish = lambda *a: self.answered.put(a[3])
        self._client.on_message = lambda *a: self.heard.put(a[2].topic)
        self._client.connect("127.0.0.1", broker.port)
        self._client.loop_start()

    def subscribe(self, topic: str) -> ReasonCode:
        self._client.subscribe(topic, qos=1)
        return self.answered.get(timeout=WAIT_S)

    def publish(self, topic: str) -> ReasonCode:
        self._client.publish(topic, b"1", qos=1)
        return self.answered.get(timeout=WAIT_S)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def test_the_watch_hears_everything_and_commands_nothing(broker: Mosquitto) -> None:
    watch, instrument = Client(broker, "ebbwatch"), Client(broker, "marram")
    try:
        watch.subscribe("#")
        assert instrument.publish("marram/heater").value == ALLOWED.value
        assert watch.heard.get(timeout=WAIT_S) == "marram/heater"

        assert watch.publish("marram/heater/element/set").value == REFUSED.value
        assert watch.publish("ebbwatch/marram/status").value != REFUSED.value
        assert instrument.publish("ebbwatch/marram/status").value == REFUSED.value
    finally:
        watch.close()
        instrument.close()


@pytest.mark.parametrize(("name", "password"), [("ebbwatch", "wrong"), ("nobody", "secret")])
def test_nobody_comes_in_without_a_password(broker: Mosquitto, name: str, password: str) -> None:
    client = Client(broker, name, password)
    try:
        assert client.connected.get(timeout=WAIT_S).is_failure
    finally:
        client.close()
