"""Numbers that are no readings, and the ends of the ranges that are.

NMEA 2000: published definitions 6.0.1 (all ones "not available", one less "error", from 8 bits on
one less again reserved; so 252, 65532, 32764 and 124 are the highest readings). RV-C: table 3.2.3b
(255 no data, 254 error, 253 reserved, data to 250); 65530 and its 32-bit like are from memory.
"""

import pytest

from monitor.wire import nmea2000, rvc
from monitor.wire.layout import Field, Layout

NMEA2000_HIGHEST = {
    (2, False): 1, (3, False): 6, (4, False): 13, (6, False): 61, (8, False): 252, (8, True): 124,
    (16, False): 65532, (16, True): 32764, (24, False): 0xFFFFFC, (24, True): 0x7FFFFC,
    (32, False): 0xFFFFFFFC, (32, True): 0x7FFFFFFC, (64, True): 0x7FFFFFFFFFFFFFFC,
}  # fmt: skip
RVC_HIGHEST = {(2, False): 1, (4, False): 13, (8, False): 250, (16, False): 65530, (32, False): 0xFFFFFFFA}


def numbers(layouts: dict[int, Layout]) -> list[tuple[Layout, Field]]:
    """Every field that is a plain number: no words for its codes, no fraction of another."""
    return [
        (layout, f)
        for layout in layouts.values()
        for f in layout.fields
        if f.bits and not f.codes and f.kind != "bits" and not f.per
    ]


ALL = [(NMEA2000_HIGHEST, *x) for x in numbers(nmea2000.LAYOUTS)]
ALL += [(RVC_HIGHEST, *x) for x in numbers(rvc.LAYOUTS)]
EVERY_NUMBER = pytest.mark.parametrize(
    ("highest", "layout", "field"), ALL, ids=[f"{x.number} {f.name}" for _, x, f in ALL]
)


def decoded(layout: Layout, field: Field, raw: int) -> float | None:
    """What the field says with `raw` in its bits and ones everywhere else."""
    bits = (1 << 8 * layout.length) - 1
    bits &= ~(((1 << field.bits) - 1) << field.bit)
    return layout.decode((bits | raw << field.bit).to_bytes(layout.length, "little"))[
        layout.place[field.name]
    ]


@EVERY_NUMBER
def test_codes_on_top_are_no_readings(
    highest: dict[tuple[int, bool], int], layout: Layout, field: Field
) -> None:
    ones = (1 << (field.bits - field.signed)) - 1
    top = highest[field.bits, field.signed]

    assert [decoded(layout, field, raw) for raw in range(max(top + 1, ones - 5), ones + 1)] == [None] * min(
        ones - top, 6
    )
    assert decoded(layout, field, top) is not None


@pytest.mark.parametrize(
    ("number", "field", "lowest", "highest"),
    [
        # The ranges that the published definitions state, in our units: raw limits times scale.
        (127505, "level", -131.072, 131.056),
        (127505, "capacity", 0, 429_496_729.2),
        (127506, "charge", 0, 252),
        (127506, "time left", 0, 3_931_920 / 60),
        (127506, "ripple", 0, 65.532),
        (127506, "remaining", 0, 235_915_200 / 3600),
        (127508, "voltage", -327.68, 327.64),
        (127508, "current", -3276.8, 3276.4),
        (127508, "temperature", -273.15, 655.32 - 273.15),
        (127513, "temperature coefficient", -128, 124),
        (127751, "voltage", 0, 6553.2),
        (127751, "current", -83_886.08, 83_886.04),
        (127744, "ac current", 0, 6553.2),
        (127744, "ac power", -2_147_483_648, 2_147_483_644),
        (127747, "ac frequency", 0, 6553.2),
        (127503, "ac frequency", 0, 655.32),
        (127503, "ac power", 0, 4_294_967_292),
        (127488, "speed", 0, 16_383),
        (127489, "oil pressure", 0, 65.532),
        (127489, "oil temperature", -273.15, 6553.2 - 273.15),
        (127489, "fuel pressure", 0, 655.32),
        (127489, "hours", 0, 4_294_967_292 / 3600),
        (130316, "temperature", -273.15, 16_777.212 - 273.15),
        (130316, "set temperature", -273.15, 6553.2 - 273.15),
        (130314, "pressure", -2147.483648, 2147.483644),
        (130567, "pressure", -327.68, 327.64),
        (130567, "flow", -3276.8, 3276.4),
        (129033, "local offset", -32_768, 1_965_840 / 60),
        # RV-C table 5.3: 0 to 125 %, 0 to 3212.5 V at FAFAh, -1600 A at 0; -273 °C at 0.
        (0x1FFFC, "charge", 0, 125),
        (0x1FFFD, "voltage", 0, 3276.5),
        (0x1FFC7, "current", -1600, 1676.5),
        (0x1FFFD, "current", -2_000_000, 2_294_967.290),
        (0x1FFFC, "temperature", -273, 65530 / 32 - 273),
        (0x1FEA3, "temperature", -40, 210),
    ],
)
def test_the_ends_of_a_range(number: int, field: str, lowest: float, highest: float) -> None:
    layout = (rvc.LAYOUTS if number in rvc.LAYOUTS else nmea2000.LAYOUTS)[number]
    f = layout.fields[layout.place[field]]
    top = (RVC_HIGHEST if number in rvc.LAYOUTS else NMEA2000_HIGHEST)[f.bits, f.signed]

    assert decoded(layout, f, top) == pytest.approx(highest, rel=1e-12)
    assert decoded(layout, f, 1 << (f.bits - 1) if f.signed else 0) == pytest.approx(lowest, rel=1e-12)


