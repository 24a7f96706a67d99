"""A real MQTT broker for the tests: mosquitto, on a free port of loopback, with any configuration."""

import os
import pwd
import shutil
import socket
import subprocess
import threading
from pathlib import Path

import pytest

_START_S = 15.0


class Mosquitto:
    """Started on `with`; `kill` takes it away at once and `start` brings it back on the same port.

    `lines` are added to its configuration; without any, everybody may connect. `listener` lines
    that must follow the port (TLS files) belong there too.
    """

    def __init__(self, folder: Path, *lines: str) -> None:
        self.port = free_port()
        self._configuration = folder / f"mosquitto-{self.port}.conf"
        own_user = pwd.getpwuid(os.getuid()).pw_name
        text = [f"listener {self.port} 127.0.0.1", f"user {own_user}", "log_dest stderr", "log_type all"]
        self._configuration.write_text("\n".join([*text, *(lines or ("allow_anonymous true",))]) + "\n")
        self._process: subprocess.Popen[str] | None = None
        self.log: list[str] = []
        self._said = threading.Condition()

    def __enter__(self) -> "Mosquitto":
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def start(self) -> None:
        """Returns when it accepts connections."""
        self.log.clear()
        self._process = subprocess.Popen(
            [_program(), "-c", str(self._configuration)], stderr=subprocess.PIPE, text=True
        )
        self._reader = threading.Thread(target=self._read, args=(self._process,), daemon=True)
        self._reader.start()
        if not self.wait_for(" running"):
            self.kill()
            pytest.fail("mosquitto does not start:\n" + "\n".join(self.log))

    def wait_for(self, text: str, timeout_s: float = _START_S) -> bool:
        """Wait until its log holds `text`."""
        with self._said:
            return self._said.wait_for(lambda: any(text in line for line in self.log), timeout_s)

    def kill(self) -> None:
        """As when the power of the broker goes: no farewell to anybody."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            self._reader.join()
            assert process.stderr is not None
            process.stderr.close()

    def _read(self, process: "subprocess.Popen[str]") -> None:
        assert process.stderr is not None
        for line in process.stderr:
            with self._said:
                self.log.append(line.rstrip())
                self._said.notify_all()


def _program() -> str:
    path = os.environ.get("PATH", "") + ":/usr/sbin:/usr/local/sbin"
    found = shutil.which("mosquitto", path=path)
    if found is None:
        pytest.fail("the MQTT broker is missing: install the Debian package mosquitto")
    return found


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
