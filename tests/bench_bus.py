"""Loads and meters for a CAN bus: a full bus through a serial adapter or through UDP multicast.

A 250 kbit/s bus carries at most 1,908 frames/s of 29-bit frames with 8 bytes (131 bits each, no
stuffing: 250,000 / 131). The frames are golden ones of NMEA 2000 messages in the mixture of a
boat's backbone; battery, tank, pressure, temperature, engine, switches, attitude and position.
"""

import os
import select
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from itertools import cycle
from pathlib import Path
from typing import NamedTuple

import can

FULL_BUS_FRAMES_PER_S = 250_000 / 131
GROUP = "239.74.163.2"
PORT = 43990
_STEP_S = 0.004

# Source address 0x23; the payloads decode to plausible values (13.28 V, 62.5 %, 1500 rpm ...).
_SINGLE = [
    (0x19F21423, "00300584FF777407"),  # 127508 battery 0
    (0x19F21423, "01F104FF7FFFFFFF"),  # 127508 battery 1
    (0x19F21123, "10093DB80B0000FF"),  # 127505 fresh water tank 0
    (0x09F20023, "007017FFFF7FFFFF"),  # 127488 engine rapid
    (0x15FD0823, "010007436CDF6BFF"),  # 130312 temperature
    (0x0DF11923, "01FF7F5D01D2F7FF"),  # 127257 attitude
    (0x09F80123, "8885CE19D05D3303"),  # 129025 position
    (0x0DF20D23, "00F1FFFFFFFFFFFF"),  # 127501 switch bank
    (0x19F30723, "FF0085002EFBFFFF"),  # 127751 DC point
    (0x0DF50B23, "0180020000F401FF"),  # 128267 depth, which nobody here reads
]
_FAST = [
    (0x19F21223, ["000B0700004C6226", "010714001801FFFF"]),  # 127506 DC detail
    (0x09F20123, ["001A00AC0D2F0EF3", "01898C05190020C9", "024300FFFFFFFFFF", "0300000000231EFF"]),  # 127489
]


class Sent(NamedTuple):
    """What a load has sent, and how late its worst step was against the plan."""

    frames: int
    seconds: float
    worst_lateness_s: float


def mixed_frames() -> Iterator[tuple[int, bytes]]:
    """Identifiers and data without end: single frames nine to one, fast packets in sequence."""
    single = cycle([(can_id, bytes.fromhex(data)) for can_id, data in _SINGLE])
    sequence = 0
    for can_id, parts in cycle(_FAST):
        for _ in range(9 * len(parts)):
            yield next(single)
        for part in parts:
            data = bytes.fromhex(part)
            yield can_id, bytes([data[0] | sequence << 5]) + data[1:]
        sequence = (sequence + 1) % 8


def saturate_slcan(pty_fd: int, seconds: float) -> Sent:
    """Play a serial CAN adapter on a full bus: `pty_fd` is the master side of a pseudo-terminal.

    What the other side writes (its opening commands) is read and answered with "done".
    """

    def send(frames: list[tuple[int, bytes]]) -> None:
        if select.select([pty_fd], [], [], 0)[0]:
            os.write(pty_fd, b"\r" * os.read(pty_fd, 4096).count(b"\r"))
        text = "".join(f"T{can_id:08X}{len(data)}{data.hex().upper()}\r" for can_id, data in frames)
        left = text.encode()
        while left:
            left = left[os.write(pty_fd, left) :]

    return _pace(seconds, send)


def saturate_multicast(channel: str = GROUP, port: int = PORT, seconds: float = 60.0) -> Sent:
    """Send a full bus with python-can through UDP multicast that does not leave the machine."""
    with can.Bus(channel, "udp_multicast", ignore_config=True, port=port, hop_limit=0, fd=False) as bus:

        def send(frames: list[tuple[int, bytes]]) -> None:
            for can_id, data in frames:
                bus.send(can.Message(arbitration_id=can_id, data=data, is_extended_id=True))

        return _pace(seconds, send)


def bare_multicast_receiver_cost(seconds: float, channel: str = GROUP, port: int = PORT + 1) -> float:
    """What python-can alone costs to receive a full bus, in a process that does nothing else.

    As a share of one core. Raises RuntimeError where it lost frames, since then it did less.
    """
    command = [sys.executable, "-m", "tests.bench_bus", channel, str(port)]
    root = Path(__file__).parent.parent
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=root
    ) as receiver:
        assert receiver.stdin is not None
        assert receiver.stdout is not None
        receiver.stdout.readline()
        meter = CpuMeter(receiver.pid)
        sent = saturate_multicast(channel, port, seconds)
        share = meter.share()
        receiver.stdin.close()
        received = int(receiver.stdout.readline())
    if received < sent.frames:
        raise RuntimeError(f"the bare receiver got {received} of {sent.frames} frames")
    return share


class CpuMeter:
    """The processor time of a process as a share of one core, from here to `share`."""

    def __init__(self, pid: int) -> None:
        self._stat = Path(f"/proc/{pid}/stat")
        self._from_s = self._cpu_s(), time.monotonic()

    def share(self) -> float:
        cpu_s, at_s = self._from_s
        return (self._cpu_s() - cpu_s) / (time.monotonic() - at_s)

    def _cpu_s(self) -> float:
        """User and system time of all its threads: fields 14 and 15 of proc(5) stat."""
        fields = self._stat.read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def allow_multicast(group: str = GROUP) -> None:
    """Where the machine has no way for multicast at all, try to give loopback one."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((group, PORT))
        except OSError:
            subprocess.run(["ip", "route", "add", "224.0.0.0/4", "dev", "lo"], check=False)


def _pace(seconds: float, send: Callable[[list[tuple[int, bytes]]], None]) -> Sent:
    """Send at the full bus's rate, a few milliseconds' worth at a time."""
    frames = mixed_frames()
    total = round(seconds * FULL_BUS_FRAMES_PER_S)
    sent, worst_s = 0, 0.0
    start_s = time.monotonic()
    while sent < total:
        due = min(total, int((time.monotonic() - start_s) * FULL_BUS_FRAMES_PER_S))
        worst_s = max(worst_s, (due - sent) / FULL_BUS_FRAMES_PER_S)
        send([next(frames) for _ in range(due - sent)])
        sent = due
        select.select([], [], [], _STEP_S)
    return Sent(sent, time.monotonic() - start_s, worst_s)


def _receive(channel: str, port: int) -> None:
    """The bare receiver: python-can's own loop, counting, until its standard input ends."""
    with can.Bus(channel, "udp_multicast", ignore_config=True, port=port, hop_limit=0, fd=False) as bus:
        print("ready", flush=True)
        count, quiet = 0, False
        while not quiet:
            if bus.recv(0.5) is not None:
                count += 1
            else:
                quiet = bool(select.select([sys.stdin], [], [], 0)[0])
        print(count, flush=True)


if __name__ == "__main__":
    _receive(sys.argv[1], int(sys.argv[2]))
