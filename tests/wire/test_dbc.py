"""Signals through a DBC file of our own invention, values computed by hand from its scales."""

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.errors import SettingsError, UndecodableError
from monitor.wire.dbc import DbcBook

BATTERY = """VERSION ""
NS_ :
BS_:
BU_: BMS Watch
BO_ 853 Pack: 6 BMS
 SG_ Voltage : 0|16@1+ (0.01,0) [0|60] "V" Watch
 SG_ Current : 16|16@1- (0.1,0) [-500|500] "A" Watch
 SG_ Charge : 32|8@1+ (0.5,0) [0|100] "%" Watch
BO_ 2566848768 Cells: 8 BMS
 SG_ Page M : 0|8@1+ (1,0) [0|1] "" Watch
 SG_ Cell1 m0 : 8|16@1+ (0.001,0) [0|5] "V" Watch
 SG_ Cell5 m1 : 8|16@1+ (0.001,0) [0|5] "V" Watch
BO_ 854 Contactor: 1 BMS
 SG_ Closed : 0|1@1+ (1,0) [0|1] "" Watch
VAL_ 854 Closed 0 "open" 1 "closed" ;
"""


@pytest.fixture
def book(tmp_path: Path) -> DbcBook:
    path = tmp_path / "battery.dbc"
    path.write_text(BATTERY)
    return DbcBook(path)


def test_signals_have_the_message_in_their_name(book: DbcBook) -> None:
    assert book.signals() == {
        "Pack.Voltage", "Pack.Current", "Pack.Charge", "Cells.Page", "Cells.Cell1", "Cells.Cell5",
        "Contactor.Closed",
    }  # fmt: skip


def test_values_by_hand(book: DbcBook) -> None:
    # 1332 = 0534h; -124 = FF84h; 76 / 0.5 = 152 = 98h.
    assert book.decode(853, False, bytes.fromhex("340584FF9800")) == pytest.approx(
        {"Pack.Voltage": 13.32, "Pack.Current": -12.4, "Pack.Charge": 76.0}
    )
    assert book.decode(854, False, b"\x01") == {"Contactor.Closed": 1.0}


def test_only_the_page_that_came(book: DbcBook) -> None:
    # 29-bit identifier 18FF0100h; 3321 = 0CF9h.
    assert book.decode(0x18FF0100, True, bytes.fromhex("01F90CFFFFFFFFFF")) == pytest.approx(
        {"Cells.Page": 1.0, "Cells.Cell5": 3.321}
    )


def test_an_identifier_it_does_not_have(book: DbcBook) -> None:
    assert book.knows(853, False)
    assert not book.knows(853, True)
    assert book.decode(852, False, bytes(8)) is None
    assert book.decode(853, True, bytes(8)) is None
    assert book.decode(0x18FF0100, False, bytes(8)) is None


@pytest.mark.parametrize("data", [b"", b"\x34\x05\x84", bytes.fromhex("FFFFFFFFFF")])
def test_a_frame_that_is_too_short(book: DbcBook, data: bytes) -> None:
    with pytest.raises(UndecodableError, match=r"Pack \(355\)"):
        book.decode(853, False, data)


def test_a_page_that_is_not_described(book: DbcBook) -> None:
    with pytest.raises(UndecodableError, match="Cells"):
        book.decode(0x18FF0100, True, bytes.fromhex("07F90CFFFFFFFFFF"))


@settings(
    max_examples=300,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.sampled_from([(853, False), (854, False), (0x18FF0100, True), (1, True)]), st.binary(max_size=64))
def test_junk_raises_nothing_but_undecodable(book: DbcBook, frame: tuple[int, bool], data: bytes) -> None:
    try:
        values = book.decode(*frame, data)
    except UndecodableError:
        return
    assert values is None or all(isinstance(v, float) for v in values.values())


@pytest.mark.parametrize(
    "text",
    [
        "this is no DBC",
        BATTERY.replace("32|8@1+ (0.5,0)", "10|8@1+ (0.5,0)"),
        BATTERY.replace("48|", "").replace("6 BMS", "3 BMS"),
        "",
        "BO_ 853 Pack: six BMS",
    ],
)
def test_a_file_that_makes_no_sense_is_named(tmp_path: Path, text: str) -> None:
    path = tmp_path / "wrong.dbc"
    path.write_text(text)

    with pytest.raises(SettingsError, match=r"wrong\.dbc: cannot be read as a DBC file"):
        DbcBook(path)


def test_a_file_that_is_missing_or_binary_is_named(tmp_path: Path) -> None:
    (tmp_path / "binary.dbc").write_bytes(bytes(range(256)))

    for name in ("missing.dbc", "binary.dbc"):
        with pytest.raises(SettingsError, match=name):
            DbcBook(tmp_path / name)


def test_cantools_is_loaded_only_for_a_dbc() -> None:
    code = "import monitor.wire.dbc, monitor.wire.rvc, sys; sys.exit('cantools' in sys.modules)"

    assert (
        subprocess.run([sys.executable, "-c", code], check=False, cwd=Path(__file__).parents[2]).returncode
        == 0
    )
