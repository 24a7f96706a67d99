"""The MQTT way: every transition retained under its rule, a heartbeat for the outside, the sound.

Quality 1, one message at a time: the next goes when the broker has confirmed. Every attempt is a new
client of paho's under the same id, because one that was cut off would send by itself, later and unseen,
what was under way. Nothing is subscribed. When a line is lost it is left without a farewell, so that the
broker speaks the last will.
"""

import hashlib
import socket
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.broker import VERSIONS, Context, introduce, secured
from monitor.delivery.desk import Desk
from monitor.delivery.topics import STOPPED, Topics, payload_of, running, sounding
from monitor.delivery.way import Outbox, WayThread, wait_slices
from monitor.errors import DeliveryError
from monitor.records import Notice, Sound
from monitor.settings import MqttWay

BEAT_S = 60.0
ANSWER_S = 15.0
CONNECT_S = 5.0
FAREWELL_S = 0.5
IDLE_S = 0.2
NEVER_EXPIRES = 0xFFFFFFFF


class MqttWayThread(WayThread):
    settings: MqttWay

    def __init__(self, settings: MqttWay, desk: Desk, outbox: Outbox, **options: Any) -> None:
        super().__init__(settings, desk, outbox, **options)
        self._where = f"{settings.host}:{settings.port}"
        self._topics = Topics(desk.boat)
        own = f"{desk.boat}/{settings.name}/{socket.gethostname()}".encode()
        self._client_id = f"ebb{hashlib.sha256(own).hexdigest()[:20]}"  # MQTT 3.1.1, 3.1.3.1: 23 at most.
        self._up = False
        self._refusal = ""
        self._acked: set[int] = set()

    def _is_due(self) -> bool:
        """The heartbeat is always due."""
        return not self._up or super()._is_due()

    def _carry(self) -> None:
        self._refusal, self._acked = "", set()
        context = secured(self.settings.tls)
        client = self._client(context)
        whole = False
        try:
            self._connect(client)
            whole = self._serve(client)
        except OSError as error:
            raise DeliveryError(f"{self._where}: {error.strerror or error}") from error
        finally:
            self._up = False
            line = client.socket()
            if whole:
                self._farewell(client)
            elif line is not None:
                line.close()
            if context is not None:
                context.close()

    def _client(self, context: Context | None) -> paho.Client:
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            clean_session=None if self.settings.version == "5" else False,
            protocol=VERSIONS[self.settings.version],
        )
        client.connect_timeout = CONNECT_S
        introduce(client, self.settings, context)
        client.will_set(self._topics.watch, STOPPED, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_publish = self._on_publish
        return client

    def _connect(self, client: paho.Client) -> None:
        host, port, keep_alive_s = self.settings.host, self.settings.port, self.settings.keep_alive_s
        if self.settings.version == "5":
            kept = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            kept.SessionExpiryInterval = NEVER_EXPIRES
            client.connect(host, port, keep_alive_s, clean_start=False, properties=kept)
        else:
            client.connect(host, port, keep_alive_s)
        self._await(client, lambda: self._up, "no broker answers there")

    def _serve(self, client: paho.Client) -> bool:
        """Whether it may say farewell: the line is whole."""
        beat_s, beat_looks = float("-inf"), -1
        sounded: Sound | None = None
        while not self._stopping.is_set():
            desk = self._desk
            if desk.sound != sounded:
                sounded = desk.sound
                self._publish(client, self._topics.sound, sounding(sounded), retain=True)
            elif desk.elapsed_s() - beat_s >= BEAT_S and desk.looks != beat_looks and desk.looks:
                beat_s, beat_looks = desk.elapsed_s(), desk.looks
                self._publish(client, self._topics.watch, running(desk.utc_s()), retain=True)
            elif parcel := self._next():
                self._deliver(client, parcel[0])
            else:
                self._turn(client, IDLE_S)
        return True

    def _deliver(self, client: paho.Client, notice: Notice) -> None:
        repeat = self._tray.trying([notice])
        standing = self._desk.standing.values()
        payload = payload_of(notice, standing, self._desk.dress, repeat)
        retain = notice.kind == "alert"
        if self._publish(client, self._topics.of(notice), payload, retain=retain):
            self._confirmed([notice])

    def _publish(self, client: paho.Client, topic: str, payload: bytes, *, retain: bool) -> bool:
        """Whether the broker has confirmed it; False where the watch stops meanwhile."""
        info = client.publish(topic, payload, qos=1, retain=retain)
        if info.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise DeliveryError(f"{self._where}: {paho.error_string(info.rc)}")
        self._await(client, lambda: info.mid in self._acked, "the broker confirms nothing")
        if info.mid not in self._acked:
            return False
        self._acked.discard(info.mid)
        self._confirmed()
        return True

    def _await(self, client: paho.Client, done: Any, otherwise: str) -> None:
        """Until it is done, or the watch stops."""
        stopping = self._stopping.is_set
        if not wait_slices(lambda: done() or stopping(), ANSWER_S, lambda s: self._turn(client, s)):
            raise DeliveryError(f"{self._where}: {otherwise}")

    def _turn(self, client: paho.Client, seconds: float) -> None:
        code = client.loop(seconds)
        if self._refusal:
            raise DeliveryError(f"{self._where}: {self._refusal}")
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise DeliveryError(f"{self._where}: {paho.error_string(code)}")

    def _farewell(self, client: paho.Client) -> None:
        info = client.publish(self._topics.watch, STOPPED, qos=1, retain=True)
        try:
            wait_slices(lambda: info.mid in self._acked, FAREWELL_S, lambda s: self._turn(client, s))
        except (DeliveryError, OSError):
            return
        client.disconnect()

    def _on_connect(
        self, _client: paho.Client, _data: Any, _flags: Any, code: ReasonCode, _more: Any
    ) -> None:
        if code.is_failure:
            self._refusal = f"the broker refuses: {code}"
        else:
            self._up = True

    def _on_publish(self, _client: Any, _data: Any, mid: int, code: ReasonCode, _more: Any) -> None:
        if code.is_failure:
            self._refusal = f"the broker refuses: {code}"
        else:
            self._acked.add(mid)
