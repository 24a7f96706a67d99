"""`ebbwatch simulate`: it says what it tells, writes its four files, and names what it knows."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.commands.line import app
from monitor.commands.simulate import simulate_into
from monitor.errors import SettingsError
from monitor.settings_file import read_settings
from monitor.sources.captures import merge
from simulators.scenarios import SCENARIOS


def test_the_title_comes_first_and_the_files_can_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    simulate_into("passage", 0.01, 1, tmp_path)

    assert capsys.readouterr().out.splitlines()[0] == SCENARIOS["passage"].title
    assert {path.name for path in tmp_path.iterdir()} == {
        "settings.toml", "marram_bms.dbc", "bus.log", "mqtt.jsonl", "truth.jsonl",
    }  # fmt: skip
    assert read_settings(tmp_path / "settings.toml").boat.name == "Marram"
    times = [item.at_s for item in merge([tmp_path / "bus.log", tmp_path / "mqtt.jsonl"])]
    assert times == sorted(times)
    assert times[-1] - times[0] == pytest.approx(864, abs=2)


def test_an_unknown_scenario_is_told_in_one_line_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(SettingsError) as wrong:
        simulate_into("quiet-harbour", 1, 1, tmp_path / "out")

    (line,) = wrong.value.mistakes
    assert "'quiet-harbour'" in line
    assert not (tmp_path / "out").exists()
    assert all(f"{name} ({row.title})" in line for name, row in SCENARIOS.items())


def test_the_help_lists_every_scenario_with_its_title() -> None:
    told = CliRunner().invoke(app, ["simulate", "--help"], env={"COLUMNS": "200"}).output

    for name, row in SCENARIOS.items():
        assert f"{name}: {row.title}" in told
