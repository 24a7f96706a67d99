"""The MQTT way against mosquitto, an independent broker, heard by another client of paho's.

What quality 1, retained messages and the last will promise: MQTT 3.1.1 (OASIS), 3.1.2.5, 3.3.1.3 and 4.3.2.
"""

import contextlib
import socket
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.delivery import mqtt
from monitor.delivery.topics import slug
from monitor.records import Notice, Reason, Severity, Sound
from tests.brokers import Mosquitto
from tests.delivery.crew import (
    NOON_S,
    Card,
    HandClock,
    alert,
    dispatching,
    ended,
    listening,
    snapshot,
    still_open,
)
from tests.sources.certificates import authority, certificate
from tests.sources.listening import eventually

WAY = """
[[ways]]
kind = "mqtt"
name = "broker"
from_grade = "caution"
port = {}
"""
FILES = {"cafile": "ca.crt", "certfile": "broker.crt", "keyfile": "broker.key", "password_file": "users"}
ALARM, WARNING, CAUTION = Severity


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path) as started:
        yield started


def test_an_alert_stands_under_its_rule_with_every_key(broker: Mosquitto) -> None:
    """The keys of README's "Ways out"."""
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (dispatcher, card, _):
        one, other = alert(1, WARNING, subject="house"), alert(2, CAUTION, subject="bow")
        dispatcher.hand([one, other])
        assert crew.waits_for("alert/low-voltage", 2)
        assert card.empty()

        first, second = crew.of("alert")
        assert first == {
            "id": "low voltage/house/1/1.000/began/1/1.000",
            "alert": "low voltage/house/1/1.000",
            "rule": "low voltage",
            "subject": "house",
            "grade": "warning",
            "state": "active",
            "what": "began",
            "told": "The house bank is down to 11.90\u00a0V; its limit is 12.00\u00a0V.",
            "todo": first["todo"],
            "otherwise": "The battery may be harmed, or its own protection may cut everything off.",
            "at": "2026-10-01T12:00:00Z",
            "recorded": True,
            "repeat": False,
            "open": [
                {"subject": "house", "grade": "warning", "state": "active"},
                {"subject": "bow", "grade": "caution", "state": "active"},
            ],
        }
        assert "charge source" in first["todo"]
        assert second["subject"] == "bow"
        assert {topic for topic, *_ in crew.heard if "/alert/" in topic} == {
            "ebbwatch/marram/alert/low-voltage"
        }

        dispatcher.hand([ended(one)])
        assert crew.waits_for("alert", what="ended")
        assert crew.of("alert")[-1]["open"] == [{"subject": "bow", "grade": "caution", "state": "active"}]
    with listening(broker.port) as late:
        assert late.waits_for("alert", what="ended")
        assert all(kept for *_, kept in late.heard), "retained"


def test_sentences_of_the_watch_are_said_once_and_not_kept(broker: Mosquitto) -> None:
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (dispatcher, card, _):
        dispatcher.hand([Notice("test/1/2.000", "test", 2.0, None, Reason("way tried"))])
        assert crew.waits_for("say/test", id="test/1/2.000", at=None, kind="test", repeat=False)
        assert card.empty()
        assert "trial" in crew.of("say/test")[0]["told"]
    with listening(broker.port) as late:
        assert late.waits_for("watch")
        assert late.of("say") == []


def test_the_sound_is_told_as_it_changes(broker: Mosquitto) -> None:
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (dispatcher, _, clock):
        assert crew.waits_for("sound", sound="silent")
        dispatcher.look(snapshot(clock.at_s, sound=Sound("alarm", "burst/pump/1/3.000", 7)))
        assert crew.waits_for("sound", sound="alarm", alert="burst/pump/1/3.000", serial=7)
        dispatcher.look(snapshot(clock.at_s, sound=Sound("", "burst/pump/1/3.000", 7)))
        assert crew.waits_for("sound", 2, sound="silent")


def test_the_heartbeat_beats_while_the_watch_looks(broker: Mosquitto) -> None:
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (dispatcher, _, clock):
        assert crew.waits_for("watch", watch="running", at="2026-10-01T12:00:00Z")
        clock.at_s += 61
        dispatcher.look(snapshot(clock.at_s, NOON_S + 61))
        assert crew.waits_for("watch", watch="running", at="2026-10-01T12:01:01Z")
        clock.at_s += 61  # The watch hangs: nobody looks.
        dispatcher.hand([alert(1)])
        assert crew.waits_for("alert")
        assert len(crew.of("watch")) == 2
    with listening(broker.port) as late:
        assert late.waits_for("watch", watch="stopped"), "said in leaving"


