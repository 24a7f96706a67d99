"""Frames whose meaning is known from outside this project.

NMEA 2000: made by an independent bit packer from the published message definitions 6.0.1, each
decoded back to the stated values by the nmea2000 package; those marked * also by a second,
hand-written parser. Source address 0x23, fast packets with sequence 2.
RV-C: computed by hand from the scales of RV-C table 5.3; the last from a layout from memory.
"""

from typing import NamedTuple


class Golden(NamedTuple):
    what: str
    number: int
    can_id: int
    payload: bytes
    values: dict[str, float | None]
    frames: tuple[str, ...] = ()


def _golden(
    what: str, number: int, can_id: int, payload: str, values: dict[str, float | None], *frames: str
) -> Golden:
    return Golden(what, number, can_id, bytes.fromhex(payload), values, frames)


NMEA2000 = [
    _golden(
        "* fresh water tank 0, 62.5 %, 300 L", 127505, 0x19F21123, "10093DB80B0000FF",
        {"instance": 0, "code": 1, "level": 62.5, "capacity": 300},
    ),
    _golden(
        "* fresh tank 1, level not available", 127505, 0x19F21123, "11FF7FB80B0000FF",
        {"instance": 1, "code": 1, "level": None, "capacity": 300},
    ),
    _golden(
        "* battery 0: 13.28 V, -12.4 A, 25 °C", 127508, 0x19F21423, "00300584FF777407",
        {"instance": 0, "voltage": 13.28, "current": -12.4, "temperature": 25, "sid": 7},
    ),
    _golden(
        "battery 1: 12.65 V, the rest not available", 127508, 0x19F21423, "01F104FF7FFFFFFF",
        {"instance": 1, "voltage": 12.65, "current": None, "temperature": None, "sid": None},
    ),
    _golden(
        "* battery 0: charge 76 %, health 98 %, 1830 min, ripple 0.02 V, 280 Ah", 127506, 0x19F21223,
        "0700004C62260714001801",
        {"sid": 7, "instance": 0, "code": 0, "charge": 76, "health": 98, "time left": 1830,
         "ripple": 0.02, "remaining": 280},
        "400B0700004C6226", "410714001801FFFF",
    ),
    _golden(
        "charger 0 into battery 0: absorption, primary, on", 127507, 0x19F21323, "000012F10000",
        {"instance": 0, "battery instance": 0, "charger state": 2, "charge mode": 1, "enabled": 1,
         "equalisation pending": 0, "equalisation left": 0},
        "4006000012F10000",
    ),
    _golden(
        "inverter inverting, enabled", 127509, 0x19F21523, "000000D0",
        {"instance": 0, "ac instance": 0, "dc instance": 0, "inverter state": 0, "enabled": 1},
        "4004000000D0FFFF",
    ),
    _golden(
        "battery 0: lithium, 12 V, 280 Ah, Peukert 1.05, efficiency 99 %", 127513, 0x19F21923,
        "00CF1118017F1963",
        {"instance": 0, "battery type": None, "nominal voltage": 1, "chemistry": 1,
         "rated capacity": 280, "temperature coefficient": None, "peukert exponent": 1.05,
         "charge efficiency": 99},
        "400800CF1118017F", "411963FFFFFFFFFF",
    ),
    _golden(
        "DC point 0: 13.3 V, -12.34 A", 127751, 0x19F30723, "FF0085002EFBFFFF",
        {"sid": None, "instance": 0, "voltage": 13.3, "current": -12.34},
    ),
    _golden(
        "AC point 0, phase A: 8.7 A, 1900 W", 127744, 0x19F30023, "010057006C070000",
        {"sid": 1, "instance": 0, "code": 0, "ac current": 8.7, "ac power": 1900},
    ),
    _golden(
        "AC point 0: 229.6 V to neutral, 50 Hz", 127747, 0x19F30323, "0100F808FFFFF401",
        {"sid": 1, "instance": 0, "code": 0, "ac voltage": 229.6, "line to line voltage": None,
         "ac frequency": 50},
    ),
    _golden(
        "converter 0: bulk, all good", 127750, 0x19F30623, "FF000300FFFFFFFF",
        {"sid": None, "instance": 0, "charger state": 1, "temperature state": 0, "overload state": 0,
         "low dc voltage state": 0, "ripple state": 0},
    ),
    _golden(
        "* engine 0: 1500 rpm", 127488, 0x09F20023, "007017FFFF7FFFFF",
        {"instance": 0, "speed": 1500, "boost pressure": None, "tilt": None},
    ),
    _golden(
        "* refrigerator 4 °C, set to 3 °C", 130312, 0x15FD0823, "010007436CDF6BFF",
        {"sid": 1, "instance": 0, "code": 7, "temperature": 4, "set temperature": 3},
    ),
    _golden(
        "inside 21.5 °C", 130316, 0x15FD0C23, "010002FA7E04FFFF",
        {"sid": 1, "instance": 0, "code": 2, "temperature": 21.5, "set temperature": None},
    ),
    _golden(
        "* pitch 2°, roll -12°", 127257, 0x0DF11923, "01FF7F5D01D2F7FF",
        {"sid": 1, "yaw": None, "pitch": 2, "heel": -12},
    ),
    _golden(
        "* 43.2965 N 5.3698 E", 129025, 0x09F80123, "8885CE19D05D3303",
        {"latitude": 43.2965, "longitude": 5.3698},
    ),
    _golden(
        # 20 625 days from 1970-01-01 to 2026-06-21.
        "* 2026-06-21 12:00:00 UTC by GPS", 126992, 0x0DF01023, "01F0915000CCBF19",
        {"sid": 1, "clock source": 0, "date": 20625, "time": 43200},
    ),
    _golden(
        "switch bank 0: 1 on, 2 off, rest not available", 127501, 0x0DF20D23, "00F1FFFFFFFFFFFF",
        {"instance": 0, "indicator 1": 1, "indicator 2": 0, "indicator 3": None, "indicator 28": None},
    ),
    _golden(
        "* engine 0: oil 3.5 bar 90 °C, coolant 80 °C, 14.2 V, 2.5 L/h, 1234 h", 127489, 0x09F20123,
        "00AC0D2F0EF3898C05190020C94300FFFFFFFFFF00000000231E",
        {"instance": 0, "oil pressure": 3.5, "oil temperature": 90, "coolant temperature": 80,
         "alternator voltage": 14.2, "fuel rate": 2.5, "hours": 1234, "coolant pressure": None,
         "fuel pressure": None, "engine load": 35, "engine torque": 30},
        "401A00AC0D2F0EF3", "41898C05190020C9", "424300FFFFFFFFFF", "4300000000231EFF",
    ),
    _golden(
        "AC input 0: good, 229.6 V 8.7 A 50 Hz, 16 A breaker, 1900 W 600 var", 127503, 0x19F20F23,
        "0001FCB05957008813A0006C070000580200005F",
        {"instance": 0, "lines": 1, "code": 0, "acceptability": 3, "ac voltage": 229.6,
         "ac current": 8.7, "ac frequency": 50, "breaker": 16, "ac power": 1900,
         "reactive power": 600, "power factor": 0.95},
        "40140001FCB05957", "41008813A0006C07", "420000580200005F",
    ),
]  # fmt: skip

