"""Another program run without a shell: it is given so long, then killed with all it has started."""

import contextlib
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence

from monitor.errors import DeliveryError

SLICE_S = 0.05
REAPED_S = 1.0


def run(
    argv: Sequence[str], *, timeout_s: float, given: bytes = b"", wanted: Callable[[], bool] = lambda: True
) -> int | None:
    """Its exit code; None where it was killed because it was no longer `wanted`. `given` is its input.

    Raises DeliveryError where it cannot be started or does not end in time.
    """
    with tempfile.TemporaryFile() as file:  # A pipe could fill and hold us up.
        file.write(given)
        file.seek(0)
        try:
            process = subprocess.Popen(
                argv,
                stdin=file,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise DeliveryError(f"{argv[0]}: cannot be started: {why}") from error
    end_s = time.monotonic() + timeout_s
    while True:
        with contextlib.suppress(subprocess.TimeoutExpired):
            return process.wait(SLICE_S)
        late = time.monotonic() > end_s
        if late or not wanted():
            _kill(process)
            if late:
                raise DeliveryError(f"{argv[0]}: does not end within {timeout_s:g} s")
            return None


def _kill(process: "subprocess.Popen[bytes]") -> None:
    with contextlib.suppress(OSError):
        os.killpg(process.pid, signal.SIGKILL)
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(REAPED_S)
