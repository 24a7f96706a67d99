"""The daemon says to systemd what the unit waits for (sd_notify(3)), and leaves when it is told to."""

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

from tests.brokers import free_port

SETTINGS = """
[boat]
name = "Test"
[[sources]]
kind = "can"
name = "bus"
interface = "virtual"
channel = "nothing"
[[banks]]
name = "house"
capacity_Ah = 400
feeds = [{ source = "bus", instance = 0 }]
"""
START_S = 60.0


def run(settings: Path, **environment: str) -> "subprocess.Popen[str]":
    arguments = ["run", "--settings", str(settings), "--listen", f"127.0.0.1:{free_port()}"]
    return subprocess.Popen(
        [sys.executable, "-m", "monitor", *arguments],
        env={**os.environ, **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def test_it_is_ready_keeps_the_watchdog_quiet_and_leaves_in_order(tmp_path: Path) -> None:
    """READY=1 and then WATCHDOG=1 again and again; after SIGTERM it closes the store and ends with success
    (killed by the signal, it would have closed nothing)."""
    settings = tmp_path / "boat.toml"
    settings.write_text(SETTINGS, "utf-8")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.settimeout(START_S)
        with run(settings, NOTIFY_SOCKET=str(tmp_path / "notify")) as watch:
            try:
                told = [manager.recv(100).decode() for _ in range(3)]
            finally:
                watch.send_signal(signal.SIGTERM)
            said, _ = watch.communicate(timeout=START_S)

    assert told[0].startswith("READY=1")
    assert told[1:] == ["WATCHDOG=1", "WATCHDOG=1"]
    assert watch.returncode == 0, said


def test_a_mistake_in_the_settings_is_exit_2(tmp_path: Path) -> None:
    """RestartPreventExitStatus=2: it waits for a person instead of starting for ever."""
    settings = tmp_path / "boat.toml"
    settings.write_text(SETTINGS + "sail = 3\n", "utf-8")

    with run(settings) as watch:
        said, _ = watch.communicate(timeout=START_S)

    assert watch.returncode == 2, said
    assert "sail" in said
    assert "Traceback" not in said
