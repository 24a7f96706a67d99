"""The settings file: the sample is its documentation, and every mistake is named with its key."""

import contextlib
import re
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import settings as run
from hypothesis import strategies as st
from pydantic import BaseModel

from monitor.errors import SettingsError
from monitor.settings import Settings
from monitor.settings_file import parse_settings, read_settings

SAMPLE = Path(__file__).parents[1] / "deploy" / "settings.sample.toml"
TEXT = SAMPLE.read_text("utf-8")
HERE = Path("/somewhere")


def models(
    model: type[BaseModel], seen: dict[str, type[BaseModel]] | None = None
) -> dict[str, type[BaseModel]]:
    """The model and every one it is made of, by name."""
    seen = {} if seen is None else seen
    if model.__name__ not in seen:
        seen[model.__name__] = model
        for field in model.model_fields.values():
            for inner in _inside(field.annotation):
                models(inner, seen)
    return seen


def _inside(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in get_args(annotation) for found in _inside(part)]


KEYS = sorted({(name, key) for name, model in models(Settings).items() for key in model.model_fields})


@pytest.mark.parametrize(("model", "key"), KEYS)
def test_every_key_is_shown_in_the_sample(model: str, key: str) -> None:
    """As a key, commented or not, as a table, or in the list of what a feed may say."""
    shown = rf"(^|[\s{{]){key} = |^#? ?\[+{key}\]|^##   {key} "

    assert re.search(shown, TEXT, re.MULTILINE), f"{model}.{key}"


def test_a_commented_key_has_the_value_it_takes_when_left_out() -> None:
    """With every such line made live nothing changes, defaults that follow other keys included."""
    plain = parse_settings(TEXT, HERE)
    live = parse_settings(_uncommented(TEXT, examples=False), HERE)

    assert live.water_reserve_L == pytest.approx(plain.water_reserve_L)
    assert live.low_water_for_L(3) == pytest.approx(plain.low_water_for_L(3))
    for one, other in zip(plain.banks, live.banks, strict=True):
        assert other.full_voltage_V == pytest.approx(one.full_voltage_V)
        assert other.tail_current_A == pytest.approx(one.tail_current_A)
        assert other.low_voltage_V == pytest.approx(one.low_voltage_V)
        assert other.cell_limits_V == pytest.approx(one.cell_limits_V)
    assert live.inverters[0].most_W == pytest.approx(plain.inverters[0].most_W)
    apart = (
        "water_L", "low_water_L", "full_V", "tail_A", "low_V", "silent_s", "cell_low_V", "cell_high_V",
        "surge_W",
    )  # fmt: skip

    assert _without(live.model_dump(), *apart) == _without(plain.model_dump(), *apart)


def test_the_examples_are_valid_too() -> None:
    live = parse_settings(_uncommented(TEXT, examples=True), HERE)

    assert [s.kind for s in live.sources] == ["can", "can", "mqtt", "recording"]
    assert [w.name for w in live.watermakers] == ["watermaker"]


def test_relative_paths_are_taken_from_the_folder_of_the_file() -> None:
    settings = read_settings(SAMPLE)

    assert settings.store.path == SAMPLE.parent / "marram.db"
    assert settings.sources[1].dbc == SAMPLE.parent / "marram_bms.dbc"  # type: ignore[union-attr]


MARRAM = [
    # The larger of 3 L a head for 3 days and 10 % of the tanks (the trade's rule): 27 L for three, 36 L
    # for four, 45 L for five; or (165 - 8 + 260 - 10) / 10 = 40.7 L. Low water is half as much again.
    (3, 40.7, 61.05),
    (4, 40.7, 61.05),
    (5, 45.0, 67.5),
]


@pytest.mark.parametrize(("heads", "reserve_L", "low_L"), MARRAM)
def test_the_water_reserve_goes_by_the_heads(heads: int, reserve_L: float, low_L: float) -> None:
    settings = read_settings(SAMPLE)

    assert settings.water_reserve_L == pytest.approx(40.7)
    assert settings.water_reserve_for_L(heads) == pytest.approx(reserve_L)
    assert settings.low_water_for_L(heads) == pytest.approx(low_L)


def test_a_reserve_that_is_given_holds_for_any_number() -> None:
    settings = parse_settings(BOAT + "[reserves]\nwater_L = 25\n[limits]\nlow_water_L = 30\n", HERE)

    assert {settings.water_reserve_for_L(heads) for heads in (1, 3, 50)} == {25.0}
    assert {settings.low_water_for_L(heads) for heads in (1, 3, 50)} == {30.0}


