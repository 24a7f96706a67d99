"""Feeds to channels: who is heard, who holds a channel, and what is said of the rest."""

from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.records import Frame, Message
from monitor.routing.router import Router
from monitor.settings_file import parse_settings
from monitor.wire.identifier import join
from monitor.wire.nmea2000 import LAYOUTS
from monitor.wire.rvc import LAYOUTS as RVC

HEAD = """
[boat]
name = "Test"
[[sources]]
kind = "can"
name = "bus"
interface = "virtual"
channel = "vcan7"
speaks = ["nmea2000", "rvc"]
[[sources]]
kind = "mqtt"
name = "broker"
"""
BANK = '[[banks]]\nname = "house"\ncapacity_Ah = 400\nfeeds = [{}]\n'


def router_for(text: str) -> Router:
    return Router(parse_settings(HEAD + text, Path()))


def battery(
    at_s: float, volts: float | None, amps: float | None, address: int = 1, instance: int = 0
) -> Frame:
    data = LAYOUTS[127508].encode({"instance": instance, "voltage": volts, "current": amps})
    return Frame(at_s, "bus", join(6, 127508, address), data)


def values(router: Router, name: str) -> list[float]:
    return list(router.slots[name].values)


def test_a_battery_status_fills_the_channels_of_its_bank() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))

    router.frame(battery(1.0, 13.28, -12.4))
    router.frame(battery(2.0, 13.27, -12.5, instance=1))

    assert values(router, "house voltage") == [13.28]
    assert values(router, "house current") == [-12.4]


def test_not_available_is_kept_as_such_and_an_impossible_reading_becomes_it() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))

    router.frame(battery(1.0, None, 5.0))
    router.frame(battery(2.0, 250.0, 5.0))
    router.count_implausible()

    assert [v != v for v in values(router, "house voltage")] == [True, True]
    assert router.counts["bus"].implausible == 1
    trouble = router.slots["house voltage"].trouble
    assert trouble is not None
    assert trouble.id == "out of range"


@pytest.mark.parametrize(("positive", "amps"), [("charging", -12.4), ("discharging", 12.4)])
def test_the_sign_of_a_current_is_a_setting(positive: str, amps: float) -> None:
    router = router_for(BANK.format(f'{{ source = "bus", instance = 0, positive = "{positive}" }}'))

    router.frame(battery(1.0, 13.28, -12.4))

    assert values(router, "house current") == [amps]


def test_two_senders_of_one_instance_are_counted_once_and_the_other_is_kept_beside() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))

    for second in range(3):
        router.frame(battery(second, 13.2, -10.0, address=1))
        router.frame(battery(second + 0.5, 13.3, -11.0, address=2))

    assert values(router, "house current") == [-10.0] * 3
    assert values(router, "house current (opinion 2)") == [-11.0] * 3


def test_a_second_opinion_steps_in_when_the_first_falls_silent_and_back_when_it_speaks() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))
    router.frame(battery(0.0, 13.2, -10.0, address=1))
    router.frame(battery(0.5, 13.2, -11.0, address=2))

    router.frame(battery(60.0, 13.2, -12.0, address=2))
    router.frame(battery(61.0, 13.2, -10.0, address=1))
    router.frame(battery(62.0, 13.2, -13.0, address=2))

    assert values(router, "house current") == [-10.0, -12.0, -10.0]
    assert values(router, "house current (opinion 2)") == [-11.0, -13.0]


def test_rv_c_highest_device_priority_holds_the_channel() -> None:
    # RV-C 6.5.2: device priority 120 for a battery monitor, 100 for an inverter/charger; positive is
    # out of the bank there (can-message facts: opposite of a battery shunt's usual sign).
    router = router_for(BANK.format('{ source = "bus", instance = 1 }'))

    def source_1(at_s: float, priority: int, amps: float, address: int) -> Frame:
        values = {"instance": 1, "priority": priority, "voltage": 13.3, "current": amps}
        return Frame(at_s, "bus", join(6, 0x1FFFD, address), RVC[0x1FFFD].encode(values))

    router.frame(source_1(0.0, 100, 9.0, 0x81))
    router.frame(source_1(0.1, 120, 12.4, 0x80))
    router.frame(source_1(1.0, 100, 9.0, 0x81))
    router.frame(source_1(1.1, 120, 12.4, 0x80))

    assert values(router, "house current") == pytest.approx([-9.0, -12.4, -12.4])
    assert values(router, "house current (opinion 2)") == pytest.approx([-9.0])


