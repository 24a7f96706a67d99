"""What is heard on the buses: each message by its layout, what it means, who says it, how often.

Payloads are packed by hand from the published field tables (as in tests/wire/golden.py).
Pointers: RFC 6901.
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.records import Frame, Message
from monitor.survey.hearing import MOST_VALUES, Hearing
from monitor.survey.leaves import leaves
from monitor.survey.things import Thing, guess
from monitor.wire.dbc import DbcBook
from monitor.wire.identifier import join
from simulators.packing import DBC

BATTERY, FLUID, SWITCHES, CLAIM = 127508, 127505, 127501, 60928


def frame(number: int, data: str, at_s: float = 0.0, address: int = 0x23) -> Frame:
    return Frame(at_s, "bus", join(6, number, address), bytes.fromhex(data), True)


def heard(*items: Frame | Message, book: DbcBook | None = None) -> tuple[Thing, ...]:
    hearing = Hearing()
    hearing.begin("bus", book)
    hearing.feed(items)
    return hearing.things()


def test_a_battery_says_its_number_its_values_and_how_often() -> None:
    """13.28 V (0530h of 0.01 V), -12.4 A (FF84h of 0.1 A), 25.0 °C (7477h of 0.01 K)."""
    data = "00300584FF777407"
    (bank,) = heard(*(frame(BATTERY, data, at_s) for at_s in (0.0, 1.5, 3.0)))

    assert (bank.group, bank.feed, bank.sender) == ("banks", {"instance": 0}, "23")
    assert (bank.value("voltage"), bank.value("current")) == (13.28, -12.4)
    assert bank.value("temperature") == pytest.approx(25.0)
    assert (bank.heard, bank.every_s) == (3, 1.5)


def test_two_senders_with_one_number_are_told_apart_by_name_and_address() -> None:
    """By the NAME where one has claimed its address, by the address where not."""
    name = bytes.fromhex("0102030405060788")
    first, second = heard(
        frame(BATTERY, "00300584FF777407"),
        frame(BATTERY, "00100500007774FF", address=0x31),
        Frame(0.0, "bus", join(6, CLAIM, 0x31, 255), name, True),
    )

    assert first.twin
    assert second.twin
    assert first.feed == {"instance": 0, "device": "23"}
    assert second.feed == {"instance": 0, "device": "8807060504030201"}


def test_fluids_are_told_by_what_is_in_the_tank() -> None:
    """Fresh water (1) is what a tank's feed means by itself; black water (5) has to be said."""
    fresh, black = heard(frame(FLUID, "10A861D0070000FF"), frame(FLUID, "51A861D0070000FF"))

    assert (fresh.code, fresh.feed) == ("fresh water", {"instance": 0})
    assert (black.code, black.feed) == ("black water", {"instance": 1, "code": 5})
    assert fresh.value("level") == pytest.approx(100.0)
    assert fresh.value("capacity") == pytest.approx(200.0)


def test_every_switch_that_says_anything_is_a_thing_of_its_own() -> None:
    """Two bits each (00 off, 01 on, 11 not available): 1 on, 2 off, the rest absent."""
    switches = heard(frame(SWITCHES, "00F1FFFFFFFFFFFF"))

    assert [(t.group, t.feed, t.value("running")) for t in switches] == [
        ("switches", {"instance": 0, "indicator": 1}, 1.0),
        ("switches", {"instance": 0, "indicator": 2}, 0.0),
    ]


def test_what_nobody_knows_is_counted_not_hidden() -> None:
    hearing = Hearing()
    hearing.begin("bus")
    odd = [frame(128267, "0180020000F401FF"), Frame(0.0, "bus", 0x123, b"\x01", False)]
    hearing.feed([*odd, *odd, frame(BATTERY, "00")])

    found = hearing.unknown()["bus"]
    assert (found.frames, found.kinds) == (5, 2)
    assert hearing.things() == ()


def test_the_signals_of_a_dbc_file_are_values_with_a_guess() -> None:
    book = DbcBook(DBC)
    can_id, extended = next(iter(book._messages))
    things = heard(Frame(0.0, "bus", can_id, bytes(8), extended), book=book)

    voltage = next(t for t in things if t.message == "Pack.Voltage")
    assert (voltage.group, voltage.language, voltage.feed) == ("values", "dbc", {"signal": "Pack.Voltage"})
    assert voltage.said[0].quantity == "voltage"


def test_pointers_lead_to_every_number_in_a_payload() -> None:
    """RFC 6901, section 3: ~ is written ~0, / is written ~1."""
    payload = json.dumps({"a/b": 1, "m~n": {"x": ["2.5", "soon", None]}, "on": "ON", "": True})

    assert leaves(payload.encode()) == [
        ("/a~1b", 1.0), ("/m~0n/x/0", 2.5), ("/m~0n/x/2", None), ("/on", 1.0), ("/", 1.0),
    ]  # fmt: skip
    assert leaves(b"12.8") == [("", 12.8)]
    assert leaves(b"\xff\xfe") == []
    assert leaves(b"<script>alert(1)</script>") == []


@given(st.binary(max_size=200))
def test_no_payload_raises(payload: bytes) -> None:
    leaves(payload)


@given(st.binary(max_size=8), st.integers(0, 0x1FFFFFFF), st.booleans())
def test_no_frame_raises(data: bytes, can_id: int, extended: bool) -> None:
    heard(Frame(0.0, "bus", can_id if extended else can_id & 0x7FF, data, extended))


def test_a_thousand_topics_are_kept_and_a_flood_is_bounded() -> None:
    hearing = Hearing()
    hearing.begin("bus")
    hearing.feed(Message(0.0, "bus", f"boat/{n}/voltage", b"12.8", False) for n in range(1000))
    assert len(hearing.things()) == 1000
    hearing.feed(Message(0.0, "bus", f"flood/{n}", b"1", False) for n in range(MOST_VALUES))
    assert len(hearing.things()) == MOST_VALUES
    assert hearing.unknown()["bus"].left_out == 1000


def test_what_a_broker_kept_counts_as_not_yet_heard() -> None:
    (kept,) = heard(Message(0.0, "bus", "boat/power", b"5", True))
    assert (kept.heard, kept.said[0].value) == (0, 5.0)


@pytest.mark.parametrize(
    ("name", "quantity"),
    {
        "boat/panels/power": "power", "Pack.Voltage": "voltage", "Limits.ChargeLimit": "",
        "boat/heater/water/temperature": "temperature", "x/ac voltage": "ac voltage", "anything": "",
    }.items(),
)  # fmt: skip
def test_a_guess_goes_by_the_names_own_words(name: str, quantity: str) -> None:
    assert guess(name) == quantity
