"""Columns of payloads against the layouts' own encoder, and the BMS frames against cantools."""

from typing import Any

import numpy as np
import pytest
from cantools.database.can.database import Database
from hypothesis import given
from hypothesis import strategies as st

from monitor.wire.nmea2000 import LAYOUTS
from simulators.packing import DBC, bms_layouts, pack

NAN = float("nan")


def bms_book() -> Any:
    """Its messages decode to plain mappings: cantools' own types say more than it can happen here."""
    book = Database()
    book.add_dbc_file(DBC)
    return book


@given(
    st.lists(
        st.tuples(
            st.floats(0, 300) | st.just(NAN),
            st.floats(-3000, 3000) | st.just(NAN),
            st.floats(-40, 300) | st.just(NAN),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_a_column_is_packed_as_its_messages_one_by_one(rows: list[tuple[float, float, float]]) -> None:
    layout = LAYOUTS[127508]
    names = ("voltage", "current", "temperature")
    columns = {name: np.array(column) for name, column in zip(names, zip(*rows, strict=True), strict=True)}

    packed = pack(layout, {"instance": 3}, columns)

    for payload, row in zip(packed, rows, strict=True):
        values = {n: None if v != v else v for n, v in zip(names, row, strict=True)}
        assert payload == layout.encode({"instance": 3, **values})


def test_the_golden_battery_frame() -> None:
    """127508 instance 0, 13.28 V, -12.4 A, 25 °C, sid 7: built by an independent packer from the
    published definitions and decoded by two independent implementations."""
    columns = {"voltage": np.array([13.28]), "current": np.array([-12.4]), "temperature": np.array([25.0])}
    assert pack(LAYOUTS[127508], {"instance": 0, "sid": 7}, columns) == [bytes.fromhex("00300584FF777407")]


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        pack(LAYOUTS[127508], {"instance": 0}, {"voltage": np.array([13.0, 400.0])})


@given(st.floats(0, 65), st.floats(-3000, 3000), st.floats(0, 100))
def test_the_bms_says_what_cantools_hears(volts: float, amperes: float, charge: float) -> None:
    bms = bms_book()
    layout = bms_layouts()["Pack"]

    (payload,) = pack(
        layout,
        {},
        {"Voltage": np.array([volts]), "Current": np.array([amperes]), "Charge": np.array([charge])},
    )

    heard = bms.decode_message(layout.number, payload)
    assert heard["Voltage"] == pytest.approx(volts, abs=0.0006)
    assert heard["Current"] == pytest.approx(amperes, abs=0.051)
    assert heard["Charge"] == pytest.approx(charge, abs=0.051)


def test_flags_of_the_bms_stand_where_the_dbc_puts_them() -> None:
    bms = bms_book()
    layout = bms_layouts()["Limits"]
    columns = {"ChargeLimit": np.array([46.0, 0.0]), "PreAlarm": np.array([0.0, 1.0])}

    heard = [
        bms.decode_message(257, p)
        for p in pack(layout, {"DischargeLimit": 230, "ContactorClosed": 1}, columns)
    ]

    assert [h["PreAlarm"] for h in heard] == [0, 1]
    assert [h["ContactorClosed"] for h in heard] == [1, 1]
    assert [h["ChargeLimit"] for h in heard] == [46.0, 0.0]
    assert [h["DischargeLimit"] for h in heard] == [230.0, 230.0]
