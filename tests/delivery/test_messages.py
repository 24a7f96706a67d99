"""The message way against a real HTTP server, through apprise's json:// addresses, in apprise's own form:
{"title", "message", ...} (apprise's documentation of its JSON service)."""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from monitor.delivery import message
from monitor.delivery.desk import Desk
from monitor.delivery.letters import LONGEST_SUBJECT, letter
from monitor.delivery.message import MessageWayThread, addresses
from monitor.records import Notice, Reason, Severity
from monitor.settings import MessageWay
from monitor.words.units import Dress
from tests.brokers import Mosquitto
from tests.delivery.crew import NOON_S, Card, HandClock, alert, dispatching, ended, listening, settings
from tests.delivery.test_mqtt_way import WAY
from tests.sources.listening import eventually

ALARM, WARNING, CAUTION = Severity
PLAIN = Dress(UTC)


class Post:
    """A service: every letter it got, once each, and how it answers the next ones."""

    def __init__(self) -> None:
        self.got: list[dict[str, Any]] = []
        self.how: Callable[[BaseHTTPRequestHandler], None] = well
        post = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                text = self.rfile.read(int(self.headers["Content-Length"]))
                how = post.how
                if how is well and (heard := json.loads(text)) not in post.got:
                    post.got.append(heard)  # At least once: a slow machine may see one again.
                how(self)

            def log_message(self, *_: object) -> None:
                """Not heard."""

        class Server(ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, *_: object) -> None:
                """Whoever was cut off."""

        self.server = Server(("127.0.0.1", 0), Handler)
        self.address = f"json://127.0.0.1:{self.server.server_address[1]}/"
        self.closing = threading.Event()


