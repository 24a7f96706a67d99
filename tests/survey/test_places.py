"""Where a computer could listen, on trees of files as the kernel and udev lay them out."""

from pathlib import Path

from monitor.survey.places import Place, places, zone_guess


def test_interfaces_and_adapters_are_found_and_a_down_one_is_told(tmp_path: Path) -> None:
    """Type 280 is ARPHRD_CAN (linux/if_arp.h), flag 1 IFF_UP (linux/if.h)."""
    for name, kind, flags in (("can0", 280, "0x40081"), ("vcan1", 280, "0x40080"), ("eth0", 1, "0x1003")):
        folder = tmp_path / "sys/class/net" / name
        folder.mkdir(parents=True)
        (folder / "type").write_text(f"{kind}\n")
        (folder / "flags").write_text(f"{flags}\n")
    (tmp_path / "dev/serial/by-id").mkdir(parents=True)
    (tmp_path / "dev/serial/by-id/usb-adapter-if00").touch()

    assert places(tmp_path) == (
        Place("socketcan", "can0"),
        Place("socketcan", "vcan1", False),
        Place("slcan", "/dev/serial/by-id/usb-adapter-if00"),
    )


def test_no_interface_at_all(tmp_path: Path) -> None:
    assert places(tmp_path) == ()


def test_the_zone_is_the_computers_own_or_utc(tmp_path: Path) -> None:
    assert zone_guess(tmp_path) == "UTC"
    (tmp_path / "etc").mkdir()
    (tmp_path / "etc/timezone").write_text("Europe/Madrid\n")
    assert zone_guess(tmp_path) == "Europe/Madrid"
    (tmp_path / "etc/localtime").symlink_to("/usr/share/zoneinfo/Europe/Lisbon")
    assert zone_guess(tmp_path) == "Europe/Lisbon"
