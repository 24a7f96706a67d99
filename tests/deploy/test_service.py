"""The unit as systemd itself judges it: no complaint, and hardly anything exposed.

systemd-analyze(1) `verify` and `security`: the exposure is a figure from 0 to 10; ours is at most 2.
"""

import configparser
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

UNIT = Path(__file__).parents[2] / "deploy" / "ebbwatch.service"
COMMAND = "/opt/ebbwatch/.venv/bin/ebbwatch"


def analyze(*arguments: str) -> subprocess.CompletedProcess[str]:
    program = shutil.which("systemd-analyze")
    if program is None:
        pytest.fail("systemd-analyze is missing: install the Debian package systemd")
    return subprocess.run([program, *arguments], capture_output=True, text=True, timeout=60, check=False)


def test_systemd_verifies_it_without_a_word(tmp_path: Path) -> None:
    """The command is not installed where the tests run: an interpreter stands in for it."""
    text = UNIT.read_text("utf-8")
    assert text.count(f"ExecStart={COMMAND} ") == 1
    copy = tmp_path / UNIT.name
    copy.write_text(text.replace(COMMAND, sys.executable), "utf-8")

    verdict = analyze("verify", "--man=no", str(copy))

    assert (verdict.returncode, verdict.stdout, verdict.stderr) == (0, "", "")


def test_systemd_would_complain_of_a_mistake(tmp_path: Path) -> None:
    """The check above can fail."""
    copy = tmp_path / UNIT.name
    copy.write_text(UNIT.read_text("utf-8").replace("Type=notify", "Type=notfy"), "utf-8")

    assert "notfy" in analyze("verify", "--man=no", str(copy)).stderr


def test_it_is_exposed_to_two_of_ten_at_most() -> None:
    verdict = analyze("security", "--offline=true", "--no-pager", "--threshold=20", str(UNIT))

    assert verdict.returncode == 0, verdict.stdout[-2000:] + verdict.stderr


def test_it_says_what_the_daemon_relies_on() -> None:
    unit = configparser.RawConfigParser(strict=False)
    unit.optionxform = str  # type: ignore[assignment, method-assign]
    unit.read(UNIT, "utf-8")
    service = unit["Service"]

    assert (service["Type"], service["Restart"], service["StateDirectory"]) == (
        "notify",
        "always",
        "ebbwatch",
    )
    assert service["ExecStart"].endswith("--listen 127.0.0.1:8470")
    assert float(service["WatchdogSec"]) >= 10
    assert set(service["RestrictAddressFamilies"].split()) == {"AF_UNIX", "AF_INET", "AF_INET6", "AF_CAN"}
    assert "ProcSubset" not in service, "the kernel's boot id stands in /proc/sys"