def test_all_ones_in_a_signed_level_is_a_reading() -> None:
    # 7FFFh is its "not available"; FFFFh is -1 step of 0.004 %.
    assert nmea2000.LAYOUTS[127505].decode(bytes.fromhex("11FFFFB80B0000FF"))[2] == -0.004


def test_one_battery_frame_holds_both_kinds_of_absence() -> None:
    # Voltage and current are signed (7FFFh), temperature is not (FFFFh).
    assert nmea2000.LAYOUTS[127508].decode(bytes.fromhex("00FF7FFF7FFFFFFF"))[1:] == (None,) * 4


@pytest.mark.parametrize(
    ("number", "field", "meant", "not_meant"),
    [
        # Two bits: 3 is "not available" and 2 "error" unless the table gives them a word.
        (127501, "indicator 1", (0, 1), (2, 3)),
        (127502, "switch 28", (0, 1), (2, 3)),
        (127750, "overload state", (0, 1, 2), (3,)),
        (127503, "acceptability", (0, 1, 2, 3), ()),
        (127504, "waveform", tuple(range(7)), (7,)),
        (127505, "code", tuple(range(14)), (14, 15)),
        (127507, "charger state", tuple(range(10)), tuple(range(10, 16))),
        (127750, "charger state", (0, *range(2, 11)), (1, 11, 253, 254, 255)),
        (127509, "inverter state", tuple(range(5)), tuple(range(5, 16))),
        (130567, "watermaker state", tuple(range(8)), (8, 61, 62, 63)),
        (0x1FFC7, "charger state", tuple(range(1, 8)), (0, 8, 253, 254, 255)),
        (0x1FFDC, "running", tuple(range(7)), (7, 253, 254, 255)),
        (0x1FFB3, "running", (0, 1), (2, 3)),
    ],
)
def test_which_codes_are_meant(
    number: int, field: str, meant: tuple[int, ...], not_meant: tuple[int, ...]
) -> None:
    layout = (rvc.LAYOUTS if number in rvc.LAYOUTS else nmea2000.LAYOUTS)[number]
    f = layout.fields[layout.place[field]]

    assert None not in [decoded(layout, f, raw) for raw in meant]
    assert [decoded(layout, f, raw) for raw in not_meant] == [None] * len(not_meant)


def test_a_charger_in_absorption_is_the_same_in_every_protocol() -> None:
    # 2 in NMEA 2000 127507, 4 in 127750, 3 in RV-C.
    said = []
    for layout, raw in (
        (nmea2000.LAYOUTS[127507], 2), (nmea2000.LAYOUTS[127750], 4), (rvc.LAYOUTS[0x1FFC7], 3),
    ):  # fmt: skip
        said.append(decoded(layout, layout.fields[layout.place["charger state"]], raw))

    assert said == [2, 2, 2]


@pytest.mark.parametrize(
    ("level", "resolution", "percent"),
    [(5, 8, 62.5), (0, 8, 0), (56, 56, 100), (3, 0, None), (255, 8, None), (5, 255, None), (254, 8, None)],
)
def test_a_tank_level_is_a_count_of_its_resolution(
    level: int, resolution: int, percent: float | None
) -> None:
    payload = bytes([0, level, resolution]) + b"\xff" * 5

    assert rvc.LAYOUTS[0x1FFB7].decode(payload)[1] == percent


def test_the_sign_of_a_current_is_told_by_the_layout() -> None:
    # RV-C table 6.5.2b: positive is out of the source. NMEA 2000: into the battery (common practice).
    assert rvc.LAYOUTS[0x1FFFD].current_out_positive
    assert not nmea2000.LAYOUTS[127508].current_out_positive


def test_what_is_from_memory_says_so() -> None:
    uncertain = {x.name for x in (*nmea2000.LAYOUTS.values(), *rvc.LAYOUTS.values()) if not x.certain}

    assert uncertain == {"energy storage", "generator status 2", "tank status", "water pump status"}
    assert all(x.source for x in (*nmea2000.LAYOUTS.values(), *rvc.LAYOUTS.values()))