def test_a_feed_by_name_follows_its_device_to_another_address() -> None:
    claim = LAYOUTS[60928]
    ours = claim.encode({"unique number": 4711})
    name = int.from_bytes(ours, "little")
    router = router_for(BANK.format(f'{{ source = "bus", instance = 0, device = "{name:016X}" }}'))

    def claims(at_s: float, address: int) -> Frame:
        return Frame(at_s, "bus", join(6, 60928, address, 255), ours)

    router.frame(battery(0.0, 13.0, -1.0, address=9))
    router.frame(claims(1.0, 9))
    router.frame(battery(2.0, 13.0, -2.0, address=9))
    router.frame(claims(3.0, 20))
    router.frame(battery(4.0, 13.0, -3.0, address=9))
    router.frame(battery(5.0, 13.0, -4.0, address=20))

    assert values(router, "house current") == [-2.0, -4.0]


def test_only_fresh_water_is_water() -> None:
    feed = '{ source = "bus", instance = 0 }'
    router = router_for(f'[[tanks]]\nname = "aft"\ncapacity_L = 200\nfeeds = [{feed}]\n')
    for code in (0, 1, 5):  # fuel, fresh water, black water
        data = LAYOUTS[127505].encode({"instance": 0, "code": code, "level": 10.0 * (code + 1)})
        router.frame(Frame(1.0, "bus", join(6, 127505, 3), data))

    assert values(router, "aft level") == [20.0]


def test_a_switch_bank_shows_the_pump() -> None:
    feed = '{ source = "bus", instance = 0, indicator = 2, quantity = "running" }'
    router = router_for(f'[[pumps]]\nname = "pump"\nfeeds = [{feed}]\n')
    told: list[tuple[float, float]] = []
    router.slots["pump running"].watch = lambda at_s, value: told.append((at_s, value))

    for at_s, on in ((1.0, 0), (2.125, 1), (4.0, None)):
        data = LAYOUTS[127501].encode({"instance": 0, "indicator 1": 1, "indicator 2": on})
        router.frame(Frame(at_s, "bus", join(3, 127501, 8), data))

    assert told[:2] == [(1.0, 0.0), (2.125, 1.0)]
    assert told[2][1] != told[2][1]


def test_a_share_of_one_is_refused_where_percent_is_expected() -> None:
    feed = '{ source = "broker", topic = "t/level", quantity = "level" }'
    router = router_for(f'[[tanks]]\nname = "aft"\ncapacity_L = 200\nfeeds = [{feed}]\n')

    router.message(Message(1.0, "broker", "t/level", b"0.62"))
    router.message(Message(2.0, "broker", "t/level", b"62.0"))
    router.message(Message(3.0, "broker", "t/level", b"0.5"))

    assert values(router, "aft level") == [62.0, 0.5]
    assert router.counts["broker"].undecodable == 1
    assert "scale = 100 in tanks[0].feeds[0]" in router.counts["broker"].trouble


def test_a_retained_message_is_not_believed_unless_the_feed_says_so() -> None:
    for extra, expected in (("", []), (", retained = true", [40.0])):
        feed = f'{{ source = "broker", topic = "t/+", quantity = "level"{extra} }}'
        router = router_for(f'[[tanks]]\nname = "aft"\ncapacity_L = 200\nfeeds = [{feed}]\n')

        router.message(Message(1.0, "broker", "t/level", b"40", retained=True))

        assert values(router, "aft level") == expected


def test_what_nobody_knows_and_what_cannot_be_read_is_counted() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))

    router.frame(Frame(1.0, "bus", join(6, 128267, 1), b"\x00" * 8))
    router.frame(Frame(1.0, "bus", 0x123, b"\x00", extended=False))
    router.frame(Frame(1.0, "bus", join(6, 127508, 1), b"\x00"))
    router.message(Message(1.0, "broker", "nobody/asked", b"1"))

    assert router.counts["bus"].unknown == 2
    assert router.counts["bus"].undecodable == 1
    assert "127508" in router.counts["bus"].trouble
    assert router.counts["broker"].unknown == 1


@pytest.mark.parametrize(
    ("feed", "key"),
    [
        ('{ source = "bus", message = "no such message" }', "banks[0].feeds[0]"),
        ('{ source = "bus", signal = "Pack.Voltage", quantity = "voltage" }', "banks[0].feeds[0].signal"),
    ],
)
def test_a_feed_that_binds_to_nothing_is_named_before_anything_starts(feed: str, key: str) -> None:
    with pytest.raises(SettingsError) as caught:
        router_for(BANK.format(feed))

    assert caught.value.mistakes[0].startswith(key)


def test_a_recordings_interface_stands_for_the_source_of_that_channel() -> None:
    router = router_for(BANK.format('{ source = "bus", instance = 0 }'))

    router.frame(battery(1.0, 13.0, 1.0)._replace(source="vcan7"))
    router.frame(battery(2.0, 13.0, 2.0)._replace(source="whatever the logger called it"))

    assert values(router, "house current") == [1.0, 2.0]
