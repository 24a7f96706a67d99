"""The computer's own clocks, behind a Protocol so that tests and the demo can bring others."""

import ctypes
import time
from typing import Protocol

TIME_ERROR = 5
"""What adjtimex(2) says while the wall clock is not synchronised."""


class Clock(Protocol):
    """Handed in, never read from a global: tests and replays bring their own."""

    def elapsed_s(self) -> float:
        """Seconds that never jump, counted through suspend."""

    def wall_s(self) -> float:
        """UTC seconds since 1970 as the computer believes them."""


class SystemClock:
    """CLOCK_BOOTTIME and the computer's wall clock."""

    def elapsed_s(self) -> float:
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def wall_s(self) -> float:
        return time.time()


def network_time_synchronised() -> bool:
    """Whether the kernel holds its wall clock to be synchronised (adjtimex(2): not TIME_ERROR)."""
    libc = ctypes.CDLL(None, use_errno=True)
    if not hasattr(libc, "adjtimex"):
        return False
    state: int = libc.adjtimex(ctypes.create_string_buffer(512))
    return state not in (-1, TIME_ERROR)
