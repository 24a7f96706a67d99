"""What the tests of the ways out share: notices, a clock that is moved by hand, a store in memory, and a
client of paho's own that hears what a broker passes on."""

import json
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from monitor.delivery.dispatcher import Dispatcher
from monitor.records import Calls, Mode, Notice, OpenAlert, Reason, Severity, Snapshot, Sound
from monitor.settings import Settings
from monitor.settings_file import parse_settings

NOON_S = 1_790_856_000.0
"""2026-10-01 12:00 UTC, 14:00 of Marram's clock (Europe/Madrid, UTC+2 in summer)."""
BOAT = '[boat]\nname = "Marram"\ntime_zone = "Europe/Madrid"\n'
LONG_S = 15.0


def settings(ways: str, boat: str = BOAT) -> Settings:
    return parse_settings(boat + ways, Path("/nowhere"))


class HandClock:
    """Stands still until it is moved."""

    def __init__(self) -> None:
        self.at_s = 1000.0

    def elapsed_s(self) -> float:
        return self.at_s

    def wall_s(self) -> float:
        return NOON_S


class Card:
    """The store's part, in memory: what is not delivered, in order."""

    def __init__(self) -> None:
        self.waiting: dict[tuple[str, str], Notice] = {}
        self.memory: dict[str, Any] = {}
        self.changed = threading.Condition()

    def post(self, way: str, notices: Sequence[Notice]) -> None:
        with self.changed:
            for notice in notices:
                self.waiting.setdefault((way, notice.id), notice)
            self.changed.notify_all()

    def delivered(self, way: str, ids: Sequence[str]) -> None:
        with self.changed:
            for id in ids:
                self.waiting.pop((way, id), None)
            self.changed.notify_all()

    def remember(self, key: str, json_value: Any) -> None:
        self.memory[key] = json_value

    def rows(self) -> list[tuple[str, Notice]]:
        return [(way, notice) for (way, _), notice in self.waiting.items()]

    def empty(self) -> bool:
        """Whether everything is delivered, in time."""
        with self.changed:
            return self.changed.wait_for(lambda: not self.waiting, LONG_S)


def alert(
    number: int,
    grade: Severity = Severity.WARNING,
    *,
    rule: str = "low voltage",
    subject: str = "",
    what: str = "began",
    state: str = "active",
    utc_s: float | None = NOON_S,
    second: bool = False,
) -> Notice:
    """A transition of the alert of this number."""
    subject = subject or f"bank {number}"
    name = f"{rule}/{subject}/1/{number}.000"
    facts = {"bank": subject, "voltage_V": 11.9, "limit_V": 12.0}
    return Notice(
        f"{name}/{what}/1/{number}.000", "alert", float(number), utc_s, Reason("alert: low voltage", facts),
        grade, name, rule, subject, state, what, True, second,
    )  # fmt: skip


def ended(notice: Notice, **changes: Any) -> Notice:
    id = notice.id.replace("/began/", "/ended/")
    return replace(notice, **{"id": id, "what": "ended", "state": "ended", **changes})


def snapshot(
    at_s: float,
    utc_s: float | None = NOON_S,
    *,
    sound: Sound | None = None,
    alerts: tuple[OpenAlert, ...] = (),
) -> Snapshot:
    return Snapshot(
        1, at_s, utc_s, utc_s is not None, {}, {}, (), alerts, (), Mode("at anchor", "awake"), (), (), (),
        calls=Calls(sound or Sound()),
    )  # fmt: skip


def still_open(notice: Notice, *, escalated: bool = False) -> OpenAlert:
    assert notice.severity is not None
    return OpenAlert(
        notice.alert, notice.rule, notice.subject, notice.severity, "active", 0.0, notice.reason,
        escalated=escalated,
    )  # fmt: skip


class Listener:
    """Hears everything of `ebbwatch/` that a broker passes on."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[str, dict[str, Any], bool]] = []
        self._said = threading.Condition()
        subscribed = threading.Event()
        self.client = paho.Client(CallbackAPIVersion.VERSION2)
        self.client.on_subscribe = lambda *_: subscribed.set()
        self.client.on_connect = lambda client, *_: client.subscribe("ebbwatch/#", 1)
        self.client.on_message = self._hear
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert subscribed.wait(LONG_S)

    def _hear(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        with self._said:
            payload = json.loads(message.payload) if message.payload else {}
            self.heard.append((message.topic, payload, message.retain))
            self._said.notify_all()

    def of(self, part: str) -> list[dict[str, Any]]:
        return [payload for topic, payload, _ in list(self.heard) if f"/{part}" in topic]

    def waits_for(self, part: str, count: int = 1, **holds: Any) -> bool:
        """Whether so many come in time on topics with this part, with these values."""

        def found() -> bool:
            return sum(all(p.get(k) == v for k, v in holds.items()) for p in self.of(part)) >= count

        with self._said:
            return self._said.wait_for(found, LONG_S)


@contextmanager
def listening(port: int) -> Iterator[Listener]:
    listener = Listener(port)
    try:
        yield listener
    finally:
        listener.client.disconnect()
        listener.client.loop_stop()


@contextmanager
def dispatching(
    ways: str, card: Card | None = None, clock: HandClock | None = None, boat: str = BOAT
) -> Iterator[tuple[Dispatcher, Card, HandClock]]:
    """A dispatcher that has been shown a quiet boat, and is stopped at the end."""
    card, clock = card or Card(), clock or HandClock()
    dispatcher = Dispatcher(settings(ways, boat), clock, card, first_retry_s=0.02)
    dispatcher.start(card.rows(), card.memory)
    dispatcher.look(snapshot(clock.at_s))
    try:
        yield dispatcher, card, clock
    finally:
        dispatcher.stop()
