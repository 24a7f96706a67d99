"""The stream: one event a snapshot, one a second at most, and gone when the server goes.

What is to be heard has events of its own: see test_sound.py."""

import http.client
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import anyio
import pytest

from tests.web.canned import CannedWatch, canned
from web import live

HERE = Path(__file__).parent


@pytest.fixture
def waited(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The waits of the stream, counted and not waited for."""
    waits: list[float] = []

    async def no_time(seconds: float) -> None:
        waits.append(seconds)

    monkeypatch.setattr(anyio, "sleep", no_time)
    return waits


def taken(watch: CannedWatch, events: int, ticking: bool) -> list[dict[str, str]]:
    """So many snapshots' events of the stream; `ticking` brings a newer snapshot after each."""

    async def take() -> list[dict[str, str]]:
        stream = live.events(watch, anyio.Event())
        found: list[dict[str, str]] = []
        while len(found) < events:
            event = await anext(stream)
            if event["event"] != "snapshot":
                continue
            found.append(event)
            if ticking:
                watch.tick()
        return found

    return anyio.run(take)


def test_one_event_a_snapshot_a_second_apart_at_least(waited: list[float]) -> None:
    """The first at once with its moment; each newer snapshot after a second, however fast they come."""
    first, second, third = taken(canned(), 3, ticking=True)
    assert (first["event"], first["id"], first["data"]) == ("snapshot", "1", "Wed 15:21:00")
    assert (second["id"], second["data"]) == ("2", "Wed 15:21:01")
    assert third["id"] == "3"
    assert waited == [1.0, 1.0]


def test_the_same_snapshot_is_not_told_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """Until there is a newer one the stream only looks: four looks, then a snapshot comes."""
    watch = canned()
    waits: list[float] = []

    async def newer_after_five(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 5:
            watch.tick()

    monkeypatch.setattr(anyio, "sleep", newer_after_five)
    assert [e["id"] for e in taken(watch, 2, ticking=False)] == ["1", "2"]
    assert waits == [live.LEAST_BETWEEN_S, *4 * [live.LOOK_EVERY_S]]


@pytest.fixture
def served() -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The canned pages in a process of their own, told to stop by a signal as a service is."""
    command = [sys.executable, "-m", "tests.web.canned", "--port", "0", "--only", "well"]
    with subprocess.Popen(command, cwd=HERE.parents[1], stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        found = None
        while found is None and (line := process.stderr.readline()):
            found = re.search(r"running on http://(\S+)", line)
        assert found, "the canned server did not start"
        yield process, found[1]
        process.kill()


def test_the_stream_speaks_and_ends_with_its_server(served: tuple[subprocess.Popen[str], str]) -> None:
    """text/event-stream as the HTML standard has it; a server told to stop is not held up by it, and
    ends the stream in order (the last chunk arrives: RFC 9112, 7.1)."""
    process, address = served
    with closing(http.client.HTTPConnection(address, timeout=10)) as connection:
        connection.request("GET", "/live")
        with closing(connection.getresponse()) as answer:
            assert answer.getheader("Content-Type", "").startswith("text/event-stream")
            assert "default-src 'none'" in answer.getheader("Content-Security-Policy", "")
            assert "event: snapshot" in [answer.readline().decode().strip() for _ in range(6)]
            process.send_signal(signal.SIGTERM)
            began = time.monotonic()
            answer.read()
            process.wait(10)
            assert time.monotonic() - began < 4


def test_what_is_sent_is_plain_text_without_a_clock(waited: list[float]) -> None:
    assert taken(canned("no clock"), 1, ticking=False)[0]["data"] == "6\u00a0days after the start"
