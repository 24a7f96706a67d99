"""What the NMEA 2000 tables share.

Places, scales and codes in them are those of the published machine-readable definitions, data
version 6.0.1 (the standard itself, IEC 61162-3 / NMEA 2000, is sold and was not opened); where a
second independent implementation disagrees, the row says so.
"""

from math import degrees

from monitor.wire.layout import Field

SOURCE = "published NMEA 2000 definitions 6.0.1"
SID = Field("sid", 0, 8)
RAD = degrees(0.0001)
"""Angles travel in 0.0001 radian."""


def celsius(name: str, bit: int, bits: int = 16, scale: float = 0.01) -> Field:
    """A temperature that travels in kelvin."""
    return Field(name, bit, bits, scale=scale, offset=-273.15)