@pytest.mark.parametrize(
    ("chemistry", "nominal_V", "cells", "full_V", "low_V"),
    [
        # Makers' and trade figures: 3.2 V nominal, 3.45 V full, 3.0 V cut off a lithium cell;
        # 2.0 V, 2.35 V (absorption) and 2.0 V a lead cell.
        ("lifepo4", 12.8, 4, 13.8, 12.0),
        ("lifepo4", 25.6, 8, 27.6, 24.0),
        ("lifepo4", 51.2, 16, 55.2, 48.0),
        ("lead", 12.0, 6, 14.1, 12.0),
        ("lead", 24.0, 12, 28.2, 24.0),
    ],
)
def test_a_bank_knows_its_cells(
    chemistry: str, nominal_V: float, cells: int, full_V: float, low_V: float
) -> None:
    text = f'[[banks]]\nname = "b"\nchemistry = "{chemistry}"\nnominal_V = {nominal_V}\ncapacity_Ah = 100\n'
    (bank,) = parse_settings('[boat]\nname = "B"\n' + text, HERE).banks

    assert bank.cells == cells
    assert bank.full_voltage_V == pytest.approx(full_V)
    assert bank.low_voltage_V == pytest.approx(low_V)
    assert bank.nominal_Wh == pytest.approx(100 * nominal_V)


BOAT = '[boat]\nname = "B"\n'
CAN = '[[sources]]\nkind = "can"\nname = "bus"\ninterface = "virtual"\nchannel = "v"\n'
MQTT = '[[sources]]\nkind = "mqtt"\nname = "broker"\n'
BANK = '[[banks]]\nname = "house"\ncapacity_Ah = 400\n'
TANK = '[[tanks]]\nname = "tank"\ncapacity_L = 100\n'

