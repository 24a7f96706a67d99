"""The 29-bit identifier of NMEA 2000, RV-C and SAE J1939.

Bits 28-26 priority, 25-24 data pages, 23-16 PF, 15-8 PS, 7-0 source address. A PF under 240
sends to one destination, which PS holds; from 240 on PS is part of the group number.
Source: SAE J1939-21; Linux kernel documentation, networking/j1939.
"""

GLOBAL = 255
"""The destination of everything that is sent to all."""
NOWHERE = 254
"""The source address of a device that could claim none."""


def split(can_id: int) -> tuple[int, int, int, int]:
    """(priority, group number, source address, destination address).

    The group number keeps bit 25, which both standards leave 0: a frame that sets it belongs to
    neither and gets a number beyond their 17 bits.
    """
    group = can_id >> 8 & 0x3FFFF
    if group & 0xFF00 < 0xF000:
        return can_id >> 26 & 7, group & 0x3FF00, can_id & 0xFF, group & 0xFF
    return can_id >> 26 & 7, group, can_id & 0xFF, GLOBAL


def join(priority: int, number: int, source: int, destination: int = GLOBAL) -> int:
    """The identifier for a group number. Raises ValueError where a part does not fit."""
    if not (0 <= priority <= 7 and 0 <= number <= 0x1FFFF and 0 <= source <= 255 and 0 <= destination <= 255):
        raise ValueError(f"no identifier for {priority=}, {number=}, {source=}, {destination=}")
    if number & 0xFF00 < 0xF000:
        number = number & 0x1FF00 | destination
    return priority << 26 | number << 8 | source
