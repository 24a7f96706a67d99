"""The written settings file: what is read from it equals what was meant, and nothing is ever half written.

TOML 1.0.0 is read by the standard library's own reader.
"""

import os
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import SettingsError
from monitor.settings_file import parse_settings
from monitor.settings_writer import checked, to_toml, unset, write_settings
from simulators.packing import DBC
from tests.watched import SAMPLE

NOW = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
TABLES: dict[str, Any] = {
    "boat": {"name": 'The "Tern"\\ of Ría', "crew": 2},
    "sources": [
        {"kind": "can", "name": "bus", "interface": "virtual", "channel": "a", "speaks": ["nmea2000"]}
    ],
    "banks": [{"name": "house", "capacity_Ah": 100, "feeds": [{"source": "bus", "instance": 0}]}],
}


@pytest.mark.parametrize("language", [None, "en", "es", "fr"])
def test_the_sample_written_anew_means_the_same(language: str | None) -> None:
    text = SAMPLE.replace("marram_bms.dbc", str(DBC))
    again = to_toml(tomllib.loads(text), language)

    assert tomllib.loads(again) == tomllib.loads(text)
    assert parse_settings(again, Path()) == parse_settings(text, Path())


LEAVES = st.one_of(
    st.booleans(), st.integers(-(2**53), 2**53), st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=["Cs"])),
)  # fmt: skip
ROWS = st.dictionaries(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=8),
    st.one_of(LEAVES, st.lists(LEAVES, max_size=3), st.dictionaries(st.text("a\"\\ é", max_size=3), LEAVES)),
    max_size=4,
)  # fmt: skip


@given(ROWS, st.lists(ROWS, min_size=1, max_size=2))
def test_whatever_is_written_is_read_again(table: dict[str, Any], rows: list[dict[str, Any]]) -> None:
    tables = {"one": table, "many": rows}
    assert tomllib.loads(to_toml(tables)) == tables


def test_every_mistake_is_named_with_its_key(tmp_path: Path) -> None:
    wrong = {
        **TABLES,
        "banks": [{"name": "bus", "capacity_Ah": -1, "feeds": [{"source": "bus", "instance": 0}]}],
        "tanks": [{"name": "bow"}],
    }
    with pytest.raises(SettingsError) as caught:
        write_settings(tmp_path / "boat.toml", wrong, NOW)
    assert [m.partition(":")[0] for m in caught.value.mistakes] == [
        "banks[0].capacity_Ah",
        "tanks[0].capacity_L",
    ]
    unbound = {
        **TABLES,
        "tanks": [{"name": "bow", "capacity_L": 10, "feeds": [{"source": "bus", "message": "x"}]}],
    }
    with pytest.raises(SettingsError, match=r"tanks\[0\].feeds\[0\]: nothing on 'bus' fits it"):
        write_settings(tmp_path / "boat.toml", unbound, NOW)
    assert list(tmp_path.iterdir()) == []


def test_the_file_before_is_kept_aside_and_named(tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    assert write_settings(path, TABLES, NOW) is None
    path.write_text('[boat]\nname = "Old"\n')
    aside = write_settings(path, TABLES, NOW, "es")

    assert aside == tmp_path / "boat.toml.before-2026-12-01"
    assert aside.read_text() == '[boat]\nname = "Old"\n'
    assert tomllib.loads(path.read_text("utf-8")) == TABLES
    path.write_text("")
    assert write_settings(path, TABLES, NOW) == tmp_path / "boat.toml.before-2026-12-01-2"
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_a_file_with_sources_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    write_settings(path, TABLES, NOW)
    before = path.read_bytes()
    with pytest.raises(SettingsError, match="left as it is"):
        write_settings(path, TABLES, NOW)
    assert path.read_bytes() == before
    assert unset(path) is None


def test_a_folder_that_takes_nothing_is_named_and_nothing_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ENOSPC as a full disk says it (errno(3)); root may write to a read-only folder, so it is said, too."""
    path = tmp_path / "boat.toml"
    path.write_text('[boat]\nname = "Old"\n')
    for number in (28, 30):

        def refuse(handle: int, number: int = number) -> None:
            raise OSError(number, os.strerror(number))

        monkeypatch.setattr(os, "fsync", refuse)
        with pytest.raises(SettingsError, match=rf"boat.toml: cannot be written: {os.strerror(number)}"):
            write_settings(path, TABLES, NOW)
        assert [p.name for p in tmp_path.iterdir()] == ["boat.toml"]
        assert path.read_text() == '[boat]\nname = "Old"\n'


def test_what_a_file_without_sources_says_is_taken_over(tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    assert unset(path) == {}
    path.write_text("")
    assert unset(path) == {}
    path.write_text("[limits]\nenergy_days = 2\n[boat]\ncrew = 3\n")
    assert unset(path) == {"limits": {"energy_days": 2}, "boat": {"crew": 3}}
    path.write_text("[boat]\ncrew = 300\n")
    with pytest.raises(SettingsError, match=r"boat\.crew"):
        unset(path)
    path.write_text("boat =")
    with pytest.raises(SettingsError, match="not TOML"):
        unset(path)


def test_checked_settings_equal_those_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    write_settings(path, TABLES, NOW)
    assert checked(TABLES, tmp_path) == parse_settings(path.read_text("utf-8"), tmp_path)
