"""The place as detected: the shore, the engine and the position tell it, a generator does not."""

from array import array
from pathlib import Path

import pytest

from monitor.pipeline.mode import SETTLE_MIN, ModeKeeper
from monitor.records import Column
from monitor.settings_file import parse_settings

BOAT = """
[boat]
name = "B"
[[supplies]]
name = "pedestal"
[[supplies]]
name = "set's output"
kind = "generator"
[[engines]]
name = "main engine"
[[engines]]
name = "set"
drives = "generator"
[[instruments]]
name = "position"
"""
SHORE = {"pedestal ac voltage": 231.0}
SET = {"set's output ac voltage": 232.0, "set speed": 3040.0}
ENGINE = {"main engine speed": 1800.0}


def detected(said: dict[str, float], knots: float = 0.0, minutes: int = SETTLE_MIN + 5) -> str:
    """The place after so many minutes of the same, going due south."""
    keeper = ModeKeeper(parse_settings(BOAT, Path("/boat")))
    for n in range(minutes):
        at_s = 60.0 * n
        latitude = 42.0 - knots * at_s / 3600 / 60
        values = {**said, "position latitude": latitude, "position longitude": -9.0}
        columns = {name: Column(array("d", [at_s]), array("d", [value])) for name, value in values.items()}
        keeper.minute(at_s, None, columns)
    return keeper.mode.place


@pytest.mark.parametrize(
    ("said", "knots", "place"),
    [
        ({}, 0.0, "at anchor"),
        (SHORE, 0.0, "alongside"),
        (SET, 0.0, "at anchor"),
        (SHORE | SET, 0.0, "alongside"),
        (ENGINE, 0.0, "at anchor"),  # charging
        ({}, 5.0, "sailing"),
        (ENGINE, 5.0, "motoring"),
        (SET, 5.0, "sailing"),
        (ENGINE | SET, 5.0, "motoring"),
    ],
)
def test_the_place_by_what_runs_and_how_fast_she_goes(
    said: dict[str, float], knots: float, place: str
) -> None:
    """Common sense of the trade: a generator at anchor is no pedestal, and drives no propeller."""
    assert detected(said, knots) == place


def test_a_change_is_believed_when_it_has_held() -> None:
    assert detected(SHORE, minutes=SETTLE_MIN - 1) == "at anchor"
    assert detected(SHORE, minutes=SETTLE_MIN) == "alongside"
