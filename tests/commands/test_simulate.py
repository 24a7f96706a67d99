"""`ebbwatch simulate`: four files, the same for a seed, other for another, and fit to be replayed."""

import json
from collections import Counter
from pathlib import Path

import pytest

from monitor.settings_file import read_settings
from monitor.sources.captures import Skipped, merge
from tests.commands.conftest import Ebbwatch
from tests.commands.marram import START_UTC_S

FILES = ("settings.toml", "bus.log", "mqtt.jsonl", "truth.jsonl")
DAYS = 0.02


def simulated(ebbwatch: Ebbwatch, out: Path, seed: int) -> dict[str, bytes]:
    said = ebbwatch("simulate", "slow-leak", "--days", DAYS, "--seed", seed, "--out", out)
    assert (said.code, said.mistakes) == (0, [])
    return {name: (out / name).read_bytes() for name in FILES}


def test_a_seed_gives_the_same_files_and_another_seed_another_life(
    ebbwatch: Ebbwatch, tmp_path: Path
) -> None:
    one, again, other = (
        simulated(ebbwatch, tmp_path / name, seed) for name, seed in (("a", 7), ("b/c", 7), ("d", 8))
    )

    assert one == again
    assert one["bus.log"] != other["bus.log"]
    assert one["truth.jsonl"] != other["truth.jsonl"]
    assert one["settings.toml"] == other["settings.toml"]


def test_the_files_are_what_they_are_called(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    simulated(ebbwatch, tmp_path, 1)

    settings = read_settings(tmp_path / "settings.toml")
    assert settings.boat.name == "Marram"
    assert ebbwatch("check", "--settings", tmp_path / "settings.toml").code == 0
    skipped = Skipped()
    items = list(merge([tmp_path / "bus.log", tmp_path / "mqtt.jsonl"], skipped))
    assert skipped == Skipped()
    heard = Counter(item.source for item in items)
    assert set(heard) == {"can0", "can1", "broker"}
    assert items[0].at_s == pytest.approx(START_UTC_S, abs=2)
    assert items[-1].at_s == pytest.approx(START_UTC_S + DAYS * 86400, abs=2)
    truth = [json.loads(line) for line in (tmp_path / "truth.jsonl").read_text().splitlines()]
    assert truth
    assert all("time" in line for line in truth)