QUANTISATION = {"pitch": 0.003, "heel": 0.003, "oil temperature": 0.051}
"""Half a step of the wire where a golden value lies between two."""

RVC = [
    _golden(
        "13.30 V, 12.4 A out of the battery", 0x1FFFD, 0x19FFFD80, "01780A0170C43577",
        {"instance": 1, "priority": 120, "voltage": 13.30, "current": 12.4},
    ),
    _golden(
        "14.20 V, 20 A into the battery", 0x1FFFD, 0x19FFFD80, "01781C01E0453577",
        {"instance": 1, "priority": 120, "voltage": 14.20, "current": -20},
    ),
    _golden(
        "25 °C, charge 76 %, 1830 min", 0x1FFFC, 0x19FFFC80, "01784025982607FF",
        {"instance": 1, "priority": 120, "temperature": 25, "charge": 76, "time left": 1830},
    ),
    _golden(
        "health 98 %, 213 Ah, 100 %, 20 mV", 0x1FFFB, 0x19FFFB80, "0178C4D500C81400",
        {"instance": 1, "priority": 120, "health": 98, "remaining": 213, "relative capacity": 100,
         "ripple": 0.02},
    ),
    _golden(
        # "Absorption" is 3 in RV-C and 2 inside, as in NMEA 2000 127507.
        "charger 1: 14.20 V, 30 A, 60 %, absorption", 0x1FFC7, 0x19FFC780, "011C01587F7803F5",
        {"instance": 1, "voltage": 14.20, "current": 30, "share of maximum current": 60,
         "charger state": 2, "on at power-up": 1, "automatic recharge": 1, "forced charge": None},
    ),
    _golden(
        "fresh water 5/8, 188 L of 300 L (layout from memory)", 0x1FFB7, 0x19FFB748,
        "000508BC002C01FF",
        {"instance": 0, "level": 62.5, "resolution": 8, "volume": 188, "capacity": 300},
    ),
]  # fmt: skip