class Wire:
    """Stands between a client and its broker; `cut` breaks every line without a farewell, and `deaf` lets
    nothing of the broker's through."""

    def __init__(self, to: int) -> None:
        self.to = to
        self._line = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._line.getsockname()[1]
        self.deaf = False
        self._ends: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._line.accept()
            except OSError:
                return
            far = socket.create_connection(("127.0.0.1", self.to))
            self._ends += [near, far]
            threading.Thread(target=self._pass, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self._pass, args=(far, near, True), daemon=True).start()

    def _pass(self, source: socket.socket, to: socket.socket, from_broker: bool) -> None:
        try:
            while data := source.recv(65536):
                if not (from_broker and self.deaf):
                    to.sendall(data)
        except OSError:
            return

    def cut(self) -> None:
        ends, self._ends = self._ends, []
        for end in ends:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def close(self) -> None:
        self._line.close()
        self.cut()


@contextmanager
def wire(to: int) -> Iterator[Wire]:
    between = Wire(to)
    try:
        yield between
    finally:
        between.close()


def test_the_broker_says_that_the_watch_has_stopped_when_its_line_breaks(broker: Mosquitto) -> None:
    with (
        listening(broker.port) as crew,
        wire(broker.port) as between,
        dispatching(WAY.format(between.port)) as (dispatcher, _, clock),
    ):
        assert crew.waits_for("watch", watch="running")
        between.cut()
        assert crew.waits_for("watch", watch="stopped"), "the last will"
        dispatcher.look(snapshot(clock.at_s))
        assert crew.waits_for("watch", 2, watch="running"), "and it comes back by itself"


def test_only_a_lost_confirmation_makes_a_repeat_and_it_has_the_same_id(broker: Mosquitto) -> None:
    with (
        listening(broker.port) as crew,
        wire(broker.port) as between,
        dispatching(WAY.format(between.port)) as (dispatcher, card, _),
    ):
        assert crew.waits_for("watch", watch="running")
        dispatcher.hand([alert(0)])
        assert card.empty()  # Nothing is under way.
        between.deaf = True  # What is published arrives, and its confirmation does not.
        dispatcher.hand([alert(1), alert(2)])
        assert crew.waits_for("alert", 2)
        assert len(card.waiting) == 2
        between.cut()
        between.deaf = False
        assert card.empty()
        assert crew.waits_for("alert", 4)
        told = [(p["subject"], p["repeat"]) for p in crew.of("alert")]
        assert told[1:] == [("bank 1", False), ("bank 1", True), ("bank 2", False)]
        assert len({p["id"] for p in crew.of("alert")}) == 3


def test_a_day_without_the_broker(tmp_path: Path) -> None:
    """A day's transitions while there is none: all of them arrive, alarms first, else in order."""
    clock = HandClock()
    with Mosquitto(tmp_path) as broker, dispatching(WAY.format(broker.port), clock=clock) as (way, card, _):
        assert eventually(lambda: way.ways()[0].confirmed_utc_s is not None)
        broker.kill()
        began = [alert(n, CAUTION if n % 2 else WARNING, utc_s=NOON_S + 600 * n) for n in range(144)]
        day = [n for b in began for n in (b, ended(b))]
        alarm = alert(999, ALARM, rule="burst", utc_s=NOON_S + 86_000)
        for n in [*day, alarm]:
            way.hand([n])
        clock.at_s += 86_400
        assert eventually(lambda: way.ways()[0].trouble != "")
        (told,) = way.ways()
        assert told.failing_s >= 86_000
        assert told.waiting == len(day) + 1

        broker.start()
        with listening(broker.port) as crew:
            way.hand([replace(alarm, id="an alarm ends the waiting")])
            assert card.empty()
            assert crew.waits_for("alert", len(day) + 2)
            ids = [p["id"] for p in crew.of("alert")]
            once = list(dict.fromkeys(ids))
            assert set(once[:2]) == {alarm.id, "an alarm ends the waiting"}
            assert once[2:] == [n.id for n in day]
        (told,) = way.ways()
        assert (told.failing_s, told.waiting, told.trouble) == (0.0, 0, "")
        assert told.confirmed_utc_s == pytest.approx(NOON_S + 86_400)


def test_what_waits_is_taken_up_by_the_next_process(tmp_path: Path) -> None:
    broker, card = Mosquitto(tmp_path), Card()
    port = broker.port
    given = [alert(n) for n in range(20)]
    with dispatching(WAY.format(port), card) as (way, *_):
        way.hand(given)
    assert len(card.waiting) == 20

    with broker, listening(port) as crew, dispatching(WAY.format(port), card):
        assert card.empty()
        assert crew.waits_for("alert", 20)
        assert [p["id"] for p in crew.of("alert")] == [n.id for n in given]
        assert all(p["repeat"] for p in crew.of("alert")), "nobody knows whether they were sent before"


@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_each_version_with_a_password_over_tls(tmp_path: Path, version: str) -> None:
    authority(tmp_path)
    certificate(tmp_path, "broker")
    (tmp_path / "secret").write_text("kelp\n")
    subprocess.run(["mosquitto_passwd", "-c", "-b", tmp_path / "users", "marram", "kelp"], check=True)
    lines = [f"{key} {tmp_path / file}" for key, file in FILES.items()]
    own = f'version = "{version}"\nusername = "marram"\npassword_file = "{tmp_path}/secret"\n'
    own += f'tls = {{ ca = "{tmp_path}/ca.crt" }}\n'
    with (
        Mosquitto(tmp_path, "allow_anonymous false", *lines) as broker,
        dispatching(WAY.format(broker.port) + own) as (way, card, _),
    ):
        way.hand([alert(1)])
        assert card.empty()
        assert way.ways()[0].trouble == ""


