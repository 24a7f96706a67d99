"""NMEA 2000 messages that are read, by parameter group number (PGN)."""

from monitor.wire.layout import Layout
from monitor.wire.nmea2000_boat import AROUND, ENGINE, WATER
from monitor.wire.nmea2000_power import BATTERY, POWER

LAYOUTS: dict[int, Layout] = {
    layout.number: layout for layout in (*BATTERY, *POWER, *WATER, *ENGINE, *AROUND)
}