# Computed by hand from the same scales and places, each payload written out byte by byte.
RVC_BY_HAND = [
    _golden(
        # 14.40 / 0.05 = 288 = 0120h; (80 + 1600) / 0.05 = 33600 = 8340h; battery type 4.
        "desired: float, 14.40 V, 80 A, LiFePO4", 0x1FEC9, 0x19FEC980, "01780620014083F4",
        {"instance": 1, "priority": 120, "desired state": 6, "desired voltage": 14.4,
         "desired current": 80, "battery type": 4},
    ),
    _golden(
        # 13.302 V = 13302 mV = 33F6h; 32000 + 12 = 32012 = 7D0Ch mV/s.
        "13.302 V, rising 12 mV/s", 0x1FEC8, 0x19FEC880, "0178F63300000C7D",
        {"instance": 1, "priority": 120, "voltage": 13.302, "voltage change": 0.012},
    ),
    _golden(
        # Pairs of bits from the lowest: 00 no, 00 no, 01 yes, 11 not available = D0h.
        "low voltage limit reached only", 0x1FEC7, 0x19FEC780, "0178D0FFFFFFFFFF",
        {"instance": 1, "priority": 120, "high voltage limit": 0, "high voltage disconnect": 0,
         "low voltage limit": 1, "low voltage disconnect": None},
    ),
    _golden(
        "disconnect 1: connected, last command on, bypass unknown", 0x1FED0, 0x19FED080,
        "01F5FFFFFFFFFFFF",
        {"instance": 1, "contactor closed": 1, "last command": 1, "bypass": None},
    ),
    _golden(
        # 13.60 / 0.05 = 272 = 0110h; (1600 + 12.5) / 0.05 = 32250 = 7DFAh; 25 + 40 = 41h.
        "charger 1 on source 1: 13.60 V, 12.5 A, 25 °C", 0x1FEA3, 0x19FEA380, "0101641001FA7D41",
        {"instance": 1, "battery instance": 1, "priority": 100, "voltage": 13.6, "current": 12.5,
         "temperature": 25},
    ),
    _golden(
        # 1234 h = 74040 min = 12138h; 40 % = 50h; 12.50 / 0.05 = 250 = FAh.
        "generator runs, 1234 h, load 40 %, 12.50 V", 0x1FFDC, 0x19FFDC80, "033821010050FA00",
        {"running": 1, "hours": 1234, "engine load": 40, "start battery voltage": 12.5},
    ),
    _golden(
        # 82 + 40 = 122 = 7Ah; 3.6 bar = 360 kPa = 90 * 4 = 5Ah; 1500 / 0.125 = 12000 = 2EE0h;
        # 1.5 / 0.05 = 30 = 1Eh.
        "generator 82 °C, 3.6 bar, 1500 rpm, 1.5 L/h (places partly from memory)", 0x1FFDB,
        0x19FFDB80, "007A5AE02E1E00FF",
        {"over temperature": 0, "low oil pressure": 0, "low oil level": 0, "caution": 0,
         "coolant temperature": 82, "oil pressure": 3.6, "speed": 1500, "fuel rate": 1.5},
    ),
    _golden(
        # 2.1 bar = 210 kPa = 2100 * 100 Pa = 0834h; 2.8 bar = 0AF0h.
        "pump on and running, 2.1 bar, set to 2.8 bar, 6 A (layout from memory)", 0x1FFB3,
        0x19FFB380, "F53408F00AFFFF06",
        {"enabled": 1, "running": 1, "hookup": None, "pressure": 2.1, "pump pressure setting": 2.8,
         "regulator pressure setting": None, "current": 6},
    ),
]  # fmt: skip
