"""`ebbwatch run` and `ebbwatch demo` as processes of their own: they answer, and end in order."""

import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import can
import pytest

from monitor.storage.history import History
from tests.bench_bus import GROUP, allow_multicast
from tests.brokers import free_port
from tests.sources.listening import eventually
from tests.watched import battery

ROOT = Path(__file__).parents[2]
BOAT = """
[boat]
name = "Tern"
[[sources]]
kind = "can"
name = "backbone"
interface = "udp_multicast"
channel = "{group}"
port = {port}
[[banks]]
name = "house"
capacity_Ah = 100
feeds = [{{ source = "backbone", instance = 0 }}]
"""
DASHBOARD_S = 20.0
"""How soon the dashboard must answer."""


@contextmanager
def process(folder: Path, *arguments: str) -> Iterator[subprocess.Popen[bytes]]:
    """`ebbwatch` in a process, its words in a file; told to end with SIGTERM."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200"}
    with (folder / "said.txt").open("wb") as said:
        started = subprocess.Popen(
            [sys.executable, "-m", "monitor", *arguments],
            cwd=folder,
            stdout=said,
            stderr=said,
            env=environment,
        )
        try:
            yield started
        finally:
            started.kill()
            started.wait()


def page(port: int, path: str = "/") -> str:
    """What the dashboard shows; nothing while it does not answer."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5) as answer:
            text: str = answer.read().decode()
            return text
    except (urllib.error.URLError, ConnectionError):
        return ""


def ends_in_order(started: subprocess.Popen[bytes], folder: Path) -> str:
    """Its last words, after SIGTERM and exit code 0."""
    started.send_signal(signal.SIGTERM)
    code = started.wait(15)
    said = (folder / "said.txt").read_text()
    assert code == 0, said
    assert "Traceback" not in said
    return said


@pytest.fixture(scope="module", autouse=True)
def _multicast() -> None:
    allow_multicast(GROUP)


def test_the_watch_runs_until_it_is_told_to_end(tmp_path: Path) -> None:
    port, bus_port = free_port(), free_port()
    (tmp_path / "boat.toml").write_text(BOAT.format(group=GROUP, port=bus_port))
    arguments = ("run", "--settings", "boat.toml", "--listen", f"127.0.0.1:{port}")
    with (
        process(tmp_path, *arguments) as started,
        can.Bus(GROUP, "udp_multicast", ignore_config=True, port=bus_port, hop_limit=0) as bus,
    ):
        assert eventually(lambda: "Tern" in page(port), DASHBOARD_S)

        def shown() -> bool:
            frame = battery(0.0, 12.91, 3.5)
            bus.send(can.Message(arbitration_id=frame.can_id, data=frame.data))
            return "12.91" in page(port, "/fit-out")

        assert eventually(shown)
        ends_in_order(started, tmp_path)
    with closing(History(tmp_path / "ebbwatch.db")) as history:
        assert {"house voltage", "house current", "backbone up"} <= set(history.channels())


def test_the_demo_answers_at_once_and_ends_in_order(tmp_path: Path) -> None:
    port = free_port()
    with process(tmp_path, "demo", "--days", "1", "--port", str(port), "--no-browser") as started:
        assert eventually(lambda: "Marram" in page(port), DASHBOARD_S)
        assert "No boat is being watched" in page(port)
        said = ends_in_order(started, tmp_path)
    assert f"Dashboard: http://127.0.0.1:{port}/" in said
    assert "multicast" in said
