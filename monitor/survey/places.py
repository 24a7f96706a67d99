"""Where this computer could listen: CAN interfaces of the kernel, serial adapters. And what it believes of
the time."""

from dataclasses import dataclass
from pathlib import Path
from zoneinfo import available_timezones

CAN_TYPE = 280
"""ARPHRD_CAN of linux/if_arp.h."""
IFF_UP = 1
"""Of linux/if.h."""


@dataclass(frozen=True, slots=True)
class Place:
    """`kind` is "socketcan" or "slcan"; `up` False: the interface is there, and down."""

    kind: str
    channel: str
    up: bool = True


def places(root: Path = Path("/")) -> tuple[Place, ...]:
    """What is there now, CAN interfaces first."""
    found = []
    for folder in sorted(_inside(root / "sys/class/net")):
        if _number(folder / "type") == CAN_TYPE:
            found.append(Place("socketcan", folder.name, bool((_number(folder / "flags") or 0) & IFF_UP)))
    serial = sorted(_inside(root / "dev/serial/by-id"))
    return (*found, *(Place("slcan", f"/dev/serial/by-id/{path.name}") for path in serial))


def _inside(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def _number(path: Path) -> int | None:
    try:
        return int(path.read_text("ascii").strip(), 0)
    except (OSError, ValueError):
        return None


def zone_guess(root: Path = Path("/")) -> str:
    """The computer's own time zone, by its tz database name; UTC where it does not say."""
    try:
        said = str((root / "etc/localtime").resolve())
        name = said.partition("zoneinfo/")[2]
    except OSError:
        name = ""
    if name not in available_timezones():
        try:
            name = (root / "etc/timezone").read_text("ascii").strip()
        except (OSError, UnicodeDecodeError):
            name = ""
    return name if name in available_timezones() else "UTC"