def test_a_broker_that_refuses(tmp_path: Path) -> None:
    (tmp_path / "users").write_text("")
    with (
        Mosquitto(tmp_path, "allow_anonymous false", f"password_file {tmp_path / 'users'}") as broker,
        dispatching(WAY.format(broker.port)) as (way, card, _),
    ):
        way.hand([alert(1)])
        assert eventually(lambda: "refuses" in way.ways()[0].trouble)
        assert len(card.waiting) == 1


GARBAGE = [
    b"HTTP/1.1 400 Bad Request\r\n\r\n",
    b"\xff" * 4096,
    b"\x20\x02\x00\x00" + b"\x90\xff\xff\xff\x7f",
    b"",
]


@pytest.mark.parametrize("answer", GARBAGE, ids=["http", "ones", "endless", "nothing"])
def test_what_is_no_broker_is_told_and_holds_nobody_up(
    broker: Mosquitto, answer: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other way delivers meanwhile, and the end comes within its time."""
    monkeypatch.setattr(mqtt, "ANSWER_S", 0.5)
    line = socket.create_server(("127.0.0.1", 0))
    held: list[socket.socket] = []

    def accept() -> None:
        while True:
            try:
                held.append(line.accept()[0])
                held[-1].sendall(answer)
            except OSError:
                return

    threading.Thread(target=accept, daemon=True).start()
    ways = WAY.format(line.getsockname()[1]).replace('"broker"', '"hostile"') + WAY.format(broker.port)
    try:
        with listening(broker.port) as crew, dispatching(ways) as (dispatcher, card, _):
            assert eventually(lambda: bool(held))
            dispatcher.hand([alert(1, ALARM)])
            assert crew.waits_for("alert")
            assert eventually(lambda: [way for way, _ in card.rows()] == ["hostile"])
            assert eventually(lambda: dispatcher.ways()[0].trouble != "")
        assert not any(t.name.startswith("way ") and t.is_alive() for t in threading.enumerate())
    finally:
        line.close()
        for end in held:
            end.close()


@pytest.mark.parametrize(
    ("name", "level"),
    [
        ("Marram", "marram"),
        ("../#+", "boat"),
        ("$SYS/broker", "sys-broker"),
        ("Río Ulla  II", "rio-ulla-ii"),
        ("Чайка", "boat"),
        ("low voltage", "low-voltage"),
        ("a\x00b\nc", "a-b-c"),
    ],
)
def test_a_name_is_one_level_of_a_topic(name: str, level: str) -> None:
    """No wildcard, no separator, no control character (MQTT 3.1.1, 4.7.1 and 1.5.3)."""
    assert slug(name) == level


def test_html_and_newlines_in_a_subject_stay_inside_the_payload(broker: Mosquitto) -> None:
    subject = '<b>house</b>\n"#+/\u202e'
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (way, card, _):
        way.hand([alert(1, subject=subject)])
        assert card.empty()
        assert crew.waits_for("alert/low-voltage", subject=subject)


def test_a_second_way_hears_only_what_nobody_answered(broker: Mosquitto) -> None:
    second = WAY.format(broker.port) + "second = true\n"
    answered, unanswered = alert(1, ALARM), alert(2, ALARM)
    escalated = replace(unanswered, id="escalated", what="escalated", second=True)
    card = Card()
    with listening(broker.port) as crew, dispatching(second, card) as (way, *_):
        way.hand([answered, unanswered, escalated])
        assert crew.waits_for("alert", what="escalated")
    with listening(broker.port) as crew, dispatching(second, card) as (way, *_):
        way.hand([ended(answered), ended(unanswered)])
        assert crew.waits_for("alert", what="ended", subject="bank 2"), "remembered through a restart"
        assert card.empty()
        way.hand([replace(unanswered, id="it begins again")])
        assert card.waiting == {}
        assert not [p for p in crew.of("alert") if p["subject"] == "bank 1"]


def test_a_client_of_mqtt_learns_what_is_open_from_the_snapshot_too(broker: Mosquitto) -> None:
    with listening(broker.port) as crew, dispatching(WAY.format(broker.port)) as (way, _, clock):
        old, new = alert(1, CAUTION), alert(2)
        way.look(snapshot(clock.at_s, alerts=(still_open(old),)))
        way.hand([new])
        assert crew.waits_for("alert")
        assert [o["subject"] for o in crew.of("alert")[0]["open"]] == ["bank 1", "bank 2"]


def test_it_subscribes_to_nothing(broker: Mosquitto) -> None:
    """Mosquitto's own log of who asks for what."""
    with dispatching(WAY.format(broker.port)) as (way, card, _):
        way.hand([alert(1)])
        assert card.empty()
    assert broker.wait_for("Received PUBLISH")
    assert not any("SUBSCRIBE" in line for line in broker.log)
