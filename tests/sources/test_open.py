"""From the settings file to threads that listen, and what no source may ever do."""

import ast
import io
from pathlib import Path
from string import Formatter

import pytest

from monitor.channels import QUANTITIES
from monitor.plausibility import impossible
from monitor.records import Frame
from monitor.settings_file import parse_settings, read_settings
from monitor.sources.captures import write_candump
from monitor.sources.inbox import Inbox
from monitor.sources.open import open_sources, topics_of
from monitor.system_clock import SystemClock
from monitor.words.sources import SENTENCES
from tests.sources.listening import eventually, hear, running

ROOT = Path(__file__).parents[2]
BOAT = '[boat]\nname = "Marram"\n'


def test_the_sample_settings_become_their_sources() -> None:
    settings = read_settings(ROOT / "deploy" / "settings.sample.toml")
    inbox = Inbox(10)

    threads = open_sources(settings, inbox, SystemClock())

    assert [(t.health.name, t.health.kind) for t in threads] == [
        ("backbone", "can"),
        ("battery bus", "can"),
        ("broker", "mqtt"),
    ]
    assert topics_of(settings, "broker") == ["marram/heater", "marram/panels"]
    for thread in threads:
        thread.stop()


def test_topics_that_a_wildcard_covers_are_not_asked_for_twice() -> None:
    """Coverage as MQTT 3.1.1, 4.7.1 has it."""
    topics = ["a/b", "a/#", "c/+/d", "c/x/d", "c/x/e", "a", "c/x/d"]
    feeds = ", ".join(f'{{ source = "broker", topic = "{t}", quantity = "power" }}' for t in topics)
    text = (
        f'{BOAT}[[sources]]\nkind = "mqtt"\nname = "broker"\n[[instruments]]\nname = "x"\nfeeds = [{feeds}]\n'
    )

    assert topics_of(parse_settings(text, Path()), "broker") == ["a/#", "c/+/d", "c/x/e"]


def recording(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "bus.log"
    path.write_text(text)
    return path


def test_a_recording_waits_for_the_watch_and_loses_nothing(tmp_path: Path) -> None:
    file = io.StringIO()
    sent = [Frame(1000.0 + n / 1e5, "can0", n, b"", True) for n in range(5000)]
    for frame in sent:
        write_candump(file, frame)
    path = recording(tmp_path, file.getvalue() + "garbage\n")
    text = f'{BOAT}[[sources]]\nkind = "recording"\nname = "log"\npaths = ["{path}"]\n'
    inbox = Inbox(700)
    (thread,) = open_sources(parse_settings(text, tmp_path), inbox, SystemClock())

    with running(thread):
        assert [item.can_id for item in hear(inbox, 5000) if isinstance(item, Frame)] == list(range(5000))
        assert eventually(lambda: thread.health.unreadable == 1 and not thread.health.up)

    assert inbox.dropped["log"] == 0
    assert thread.health.snapshot().heard == 5000


def test_a_recording_that_is_none_is_told(tmp_path: Path) -> None:
    path = recording(tmp_path, "a letter\nto somebody\n")
    text = f'{BOAT}[[sources]]\nkind = "recording"\nname = "log"\npaths = ["{path}"]\n'
    (thread,) = open_sources(parse_settings(text, tmp_path), Inbox(100), SystemClock())

    with running(thread):
        assert eventually(lambda: "bus.log:1: 'a letter': not a recording" in thread.health.trouble)


def test_a_recording_without_files_is_left_to_the_replay() -> None:
    text = f'{BOAT}[[sources]]\nkind = "recording"\nname = "log"\n'

    assert open_sources(parse_settings(text, Path()), Inbox(10), SystemClock()) == []


@pytest.mark.parametrize("path", sorted((ROOT / "monitor" / "sources").glob("*.py")), ids=lambda p: p.name)
def test_no_source_can_send_on_a_bus(path: Path) -> None:
    """Ebbwatch listens and never transmits: nothing in this package calls any bus's `send`."""
    calls = [n.func for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Call)]

    sending = {f.attr for f in calls if isinstance(f, ast.Attribute)} & {
        "send",
        "sendto",
        "sendmsg",
        "send_periodic",
    }

    assert not sending


@pytest.mark.parametrize("reading", [99.0, -1.0, float("nan"), float("inf")])
def test_the_reason_of_an_impossible_reading_fills_its_sentence(reading: float) -> None:
    reason = impossible(QUANTITIES["voltage"], reading)

    assert reason is not None
    wanted = {name for _, name, _, _ in Formatter().parse(SENTENCES[reason.id]) if name}
    assert wanted <= reason.facts.keys()
