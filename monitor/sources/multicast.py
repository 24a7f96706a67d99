"""CAN frames in UDP multicast datagrams: the bus is python-can's, the reader is our own.

python-can packs each frame as one msgpack map; its reader costs several times ours a frame and
raises at the first datagram that is none. Ours counts that one and goes on.
"""

import socket

import msgpack

from monitor.records import Frame
from monitor.sources.health import Health
from monitor.sources.inbox import Item

_LARGEST_DATAGRAM = 4096
_MOST_AT_ONCE = 512
_HIGHEST = {False: 0x7FF, True: 0x1FFFFFFF}


class Datagrams:
    """Reads whatever waits on a bus's socket; counts in `health` what is no data frame."""

    def __init__(self, source: str, handle: socket.socket, health: Health) -> None:
        self._source = source
        self._health = health
        self._socket = handle
        self._socket.setblocking(False)

    def read(self, at_s: float) -> list[Item]:
        """All that waits, at most a few hundred frames, without waiting for more."""
        frames: list[Item] = []
        receive = self._socket.recv
        for _ in range(_MOST_AT_ONCE):
            try:
                datagram = receive(_LARGEST_DATAGRAM)
            except BlockingIOError:
                break
            try:
                frame = self._frame(at_s, msgpack.unpackb(datagram))
            except (ValueError, KeyError, TypeError, msgpack.UnpackException):
                self._health.unreadable += 1
                continue
            if frame is not None:
                frames.append(frame)
        return frames

    def _frame(self, at_s: float, row: dict[str, object]) -> Frame | None:
        can_id, data, extended = row["arbitration_id"], row["data"], row["is_extended_id"]
        if type(can_id) is not int or type(data) is not bytes or type(extended) is not bool:
            raise TypeError(row)
        if row["is_error_frame"]:
            self._health.error_frames += 1
            return None
        if row["is_remote_frame"]:
            self._health.remote_frames += 1
            return None
        if not 0 <= can_id <= _HIGHEST[extended] or len(data) > 8 or row["is_fd"]:
            raise ValueError(row)
        return tuple.__new__(Frame, (at_s, self._source, can_id, data, extended))
