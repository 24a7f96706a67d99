"""`ebbwatch run` where nothing is set: the guide answers, ends in order, and stays on loopback."""

import subprocess
import sys
from pathlib import Path

from tests.brokers import free_port
from tests.commands.test_run import ROOT, ends_in_order, page, process
from tests.sources.listening import eventually


def test_without_a_settings_file_the_guide_answers_and_ends_in_order(tmp_path: Path) -> None:
    port = free_port()
    arguments = ("run", "--settings", "new/boat.toml", "--listen", f"127.0.0.1:{port}")
    with process(tmp_path, *arguments) as started:
        assert eventually(lambda: "Which language shall she speak?" in page(port, "/water"), 90)
        said = ends_in_order(started, tmp_path)

    assert "new/boat.toml has no source yet" in said
    assert not (tmp_path / "new/boat.toml").exists()


def test_without_a_password_it_does_not_listen_beyond_loopback(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "monitor", "run", "--settings", str(tmp_path / "boat.toml")]
    said = subprocess.run(
        [*command, "--listen", f"0.0.0.0:{free_port()}"], capture_output=True, text=True, cwd=ROOT, timeout=90
    )

    assert said.returncode == 2, said.stderr
    assert "no password is set" in said.stderr
