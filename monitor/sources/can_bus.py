"""CAN through python-can: socketcan, virtual, and UDP multicast. It listens and never transmits.

A socketcan interface is made listen-only where it is brought up (`deploy/`), not by a program.
"""

import os
import select
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import can

from monitor.errors import SourceLost
from monitor.records import Frame
from monitor.settings import CanSource
from monitor.sources.inbox import Inbox
from monitor.sources.multicast import Datagrams
from monitor.sources.thread import FIRST_RETRY_S, GATHER_S, IDLE_S, SourceThread, told
from monitor.system_clock import Clock

_MOST_AT_ONCE = 512
_RECEIVE_BUFFER = 1 << 20


class CanBusThread(SourceThread):
    """One bus that python-can opens."""

    def __init__(
        self, settings: CanSource, inbox: Inbox, clock: Clock, *, first_retry_s: float = FIRST_RETRY_S
    ) -> None:
        super().__init__(settings.name, "can", inbox, clock, first_retry_s=first_retry_s)
        self._settings = settings

    def _listen(self) -> None:
        try:
            with self._open() as bus:
                if self._settings.interface == "udp_multicast":
                    self._listen_to_datagrams(bus)
                else:
                    self._listen_to_messages(bus)
        except (can.CanError, OSError) as error:
            where = f"{self._settings.interface} {self._settings.channel}"
            raise SourceLost(f"{where}: {told(error)}") from error

    @contextmanager
    def _open(self) -> Iterator[can.BusABC]:
        options: dict[str, Any] = {}
        if self._settings.interface == "udp_multicast":
            options = {"hop_limit": 0, "fd": False}
            if self._settings.port is not None:
                options["port"] = self._settings.port
        bus = can.Bus(self._settings.channel, self._settings.interface, ignore_config=True, **options)
        try:
            yield bus
        finally:
            bus.shutdown()

    def _listen_to_messages(self, bus: can.BusABC) -> None:
        self._connected()
        while not self._stopping.is_set():
            messages = list(_waiting(bus))
            at_s = self._clock.elapsed_s()
            self._deliver([frame for m in messages if (frame := self._frame(at_s, m))], at_s)
            if messages:
                self._stopping.wait(GATHER_S)

    def _frame(self, at_s: float, message: can.Message) -> Frame | None:
        """None, and counted, for what is no data frame of classic CAN."""
        if message.is_error_frame:
            self.health.error_frames += 1
        elif message.is_remote_frame:
            self.health.remote_frames += 1
        elif message.is_fd:
            self.health.unreadable += 1
        else:
            can_id, data = message.arbitration_id, bytes(message.data)
            return Frame(at_s, self._name, can_id, data, message.is_extended_id)
        return None

    def _listen_to_datagrams(self, bus: can.BusABC) -> None:
        with socket.socket(fileno=os.dup(bus.fileno())) as handle:
            handle.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _RECEIVE_BUFFER)
            datagrams = Datagrams(self._name, handle, self.health)
            self._connected()
            while not self._stopping.is_set():
                if not select.select([handle], [], [], IDLE_S)[0]:
                    continue
                at_s = self._clock.elapsed_s()
                self._deliver(datagrams.read(at_s), at_s)
                self._stopping.wait(GATHER_S)


def _waiting(bus: can.BusABC) -> Iterator[can.Message]:
    """What a bus has, after a moment's wait for the first."""
    timeout_s = IDLE_S
    for _ in range(_MOST_AT_ONCE):
        message = bus.recv(timeout_s)
        if message is None:
            return
        yield message
        timeout_s = 0.0
