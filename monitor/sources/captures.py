"""Recordings: candump text logs of CAN frames, and MQTT messages as JSON lines.

A candump line is `(EPOCH.MICROSECONDS) INTERFACE ID#DATA`, as `candump -L` writes it; a trailing
`R` or `T` (received, transmitted) is allowed. A JSON line has `time` (epoch seconds), `topic` and
`payload`, and may have `source` and `retained`. In both, elapsed time is the recording's own.
"""

import heapq
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO

from monitor.errors import CaptureError
from monitor.records import Frame, Message
from monitor.sources.identifiers import Identifiers, is_error

JUMP_S = 1.0
"""A step back by more than this is a clock that was set, not lines that overtook each other."""
_LATEST_S = 1e11
_BAD_AT_ONCE = 1000
_SHOWN = 5


@dataclass(slots=True)
class Skipped:
    """What of some recordings could not be used. `first` names file and line of the first ones."""

    lines: int = 0
    error_frames: int = 0
    remote_frames: int = 0
    first: list[str] = field(default_factory=list)


class _Tally:
    """Counts one file's bad lines into `skipped`, and gives the file up when all are bad."""

    def __init__(self, path: Path, skipped: Skipped | None) -> None:
        self.skipped = Skipped() if skipped is None else skipped
        self.any_good = False
        self._path = path
        self._bad = 0
        self._first = ""

    def bad(self, line_number: int, line: str) -> None:
        shown = f"{self._path}:{line_number}: {line.strip()[:80]!r}"
        self._bad += 1
        self._first = self._first or shown
        self.skipped.lines += 1
        if len(self.skipped.first) < _SHOWN:
            self.skipped.first.append(shown)
        if self._bad == _BAD_AT_ONCE:
            self.end()

    def end(self) -> None:
        if self._bad and not self.any_good:
            raise CaptureError(f"{self._first}: not a recording of CAN frames or MQTT messages")


def read_candump(path: Path, skipped: Skipped | None = None) -> Iterator[Frame]:
    """The frames of a candump log, `source` being the interface it names.

    Error and remote frames and lines that are no frame are counted in `skipped`. Raises
    CaptureError where the file cannot be read or holds no frame at all.
    """
    tally = _Tally(path, skipped)
    ids = Identifiers()
    new, from_hex = tuple.__new__, bytes.fromhex
    with _opened(path, "ascii", "replace") as file:
        for number, line in enumerate(file, 1):
            parts = line.split()
            try:
                if len(parts) == 3:
                    stamp, interface, body = parts
                else:
                    stamp, interface, body, direction = parts
                    if direction not in ("R", "T"):
                        raise ValueError(direction)
                text, mark, digits = body.partition("#")
                can_id, extended = ids[text]
                data = from_hex(digits)
                at_s = float(stamp[1:-1])
                if not (mark and len(data) <= 8 and 0.0 <= at_s < _LATEST_S):
                    raise ValueError(body)
                if stamp[0] != "(" or stamp[-1] != ")":
                    raise ValueError(stamp)
            except ValueError:
                _set_aside(tally, number, line)
                continue
            tally.any_good = True
            yield new(Frame, (at_s, interface, can_id, data, extended))
    tally.end()


def _set_aside(tally: _Tally, number: int, line: str) -> None:
    """Count a line that gave no frame under what it is. Empty lines and comments are nothing."""
    parts = line.split()
    if not parts or parts[0].startswith("#"):
        return
    text, mark, rest = (parts[2] if len(parts) > 2 else "").partition("#")
    if mark and is_error(text):
        tally.skipped.error_frames += 1
    elif mark and rest[:1] in ("R", "r") and len(text) in (3, 8):
        tally.skipped.remote_frames += 1
    else:
        tally.bad(number, line)


def read_messages(path: Path, skipped: Skipped | None = None) -> Iterator[Message]:
    """The MQTT messages of a JSON lines file; `source` is empty where the line names none.

    A payload that is not text stands for its own JSON. Lines that are no message are counted in
    `skipped`. Raises CaptureError where the file cannot be read or holds no message at all.
    """
    tally = _Tally(path, skipped)
    with _opened(path, "utf-8", "surrogateescape") as file:
        for number, line in enumerate(file, 1):
            try:
                message = _message(json.loads(line))
            except (ValueError, KeyError, TypeError, RecursionError):
                if line.strip():
                    tally.bad(number, line)
                continue
            tally.any_good = True
            yield message
    tally.end()


def _message(row: dict[str, Any]) -> Message:
    at_s, topic, payload = row["time"], row["topic"], row["payload"]
    if type(at_s) not in (int, float) or not 0 <= at_s < _LATEST_S:
        raise ValueError(at_s)
    if type(topic) is not str or not topic:
        raise ValueError(topic)
    if type(payload) is not str:
        payload = json.dumps(payload)
    retained = row.get("retained", False)
    source = row.get("source", "")
    if type(retained) is not bool or type(source) is not str:
        raise ValueError(source)
    return Message(float(at_s), source, topic, payload.encode(), retained)


def merge(paths: Iterable[Path], skipped: Skipped | None = None) -> Iterator[Frame | Message]:
    """Everything in these recordings by time; `.jsonl` files hold messages, the others frames.

    A clock that was set back while they were made is a step back in all of them at once: what
    follows a file's first step comes after what went before it in every file, and so on.
    """
    count = Skipped() if skipped is None else skipped
    streams = [_read(path, count) for path in paths]
    if len(streams) == 1:
        yield from streams[0]
        return
    for entry in heapq.merge(*(_steady(stream, n) for n, stream in enumerate(streams))):
        yield entry[3]


def _read(path: Path, skipped: Skipped) -> Iterator[Frame | Message]:
    return read_messages(path, skipped) if path.suffix == ".jsonl" else read_candump(path, skipped)


def _steady(
    items: Iterator[Frame | Message], stream: int
) -> Iterator[tuple[int, float, int, Frame | Message]]:
    """Each item with what it is sorted by: how often the clock was set back, a time that does not
    fall between, and the stream's number so that items are never compared."""
    set_back, latest_s = 0, float("-inf")
    for item in items:
        at_s = item[0]
        if at_s < latest_s - JUMP_S:
            set_back += 1
            latest_s = at_s
        latest_s = max(latest_s, at_s)
        yield set_back, latest_s, stream, item


def write_candump(file: TextIO, frame: Frame) -> None:
    """Append one frame as a candump line, its time to the microsecond."""
    width = 8 if frame.extended else 3
    interface = frame.source.replace(" ", "_")
    file.write(f"({frame.at_s:.6f}) {interface} {frame.can_id:0{width}X}#{frame.data.hex().upper()}\n")


def write_message(file: TextIO, message: Message) -> None:
    """Append one message as a JSON line. Bytes that are no UTF-8 text become U+FFFD."""
    row: dict[str, Any] = {
        "time": round(message.at_s, 6),
        "topic": message.topic,
        "payload": message.payload.decode("utf-8", "replace"),
    }
    if message.source:
        row["source"] = message.source
    if message.retained:
        row["retained"] = True
    file.write(json.dumps(row) + "\n")


@contextmanager
def _opened(path: Path, encoding: str, errors: str) -> Iterator[TextIO]:
    try:
        with path.open(encoding=encoding, errors=errors) as file:
            yield file
    except OSError as error:
        raise CaptureError(f"{path}: cannot be read: {error.strerror or error}") from error
