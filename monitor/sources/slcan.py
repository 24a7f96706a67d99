"""CAN adapters on a serial port that speak lines of ASCII ("slcan"), with a reader of our own.

A line is `t` + 3 hex digits of identifier (or `T` + 8), one digit of length, two hex digits a data
byte, optionally 4 digits of time stamp, and a carriage return. `r` and `R` are remote frames. The
line protocol is that of the Linux kernel's slcan driver (drivers/net/can/slcan).
"""

import os
import select
import termios
import tty
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from monitor.errors import SourceError, SourceLost
from monitor.records import Frame
from monitor.settings import CanSource
from monitor.sources.health import Health
from monitor.sources.identifiers import Identifiers
from monitor.sources.inbox import Inbox, Item
from monitor.sources.thread import FIRST_RETRY_S, GATHER_S, IDLE_S, SourceThread
from monitor.system_clock import Clock

BIT_RATES = {
    10_000: b"S0", 20_000: b"S1", 50_000: b"S2", 100_000: b"S3", 125_000: b"S4",
    250_000: b"S5", 500_000: b"S6", 800_000: b"S7", 1_000_000: b"S8",
}  # fmt: skip

_CHUNK = 1 << 16
_NEARLY_FULL = 3000
_LONGEST_LINE = 64
_ANSWER_S = 0.3
_QUIET_S = 0.05
_DRAINS = 20


class Lines:
    """Turns what a serial adapter sends, cut anywhere, into frames; counts in `health` what is none."""

    def __init__(self, source: str, health: Health) -> None:
        self._source = source
        self._health = health
        self._rest = ""
        self._ids = Identifiers()

    def feed(self, at_s: float, chunk: bytes) -> list[Item]:
        """The frames that are complete with this chunk, all heard at `at_s`."""
        text = chunk.decode("latin-1")
        if "\a" in text or "\n" in text:
            text = text.replace("\a", "\r").replace("\n", "\r")
        *lines, self._rest = (self._rest + text).split("\r")
        if len(self._rest) > _LONGEST_LINE:
            self._health.unreadable += 1
            self._rest = ""
        frames: list[Item] = []
        new, from_hex, ids, source = tuple.__new__, bytes.fromhex, self._ids, self._source
        for line in lines:
            kind = line[:1]
            start = 9 if kind == "T" else 4
            try:
                if kind not in ("T", "t"):
                    self._other(kind, line)
                    continue
                length = int(line[start : start + 1])
                data = from_hex(line[start + 1 : start + 1 + 2 * length])
                spare = len(line) - (start + 1 + 2 * length)
                if len(data) != length or length > 8 or spare not in (0, 4):
                    raise ValueError(line)
                can_id, extended = ids[line[1:start]]
            except ValueError:
                self._health.unreadable += 1
                continue
            frames.append(new(Frame, (at_s, source, can_id, data, extended)))
        return frames

    def _other(self, kind: str, line: str) -> None:
        """An empty line is an adapter's "done"; anything else that is no frame is counted."""
        if kind in ("r", "R"):
            self._health.remote_frames += 1
        elif line:
            self._health.unreadable += 1


class SlcanThread(SourceThread):
    """One adapter. It is opened listen-only with `L`; `O` only where it refuses `L`.

    The channel is the device's path, with `@SPEED` after it for a serial line that is not USB.
    """

    def __init__(
        self, settings: CanSource, inbox: Inbox, clock: Clock, *, first_retry_s: float = FIRST_RETRY_S
    ) -> None:
        super().__init__(settings.name, "can", inbox, clock, first_retry_s=first_retry_s)
        self._path, _, self._speed = settings.channel.partition("@")
        self._bit_rate = settings.bit_rate

    def _listen(self) -> None:
        with self._device() as device:
            lines = Lines(self._name, self.health)
            self._take(lines, self._open_bus(device))
            self._connected()
            while not self._stopping.is_set():
                if not _ready(device, IDLE_S):
                    continue
                chunk = self._read(device)
                self._take(lines, chunk)
                if len(chunk) < _NEARLY_FULL:
                    self._stopping.wait(GATHER_S)

    def _take(self, lines: Lines, chunk: bytes) -> None:
        at_s = self._clock.elapsed_s()
        self._deliver(lines.feed(at_s, chunk), at_s)

    @contextmanager
    def _device(self) -> Iterator[int]:
        try:
            device = os.open(self._path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError as error:
            raise SourceError(f"{self._path}: {error.strerror}") from error
        try:
            self._make_raw(device)
            yield device
            with suppress(OSError):
                os.write(device, b"C\r")
        finally:
            os.close(device)

    def _make_raw(self, device: int) -> None:
        try:
            tty.setraw(device)
            if self._speed:
                attributes = termios.tcgetattr(device)
                attributes[4] = attributes[5] = getattr(termios, f"B{self._speed}")
                termios.tcsetattr(device, termios.TCSANOW, attributes)
        except AttributeError as error:
            raise SourceError(f"{self._path}: {self._speed!r} is not a serial speed") from error
        except termios.error as error:
            raise SourceError(f"{self._path}: not a serial port: {error.args[-1]}") from error

    def _open_bus(self, device: int) -> bytes:
        """Close, set the bit rate, open to listen. What came with the last answer is returned."""
        self._ask(device, b"\rC\r")
        self._drain(device)
        if self._ask(device, BIT_RATES[self._bit_rate] + b"\r").startswith(b"\a"):
            raise SourceError(f"{self._path}: the adapter refuses {self._bit_rate} bit/s")
        answer = self._ask(device, b"L\r")
        return self._ask(device, b"O\r") if answer.startswith(b"\a") else answer

    def _ask(self, device: int, command: bytes) -> bytes:
        """What the adapter says to a command; nothing is an answer too, after a moment."""
        try:
            os.write(device, command)
        except OSError as error:
            raise SourceLost(f"{self._path}: {error.strerror}") from error
        return self._read(device) if _ready(device, _ANSWER_S) else b""

    def _drain(self, device: int) -> None:
        """What an adapter left open still had to say is old: away with it."""
        for _ in range(_DRAINS):
            if not _ready(device, _QUIET_S):
                return
            self._read(device)

    def _read(self, device: int) -> bytes:
        try:
            chunk = os.read(device, _CHUNK)
        except BlockingIOError:
            return b""
        except OSError as error:
            raise SourceLost(f"{self._path}: {error.strerror}") from error
        if not chunk:
            raise SourceLost(f"{self._path}: the adapter has gone")
        return chunk


def _ready(device: int, timeout_s: float) -> bool:
    return bool(select.select([device], [], [], timeout_s)[0])
