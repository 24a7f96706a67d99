"""What the minutes' sums make of meters, silence and loads that are metered themselves."""

from array import array
from pathlib import Path

import pytest

from monitor.pipeline.power import PowerMinutes
from monitor.records import Column
from monitor.routing.slots import Slots
from monitor.settings_file import parse_settings

TEXT = """
[boat]
name = "Test"
[[banks]]
name = "house"
capacity_Ah = 400
[[chargers]]
name = "panels"
kind = "sun"
into = "house"
[[loads]]
name = "freezer"
"""


def column(value: float, every_s: float = 1.0, start_s: float = 0.0) -> Column:
    count = int(60 / every_s)
    return Column(array("d", [start_s + n * every_s for n in range(count)]), array("d", [value] * count))


def desk(*names: tuple[str, str]) -> tuple[PowerMinutes, Slots]:
    slots = Slots()
    for subject, quantity in names:
        slots.of(subject, quantity)
    return PowerMinutes(parse_settings(TEXT, Path())), slots


HOUSE = (("house", "current"), ("house", "voltage"))


def test_made_less_used_is_net() -> None:
    # 13 V x 10 A = 130 W into the bank while the panels make 200 W: 70 W are used.
    power, slots = desk(*HOUSE, ("panels", "power"))
    columns = {"house current": column(10), "house voltage": column(13), "panels power": column(200, 5)}

    minute = power.minute(columns, slots, 0.0)

    assert minute is not None
    assert minute.net_Wh == pytest.approx(130 / 60)
    assert minute.made_Wh == pytest.approx(200 / 60)
    assert not minute.estimated


def test_what_flows_in_past_the_meters_was_made_by_something() -> None:
    power, slots = desk(*HOUSE, ("panels", "power"))
    columns = {"house current": column(10), "house voltage": column(13), "panels power": column(0)}

    minute = power.minute(columns, slots, 0.0)

    assert minute is not None
    assert minute.made_Wh == pytest.approx(minute.net_Wh)
    assert minute.estimated


def test_a_reading_holds_into_the_next_minute_and_no_longer_than_its_instrument_may_be_silent() -> None:
    power, slots = desk(*HOUSE)
    power.minute({"house current": column(-5), "house voltage": column(13)}, slots, 0.0)

    soon = power.minute({}, slots, 60.0)
    later = power.minute({}, slots, 120.0)

    assert soon is not None
    assert soon.net_Wh == pytest.approx(-65 / 60)
    assert later is None


def test_a_metered_load_is_noted_by_its_power_or_by_its_current() -> None:
    power, slots = desk(*HOUSE, ("freezer", "current"))
    columns = {"house current": column(-9), "house voltage": column(13), "freezer current": column(4)}

    power.minute(columns, slots, 0.0)

    assert power.load_Wh["freezer"][0] == pytest.approx(4 * 13 / 60)
    assert power.lowest_between(0.0, 60.0) == {"house": 13}