def well(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.end_headers()


@contextmanager
def posting() -> Iterator[Post]:
    post = Post()
    thread = threading.Thread(target=post.server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield post
    finally:
        post.closing.set()
        post.server.shutdown()
        post.server.server_close()
        thread.join()


@pytest.fixture
def post() -> Iterator[Post]:
    with posting() as started:
        yield started


def way(folder: Path, *lines: str, mode: int = 0o600, more: str = "") -> str:
    file = folder / "addresses"
    file.write_text("\n".join(lines))
    file.chmod(mode)
    return f'[[ways]]\nkind = "message"\nname = "post"\nurls_file = "{file}"\n{more}\n'


def test_a_letter_says_what_to_do_and_ends_with_the_id(tmp_path: Path, post: Post) -> None:
    with dispatching(way(tmp_path, post.address)) as (dispatcher, card, _):
        notice = alert(1, WARNING, subject="house")
        dispatcher.hand([notice])
        assert card.empty()
        assert dispatcher.ways()[0].confirmed_utc_s == NOON_S

    (got,) = post.got
    assert got["title"] == "Marram: Warning, Voltage low (house)"
    lines = got["message"].splitlines()
    assert lines[0] == "The house bank is down to 11.90 V; its limit is 12.00 V."
    assert lines[1] == "Thu 1 Oct 14:00. It has begun."
    assert lines[2].startswith("Switch off what can wait")
    assert lines[3].startswith("Otherwise: The battery may be harmed")
    assert lines[-1] == notice.id


def test_a_day_without_network_is_no_hundred_letters(tmp_path: Path, post: Post) -> None:
    """Nothing goes for a day; then each alarm has its letter and all the rest one, the gravest first."""
    day = [alert(n, CAUTION if n % 2 else WARNING) for n in range(60)]
    alarms = [alert(n, ALARM) for n in (100, 101)]
    post.how = refusing
    with dispatching(way(tmp_path, post.address, more='from_grade = "caution"')) as (dispatcher, card, clock):
        dispatcher.hand(day)
        assert eventually(lambda: "does not take it" in dispatcher.ways()[0].trouble)
        clock.at_s += 86_400
        assert dispatcher.ways()[0].failing_s == pytest.approx(86_400)
        post.how = well
        dispatcher.hand(alarms)
        assert card.empty()

    assert len(post.got) == 3
    assert [alarms[n].id in post.got[n]["message"] for n in (0, 1)] == [True, True]
    rest = post.got[2]
    assert rest["title"].startswith("Marram: 60 notices, the gravest: Voltage low (bank 0)")
    ids = rest["message"].splitlines()[-1].split(", ")
    assert ids == [n.id for n in [*day[::2], *day[1::2]]]


def test_in_a_flood_of_a_thousand_the_alarms_are_first_on_every_way(tmp_path: Path, post: Post) -> None:
    """Ten alarms at the end of 990 others. Of what each way then sends, the alarms come first."""
    flood = [alert(n, CAUTION if n % 3 else WARNING) for n in range(990)]
    alarms = [alert(n, ALARM, rule="burst") for n in range(990, 1000)]
    with Mosquitto(tmp_path) as broker, listening(broker.port) as crew:
        both = way(tmp_path, post.address, more='from_grade = "caution"') + WAY.format(broker.port)
        with dispatching(both) as (dispatcher, card, _):
            dispatcher.hand([*flood, *alarms])
            assert crew.waits_for("alert", 12)
            assert eventually(lambda: len(post.got) >= 2)
        assert [p["id"] for p in crew.of("alert")][:12] == [n.id for n in [*alarms, *flood[:2]]]
        for letter, alarm in zip(post.got, alarms, strict=False):
            assert letter["message"].endswith(alarm.id)
        left = {(name, n.id) for name, n in card.rows()}
        assert {("post", n.id) for n in flood} <= left, "what is not sent stays on the card"


def refusing(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(500)
    handler.end_headers()


def resetting(handler: BaseHTTPRequestHandler) -> None:
    handler.connection.close()


def flooding(handler: BaseHTTPRequestHandler) -> None:
    """A hundred megabytes of answer, and on."""
    handler.send_response(500)
    handler.end_headers()
    for _ in range(600):
        handler.wfile.write(b"x" * 2**20)


def hanging(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    while True:  # A header that never ends, byte by byte, so that no line's own patience helps.
        handler.wfile.write(b"X")
        threading.Event().wait(0.05)


@pytest.mark.parametrize("how", [refusing, resetting, flooding, hanging])
def test_a_hostile_service_holds_up_neither_the_others_nor_the_end(
    tmp_path: Path, post: Post, how: Callable[[BaseHTTPRequestHandler], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(message, "PATIENCE_S", 4.0)
    with posting() as hostile:
        hostile.how = how
        both = way(tmp_path, "# the hostile one first", hostile.address, "", post.address)
        with dispatching(both) as (dispatcher, card, _):
            dispatcher.hand([alert(1, ALARM)])
            assert eventually(lambda: len(post.got) == 1)
            assert eventually(lambda: [name for name, _ in card.rows()] == ["post 1"])
            assert eventually(lambda: dispatcher.ways()[0].trouble != "")
            assert dispatcher.ways()[1].trouble == ""
        assert not any(t.name.startswith("way ") and t.is_alive() for t in threading.enumerate())
        assert len(card.rows()) == 1, "it goes out when it can"


def test_html_and_newlines_in_a_subject(tmp_path: Path, post: Post) -> None:
    with dispatching(way(tmp_path, post.address)) as (dispatcher, card, _):
        dispatcher.hand(
            [alert(1, subject="<script>x</script>\r\nBcc: everybody@example.org\n\x1b[2J" + "y" * 200)]
        )
        assert card.empty()

    (got,) = post.got
    assert "\n" not in got["title"]
    assert "\r" not in got["title"]
    assert len(got["title"]) <= LONGEST_SUBJECT
    assert "<script>x</script> Bcc: everybody@example.org [2J" in got["message"]
    assert "\x1b" not in got["message"].rsplit("\n", 1)[0]


@pytest.mark.parametrize(
    ("lines", "mode", "told"),
    [
        (["json://127.0.0.1:1/"], 0o644, "chmod 600"),
        (["nonsense"], 0o600, "apprise does not understand the address"),
        (["# nothing"], 0o600, "holds no address"),
    ],
)
def test_a_file_of_addresses_that_cannot_be_used(
    tmp_path: Path, lines: list[str], mode: int, told: str
) -> None:
    with dispatching(way(tmp_path, *lines, mode=mode)) as (dispatcher, card, _):
        dispatcher.hand([alert(1)])
        assert eventually(lambda: told in dispatcher.ways()[0].trouble)
        assert len(card.rows()) == 1


def test_the_address_stands_in_no_trouble_and_no_list_of_processes(tmp_path: Path, post: Post) -> None:
    seen: list[str] = []

    def looking(handler: BaseHTTPRequestHandler) -> None:
        seen.extend(map(words_of, Path("/proc").glob("[0-9]*/cmdline")))
        refusing(handler)

    post.how = looking
    secret = post.address.replace("json://", "json://skipper:kelp4711@")
    with dispatching(way(tmp_path, secret)) as (dispatcher, *_):
        dispatcher.hand([alert(1)])
        assert eventually(lambda: dispatcher.ways()[0].trouble != "")
        assert "kelp4711" not in str(dispatcher.ways())
    assert any("monitor.delivery.postman" in line for line in seen)
    assert not any("kelp4711" in line for line in seen)


def words_of(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8", "replace")
    except OSError:
        return ""


def test_quiet_hours_hold_a_letter_until_morning(tmp_path: Path, post: Post) -> None:
    """Marram's quiet hours: from 20 to 9 o'clock of her own clock; 23:00 there is 21:00 UTC."""
    night_s, card = NOON_S + 9 * 3600, Card()
    over, stands = alert(1, utc_s=night_s), alert(2, utc_s=night_s)
    with dispatching(way(tmp_path, post.address, more="quiet = true"), card) as (dispatcher, _, clock):
        from tests.delivery.crew import snapshot

        dispatcher.look(snapshot(clock.at_s, night_s))
        alarm = alert(3, ALARM, utc_s=night_s)
        dispatcher.hand([over, stands, alarm, ended(over, utc_s=night_s + 60)])
        assert eventually(lambda: len(post.got) == 1)
        assert alarm.id in post.got[0]["message"]
        assert eventually(lambda: alarm.id not in {n.id for _, n in card.rows()})
        assert dispatcher.ways()[0].failing_s == 0.0
        clock.at_s += 10 * 3600
        assert card.empty()
        assert len(post.got) == 2
        assert stands.id in post.got[1]["message"]


def test_addresses_are_lines() -> None:
    assert addresses(b"# mine\n\n  json://a/ \r\njson://b/\n") == ["json://a/", "json://b/"]


def test_a_letter_tells_what_was_dropped_and_what_is_not_on_the_card() -> None:
    written = letter([replace(alert(1), recorded=False)], "Marram", PLAIN, dropped=37)

    assert "not on the card yet" in written.body
    assert "37 lesser notices" in written.body


@pytest.mark.parametrize("kind", ["flood", "test", "morning", "handover"])
def test_every_kind_has_a_subject(kind: str) -> None:
    notice = Notice("x", kind, 0.0, None, Reason("way tried"))

    subject, body = letter([notice], "Marram", PLAIN)
    assert subject.startswith("Marram: ")
    assert "ways:" not in subject
    assert body.splitlines()[1] == "The time is not known."


@pytest.mark.parametrize(
    ("severity", "what", "state", "expected"),
    [
        (Severity.WARNING, "began", "active", True),
        (Severity.WARNING, "escalated", "active", True),
        (Severity.WARNING, "began", "suppressed", False),
        (Severity.WARNING, "acknowledged", "acknowledged", False),
        (Severity.WARNING, "fell silent", "active", False),
        (Severity.ALARM, "acknowledged", "acknowledged", True),
        (Severity.ALARM, "ended", "ended", True),
        (Severity.ALARM, "suppressed", "suppressed", False),
    ],
)
def test_a_letter_is_for_what_calls_and_for_an_alarms_end(
    severity: Severity, what: str, state: str, expected: bool
) -> None:
    """Crews mute what tells the same again: the rest stands on the pages and on MQTT."""
    of_boat = settings(
        '[[ways]]\nkind = "message"\nname = "letter"\nfrom_grade = "caution"\nurls_file = "a"\n'
    )
    (kind,) = of_boat.ways
    assert isinstance(kind, MessageWay)
    way = MessageWayThread(kind, Desk(of_boat, HandClock()), Card(), "json://127.0.0.1:1")
    way.put([replace(alert(1, severity), what=what, state=state)])

    assert way.way().waiting == int(expected)