MISTAKES = {
    "no boat": ("", "boat: missing"),
    "not TOML": ("[boat", "not TOML"),
    "unknown table": (BOAT + "[extras]\n", "extras: not a setting"),
    "unknown key": (BOAT + "crow = 3\n", "boat.crow: not a setting"),
    "missing key": (BOAT + "[[tanks]]\nname = 't'\n", "tanks[0].capacity_L: missing"),
    "wrong range": (BOAT + "crew = 0\n", "boat.crew: "),
    "not a number": (BOAT + "crew = 'three'\n", "(got 'three')"),
    "NaN": (BOAT + "[limits]\nwater_days = nan\n", "limits.water_days: "),
    "infinite": (BOAT + TANK.replace("100", "inf"), "tanks[0].capacity_L: "),
    "zone": (BOAT + "time_zone = 'Mars/Base'\n", "time_zone 'Mars/Base' is unknown"),
    "latitude": (BOAT + "latitude = 91\n", "boat.latitude: "),
    "reserve": (BOAT + BANK + "reserve_pct = 100\n", "banks[0].reserve_pct: "),
    "bit rate": (BOAT + CAN + "bit_rate = 123\n", "sources[0].bit_rate: "),
    "kind": (BOAT + "[[sources]]\nkind = 'radio'\nname = 'r'\n", "sources[0]: "),
    "dbc without a file": (BOAT + CAN + "speaks = ['dbc']\n", "sources[0]: dbc is the file"),
    "a file without dbc": (BOAT + CAN + "dbc = 'a.dbc'\n", "sources[0]: dbc is the file"),
    "service twice": (BOAT + 2 * '[[services]]\nname = "oil"\nevery_days = 30\n', "'oil' stands there twice"),
    "service of nothing": (BOAT + '[[services]]\nname = "oil"\nevery_h = 30\n', "whose hours or litres"),
    "service without a measure": (
        BOAT + '[[services]]\nname = "oil"\n',
        "expected every_h, every_L or every_days",
    ),
    "name twice": (BOAT + BANK + TANK.replace('tank"', 'house"'), "'house' is also the name of"),
    "feed to nowhere": (
        BOAT + BANK + "feeds = [{ source = 'bus', instance = 0 }]\n",
        "banks[0].feeds[0].source: no source is called 'bus'",
    ),
    "feed that binds to nothing": (
        BOAT + CAN + BANK + "feeds = [{ source = 'bus' }]\n",
        "banks[0].feeds[0]: expected instance, message or signal",
    ),
    "feed without a topic": (
        BOAT + MQTT + BANK + "feeds = [{ source = 'broker' }]\n",
        "banks[0].feeds[0].topic: missing",
    ),
    "feed without a quantity": (
        BOAT + MQTT + BANK + "feeds = [{ source = 'broker', topic = 'a' }]\n",
        "banks[0].feeds[0].quantity: missing",
    ),
    "unknown quantity": (
        BOAT + MQTT + BANK + "feeds = [{ source = 'broker', topic = 'a', quantity = 'zeal' }]\n",
        "banks[0].feeds[0]: quantity 'zeal' is not one of",
    ),
    "no such tank": (
        BOAT + "[[pumps]]\nname = 'p'\ntanks = ['aft']\n",
        "pumps[0].tanks: no tank is called 'aft'",
    ),
    "no such bank": (
        BOAT + "[[chargers]]\nname = 'c'\nkind = 'sun'\ninto = 'moon'\n",
        "chargers[0].into: no bank is called 'moon'",
    ),
    "falling sounding": (
        BOAT + TANK + "sounding = [[0, 0], [50, 60], [40, 80]]\n",
        "tanks[0]: sounding must rise",
    ),
    "sounding over the brim": (BOAT + TANK + "sounding = [[0, 0], [100, 120]]\n", "none above capacity_L"),
    "all unusable": (BOAT + TANK + "unusable_L = 100\n", "unusable_L must be less than capacity_L"),
    "cut-in above cut-out": (
        BOAT
        + "[[pumps]]\nname = 'p'\n"
        + "accumulator = { volume_L = 1, precharge_bar = 1, cut_in_bar = 3, cut_out_bar = 2 }\n",
        "pumps[0].accumulator: cut_in_bar must be below cut_out_bar",
    ),
    "a feed's device": (
        BOAT + CAN + BANK + "feeds = [{ source = 'bus', instance = 0, device = 'xyz' }]\n",
        "banks[0].feeds[0].device: ",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_every_mistake_is_named_with_its_key(mistake: str) -> None:
    text, expected = MISTAKES[mistake]

    with pytest.raises(SettingsError) as caught:
        parse_settings(text, HERE)

    assert [line for line in caught.value.mistakes if expected in line], caught.value.mistakes


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(SettingsError) as caught:
        parse_settings(BOAT + "crew = 0\ncrow = 1\n" + BANK + "reserve_pct = -1\n", HERE)

    assert len(caught.value.mistakes) == 3


def test_a_file_that_is_not_there() -> None:
    with pytest.raises(SettingsError, match=r"nowhere\.toml: cannot be read"):
        read_settings(HERE / "nowhere.toml")


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    file = tmp_path / "boat.toml"
    file.write_bytes(b"\xff\xfe\x00")

    with pytest.raises(SettingsError, match="cannot be read"):
        read_settings(file)


LINES = TEXT.splitlines()


@run(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(LINES) - 1), st.sampled_from(["", "x = 1", "[boat]", "= 3", "[[banks]]"])
        )
    )
)
def test_a_spoilt_sample_is_either_valid_or_told(damage: list[tuple[int, str]]) -> None:
    lines = list(LINES)
    for at, line in damage:
        lines[at] = line
    with contextlib.suppress(SettingsError):
        parse_settings("\n".join(lines), HERE)


EXAMPLE = "for example"


def _uncommented(text: str, *, examples: bool) -> str:
    """The sample with its commented keys made live: the defaults, or the examples too.

    A prose line (##) with "for example" makes the commented lines below it examples.
    """
    out: list[str] = []
    example = prose = False
    for line in text.splitlines():
        if line.startswith("##"):
            example = EXAMPLE in line or (prose and example)
        elif line.startswith("# "):
            line = line.removeprefix("# ") if examples or not example else line
        else:
            example = False
        prose = line.startswith("##")
        out.append(line)
    return "\n".join(out)


def _without(value: Any, *keys: str) -> Any:
    if isinstance(value, dict):
        return {k: _without(v, *keys) for k, v in value.items() if k not in keys}
    if isinstance(value, list):
        return [_without(v, *keys) for v in value]
    return value


def test_the_dbc_file_beside_the_sample_is_the_simulated_batterys() -> None:
    """The sample passes `ebbwatch check` where it lies, and describes what the demo's BMS says."""
    there = SAMPLE.parent / "marram_bms.dbc"

    assert there.read_bytes() == (SAMPLE.parents[1] / "simulators" / "marram_bms.dbc").read_bytes()
