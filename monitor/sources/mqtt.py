"""MQTT through paho: 3.1.1 and 5, user and password, TLS, a last will, retained messages marked.

Every connection starts clean and subscribes anew, so a broker that was away or has forgotten
everything is taken up again whole. Subscriptions are of quality 0: telemetry repeats itself.
"""

import secrets
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.reasoncodes import ReasonCode

from monitor.broker import VERSIONS, Context, introduce, secured
from monitor.errors import SourceError, SourceLost
from monitor.records import Message
from monitor.settings import MqttSource
from monitor.sources.inbox import Inbox, Item
from monitor.sources.thread import FIRST_RETRY_S, IDLE_S, SourceThread, told
from monitor.system_clock import Clock

LARGEST_PAYLOAD = 64 * 1024
RUNNING = b'{"watch":"running"}'
STOPPED = b'{"watch":"stopped"}'
_ANSWER_S = 15.0
_MOST_AT_ONCE = 256


class MqttThread(SourceThread):
    """One broker and the topics that somebody wants of it."""

    def __init__(
        self,
        settings: MqttSource,
        topics: list[str],
        inbox: Inbox,
        clock: Clock,
        *,
        first_retry_s: float = FIRST_RETRY_S,
    ) -> None:
        super().__init__(settings.name, "mqtt", inbox, clock, first_retry_s=first_retry_s)
        self._settings = settings
        self._topics = topics
        self._where = f"{settings.host}:{settings.port}"
        self._heard: list[Item] = []
        self._refusal = ""

    def _listen(self) -> None:
        self._heard, self._refusal = [], ""
        context = secured(self._settings.tls)
        client = self._client(context)
        try:
            client.connect(self._settings.host, self._settings.port, self._settings.keep_alive_s)
            self._loop(client)
            self._say(client, STOPPED)
        except OSError as error:
            raise SourceLost(f"{self._where}: {told(error)}") from error
        finally:
            client.disconnect()
            if context is not None:
                context.close()

    def _loop(self, client: paho.Client) -> None:
        answer_by_s = self._clock.elapsed_s() + _ANSWER_S
        while not self._stopping.is_set():
            waiting = len(self._heard)
            code = client.loop(0.0 if waiting else IDLE_S)
            at_s = self._clock.elapsed_s()
            if len(self._heard) == waiting or waiting >= _MOST_AT_ONCE or code:
                batch, self._heard = self._heard, []
                self._deliver(batch, at_s)
            if self._refusal:
                raise SourceError(f"{self._where}: {self._refusal}")
            if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
                raise SourceLost(f"{self._where}: {paho.error_string(code)}")
            if not self.health.up and at_s > answer_by_s:
                raise SourceLost(f"{self._where}: no broker answers there")

    def _client(self, context: Context | None) -> paho.Client:
        settings = self._settings
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"ebbwatch-{secrets.token_hex(6)}",
            protocol=VERSIONS[settings.version],
        )
        introduce(client, settings, context)
        if settings.status_topic is not None:
            client.will_set(settings.status_topic, STOPPED, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        return client

    def _say(self, client: paho.Client, status: bytes) -> None:
        if self._settings.status_topic is not None:
            client.publish(self._settings.status_topic, status, qos=0, retain=True)

    def _on_connect(self, client: paho.Client, _data: Any, _flags: Any, code: ReasonCode, _more: Any) -> None:
        if code.is_failure:
            self._refusal = f"the broker refuses: {code}"
        elif self._topics:
            client.subscribe([(topic, 0) for topic in self._topics])
        else:
            self._on_subscribe(client, None, 0, [], None)

    def _on_subscribe(
        self, client: paho.Client, _data: Any, _mid: int, codes: list[ReasonCode], _more: Any
    ) -> None:
        """Only now does it hear what it came for."""
        self._connected()
        refused = [t for t, code in zip(self._topics, codes, strict=False) if code.is_failure]
        if refused:
            self.health.trouble = f"{self._where}: the broker refuses the topics {', '.join(refused)}"
        self._say(client, RUNNING)

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = ""
        if not topic or len(message.payload) > LARGEST_PAYLOAD:
            self.health.unreadable += 1
            return
        at_s = self._clock.elapsed_s()
        self._heard.append(Message(at_s, self._name, topic, bytes(message.payload), bool(message.retain)))
