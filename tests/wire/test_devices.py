"""Address claims (SAE J1939-81): a device is its NAME, wherever its address goes."""

import pytest

from monitor.errors import UndecodableError
from monitor.wire.devices import Devices
from monitor.wire.nmea2000 import LAYOUTS

LOW, HIGH = 0x8000_0000_0000_0001, 0xC050_8200_3F40_0002


def claim(devices: Devices, name: int, address: int) -> None:
    devices.feed(address, name.to_bytes(8, "little"))


def test_a_device_is_found_and_followed() -> None:
    devices = Devices()
    claim(devices, LOW, 0x23)
    claim(devices, HIGH, 0x42)
    claim(devices, LOW, 0x30)

    assert (devices.address_of(LOW), devices.name_of(0x30)) == (0x30, LOW)
    assert devices.name_of(0x23) is None
    assert (devices.address_of(HIGH), devices.name_of(0x42)) == (0x42, HIGH)


def test_two_devices_change_places() -> None:
    devices = Devices()
    for name, address in ((LOW, 1), (HIGH, 2), (LOW, 2), (HIGH, 1)):
        claim(devices, name, address)

    assert [devices.name_of(1), devices.name_of(2)] == [HIGH, LOW]


def test_a_contest_is_won_by_the_one_that_claims_again() -> None:
    # The lower NAME answers a rival's claim with its own; the rival moves or says it cannot.
    devices = Devices()
    claim(devices, LOW, 0x23)
    claim(devices, HIGH, 0x23)
    claim(devices, LOW, 0x23)

    assert devices.name_of(0x23) == LOW
    assert devices.address_of(HIGH) is None
    claim(devices, HIGH, 254)
    assert devices.address_of(HIGH) is None
    claim(devices, HIGH, 0x24)
    assert devices.address_of(HIGH) == 0x24


def test_a_device_that_cannot_claim_has_left_its_address() -> None:
    devices = Devices()
    claim(devices, LOW, 0x23)
    claim(devices, LOW, 254)

    assert (devices.name_of(0x23), devices.address_of(LOW), devices.name_of(254)) == (None, None, None)


def test_a_replaced_device_takes_over_the_address() -> None:
    devices = Devices()
    claim(devices, LOW, 0x23)
    claim(devices, HIGH, 0x23)

    assert (devices.name_of(0x23), devices.address_of(LOW)) == (HIGH, None)


def test_a_short_name_is_undecodable() -> None:
    with pytest.raises(UndecodableError, match="7 bytes"):
        Devices().feed(1, bytes(7))


def test_the_parts_of_a_name() -> None:
    # Bit lengths 21, 11, 8, 8, 1, 7, 4, 3, 1 (ISO 11783-5 as published in the definitions 6.0.1);
    # unique number 12345, manufacturer 777, function 170, class 35, industry 4 (marine).
    name = 12345 | 777 << 21 | 3 << 32 | 170 << 40 | 35 << 49 | 2 << 56 | 4 << 60 | 1 << 63
    layout = LAYOUTS[60928]

    values = dict(zip(layout.place, layout.decode(name.to_bytes(8, "little")), strict=True))

    assert values == {
        "unique number": 12345, "manufacturer": 777, "device instance": 3, "device function": 170,
        "device class": 35, "system instance": 2, "industry": 4, "arbitrary address": 1,
    }  # fmt: skip
