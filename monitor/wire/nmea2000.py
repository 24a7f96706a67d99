"""NMEA 2000 messages that are read, one row a field, by parameter group number (PGN).

Places, scales and codes are those of the published machine-readable definitions, data version
6.0.1 (the standard itself, IEC 61162-3 / NMEA 2000, is sold and was not opened); where a second
independent implementation disagrees, the row says so.
"""

from math import degrees

from monitor.wire.codes import FLUIDS, OFF_ON, PRESSURES, STATUS, TEMPERATURES
from monitor.wire.layout import Field, Layout

_SOURCE = "published NMEA 2000 definitions 6.0.1"
_ZERO_C = -273.15
_RAD = degrees(0.0001)
"""Angles travel in 0.0001 radian."""

_SID = Field("sid", 0, 8)
_CHARGER = {
    0: "not charging", 1: "bulk", 2: "absorption", 3: "overcharge", 4: "equalise", 5: "float",
    6: "no float", 7: "constant voltage or current", 8: "disabled", 9: "fault",
}  # fmt: skip
_CONVERTER = {
    0: "disabled", 2: "fault", 3: "bulk", 4: "absorption", 5: "float", 6: "storage", 7: "equalise",
    8: "not charging", 9: "not charging", 10: "not charging",
}  # fmt: skip
_INVERTER = {0: "inverting", 1: "passing through", 2: "sensing load", 3: "fault", 4: "disabled"}
_WATERMAKER = {
    0: "stopped", 1: "starting", 2: "running", 3: "stopping", 4: "flushing", 5: "rinsing",
    6: "initiating", 7: "manual",
}  # fmt: skip
_GNSS = {
    0: "GPS", 1: "GLONASS", 2: "GPS and GLONASS", 3: "GPS with SBAS",
    4: "GPS with SBAS and GLONASS", 5: "Chayka", 6: "integrated", 7: "surveyed", 8: "Galileo",
}  # fmt: skip
_LINES = {0: "line 1", 1: "line 2", 2: "line 3"}


def _celsius(name: str, bit: int, bits: int = 16, scale: float = 0.01) -> Field:
    return Field(name, bit, bits, scale=scale, offset=_ZERO_C)


def _switches(name: str) -> tuple[Field, ...]:
    return tuple(Field(f"{name} {n}", 6 + 2 * n, 2, codes={0: "off", 1: "on"}) for n in range(1, 29))


def _ac_line(second: Field) -> tuple[Field, ...]:
    """Fields of 127503 and 127504, which differ in the second of a line only."""
    return (
        Field("instance", 0, 8),
        Field("lines", 8, 8),
        Field("code", 16, 2, codes=_LINES),
        second,
        Field("ac voltage", 24, 16, scale=0.01),
        Field("ac current", 40, 16, scale=0.1),
        Field("ac frequency", 56, 16, scale=0.01),
        Field("breaker", 72, 16, scale=0.1),
        # Unsigned here: power to the shore cannot be told, unlike in 127744.
        Field("ac power", 88, 32),
        Field("reactive power", 120, 32),
        Field("power factor", 152, 8, signed=True, scale=0.01),
    )


_ACCEPTABILITY = {0: "bad level", 1: "bad frequency", 2: "being qualified", 3: "good"}
_WAVEFORM = {0: "sine wave", 1: "modified sine wave"}


def _ac_power(phase: int) -> Layout:
    fields = (
        _SID,
        Field("instance", 8, 8),
        Field("code", 0, 0, offset=phase),
        Field("ac current", 16, 16, scale=0.1),
        Field("ac power", 32, 32, signed=True),
    )
    return Layout(127744 + phase, "ac power", "supplies", fields, source=_SOURCE)


def _ac_voltage(phase: int) -> Layout:
    fields = (
        _SID,
        Field("instance", 8, 8),
        Field("code", 0, 0, offset=phase),
        Field("ac voltage", 16, 16, scale=0.1),
        Field("line to line voltage", 32, 16, scale=0.1),
        # 0.1 Hz here, 0.01 Hz in 127503 and 127504.
        Field("ac frequency", 48, 16, scale=0.1),
    )
    return Layout(127747 + phase, "ac voltage", "supplies", fields, source=_SOURCE)


_BATTERY = (
    Layout(
        127508, "battery status", "banks", source=_SOURCE,
        # The definitions do not give the current's sign; into the battery is common practice.
        fields=(
            Field("instance", 0, 8),
            Field("voltage", 8, 16, signed=True, scale=0.01),
            Field("current", 24, 16, signed=True, scale=0.1),
            _celsius("temperature", 40),
            Field("sid", 56, 8),
        ),
    ),
    Layout(
        127506, "dc detail", "banks", fast=True, length=11, default_code=0, source=_SOURCE,
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes={
                0: "battery", 1: "alternator", 2: "converter", 3: "solar", 4: "wind",
            }),
            Field("charge", 24, 8),
            Field("health", 32, 8),
            Field("time left", 40, 16),
            Field("ripple", 56, 16, scale=0.001),
            Field("remaining", 72, 16),
        ),
    ),
    Layout(
        127513, "battery configuration", "banks", fast=True, source=_SOURCE,
        # One witness only for the Peukert exponent: the second implementation is unsure of it.
        fields=(
            Field("instance", 0, 8),
            Field("battery type", 8, 4, codes={0: "flooded", 1: "gel", 2: "AGM"}),
            Field("equalisation supported", 12, 2, codes=OFF_ON),
            Field("nominal voltage", 16, 4, codes={
                0: "6 V", 1: "12 V", 2: "24 V", 3: "32 V", 4: "36 V", 5: "42 V", 6: "48 V",
            }),
            Field("chemistry", 20, 4, codes={
                0: "lead", 1: "lithium", 2: "NiCd", 3: "ZnO", 4: "NiMH",
            }),
            Field("rated capacity", 24, 16),
            Field("temperature coefficient", 40, 8, signed=True),
            Field("peukert exponent", 48, 8, scale=0.002, offset=1.0),
            Field("charge efficiency", 56, 8, signed=True),
        ),
    ),
    Layout(
        127491, "energy storage", "banks", fast=True, length=15, certain=False,
        source=f"{_SOURCE}, which mark its lengths and scales as uncertain",
        fields=(
            Field("instance", 0, 8),
            Field("charge", 8, 8),
            Field("time left", 16, 16),
            _celsius("cell high temperature", 32),
            _celsius("cell low temperature", 48),
            _celsius("temperature", 64),
            Field("discharge limit", 80, 16, signed=True, scale=0.1),
            Field("charge limit", 96, 16, signed=True, scale=0.1),
            Field("cooling", 112, 4),
            Field("heating", 116, 4),
        ),
    ),
)  # fmt: skip

_POWER = (
    Layout(
        127507, "charger status", "chargers", fast=True, length=6, source=_SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("battery instance", 8, 8),
            Field("charger state", 16, 4, codes=_CHARGER),
            Field("charge mode", 20, 4, codes={
                0: "standalone", 1: "primary", 2: "secondary", 3: "echo",
            }),
            Field("enabled", 24, 2, codes=OFF_ON),
            Field("equalisation pending", 26, 2, codes=OFF_ON),
            # Minutes; the second implementation hands out the raw count, which is the same.
            Field("equalisation left", 32, 16),
        ),
    ),
    Layout(
        127509, "inverter status", "", fast=True, length=4, source=_SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("ac instance", 8, 8),
            Field("dc instance", 16, 8),
            Field("inverter state", 24, 4, codes=_INVERTER),
            Field("enabled", 28, 2, codes=OFF_ON),
        ),
    ),
    Layout(
        127751, "dc point", "", source=_SOURCE,
        # The second implementation signs the voltage and sends two bytes more.
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("voltage", 16, 16, scale=0.1),
            Field("current", 32, 24, signed=True, scale=0.01),
        ),
    ),
    Layout(
        127750, "converter status", "", source=_SOURCE,
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("charger state", 16, 8, codes=_CONVERTER),
            Field("temperature state", 24, 2, codes=STATUS),
            Field("overload state", 26, 2, codes=STATUS),
            Field("low dc voltage state", 28, 2, codes=STATUS),
            Field("ripple state", 30, 2, codes=STATUS),
        ),
    ),
    *(_ac_power(phase) for phase in range(3)),
    *(_ac_voltage(phase) for phase in range(3)),
    Layout(
        127503, "ac input", "supplies", fast=True, length=20, repeats=(16, 144), source=_SOURCE,
        fields=_ac_line(Field("acceptability", 18, 2, codes=_ACCEPTABILITY)),
    ),
    Layout(
        127504, "ac output", "", fast=True, length=20, repeats=(16, 144), source=_SOURCE,
        fields=_ac_line(Field("waveform", 18, 3, codes=_WAVEFORM)),
    ),
)  # fmt: skip

_WATER = (
    Layout(
        127505, "fluid level", "tanks", default_code=1, source=_SOURCE,
        fields=(
            Field("instance", 0, 4),
            Field("code", 4, 4, codes=FLUIDS),
            Field("level", 8, 16, signed=True, scale=0.004),
            Field("capacity", 24, 32, scale=0.1),
        ),
    ),
    Layout(
        130567, "watermaker", "watermakers", fast=True, length=24, source=_SOURCE,
        fields=(
            Field("watermaker state", 0, 6, codes=_WATERMAKER),
            Field("production", 6, 2, codes=OFF_ON),
            Field("rinse", 8, 2, codes=OFF_ON),
            Field("low pressure pump", 10, 2, codes=OFF_ON),
            Field("high pressure pump", 12, 2, codes=OFF_ON),
            Field("emergency stop", 14, 2, codes=OFF_ON),
            Field("product valve", 16, 2, codes=STATUS),
            Field("flush mode", 18, 2, codes=OFF_ON),
            Field("salinity status", 20, 2, codes=STATUS),
            Field("sensor status", 22, 2, codes=STATUS),
            Field("oil change", 24, 2, codes=STATUS),
            Field("filter status", 26, 2, codes=STATUS),
            Field("system status", 28, 2, codes=STATUS),
            Field("salinity", 32, 16),
            _celsius("temperature", 48),
            Field("pressure before filter", 64, 16, scale=0.001),
            Field("pressure after filter", 80, 16, scale=0.001),
            Field("pressure", 96, 16, signed=True, scale=0.01),
            Field("high pressure", 112, 16, scale=0.01),
            Field("flow", 128, 16, signed=True, scale=0.1),
            Field("brine flow", 144, 16, signed=True, scale=0.1),
            Field("hours", 160, 32, scale=1 / 3600),
        ),
    ),
    Layout(
        127501, "switch bank", "pumps", source=_SOURCE,
        fields=(Field("instance", 0, 8), *_switches("indicator")),
    ),
    Layout(
        127502, "switch command", "", source=_SOURCE,
        fields=(Field("instance", 0, 8), *_switches("switch")),
    ),
)  # fmt: skip

_ENGINE = (
    Layout(
        127488, "engine rapid", "engines", source=_SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("speed", 8, 16, scale=0.25),
            Field("boost pressure", 24, 16, scale=0.001),
            Field("tilt", 40, 8, signed=True),
        ),
    ),
    Layout(
        127489, "engine detail", "engines", fast=True, length=26, source=_SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("oil pressure", 8, 16, scale=0.001),
            _celsius("oil temperature", 24, scale=0.1),
            _celsius("coolant temperature", 40),
            Field("alternator voltage", 56, 16, signed=True, scale=0.01),
            Field("fuel rate", 72, 16, signed=True, scale=0.1),
            Field("hours", 88, 32, scale=1 / 3600),
            Field("coolant pressure", 120, 16, scale=0.001),
            Field("fuel pressure", 136, 16, scale=0.01),
            Field("discrete status 1", 160, 16, kind="bits"),
            Field("discrete status 2", 176, 16, kind="bits"),
            Field("engine load", 192, 8, signed=True),
            Field("engine torque", 200, 8, signed=True),
        ),
    ),
)  # fmt: skip

_AROUND = (
    Layout(
        127257, "attitude", "instruments", source=_SOURCE,
        # Heel is positive with the starboard side down (common practice).
        fields=(
            _SID,
            Field("yaw", 8, 16, signed=True, scale=_RAD),
            Field("pitch", 24, 16, signed=True, scale=_RAD),
            Field("heel", 40, 16, signed=True, scale=_RAD),
        ),
    ),
    Layout(
        130312, "temperature", "instruments",
        source=f"{_SOURCE}; deprecated in favour of 130316, still common",
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=TEMPERATURES),
            _celsius("temperature", 24),
            _celsius("set temperature", 40),
        ),
    ),
    Layout(
        130316, "temperature", "instruments", source=_SOURCE,
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=TEMPERATURES),
            _celsius("temperature", 24, 24, 0.001),
            _celsius("set temperature", 48, 16, 0.1),
        ),
    ),
    Layout(
        130314, "pressure", "instruments", source=_SOURCE,
        fields=(
            _SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=PRESSURES),
            Field("pressure", 24, 32, signed=True, scale=1e-6),
        ),
    ),
    Layout(
        129025, "position", "instruments", source=_SOURCE,
        fields=(
            Field("latitude", 0, 32, signed=True, scale=1e-7),
            Field("longitude", 32, 32, signed=True, scale=1e-7),
        ),
    ),
    Layout(
        129029, "position", "instruments", fast=True, length=43, source=_SOURCE,
        # What follows byte 43 are reference stations, which come as often as byte 42 says.
        fields=(
            _SID,
            Field("date", 8, 16),
            Field("time", 24, 32, scale=0.0001),
            Field("latitude", 56, 64, signed=True, scale=1e-16),
            Field("longitude", 120, 64, signed=True, scale=1e-16),
            Field("altitude", 184, 64, signed=True, scale=1e-6),
            Field("gnss type", 248, 4, codes=_GNSS),
            Field("method", 252, 4, codes={
                0: "no fix", 1: "fix", 2: "differential fix", 3: "precise fix", 4: "RTK fixed",
                5: "RTK float", 6: "estimated", 7: "manual", 8: "simulated",
            }),
            Field("integrity", 256, 2, codes={
                0: "not checked", 1: "safe", 2: "caution", 3: "unsafe",
            }),
            Field("satellites", 264, 8),
            Field("hdop", 272, 16, signed=True, scale=0.01),
            Field("pdop", 288, 16, signed=True, scale=0.01),
            Field("geoidal separation", 304, 32, signed=True, scale=0.01),
            Field("reference stations", 336, 8),
        ),
    ),
    Layout(
        129026, "course and speed", "instruments", source=_SOURCE,
        fields=(
            _SID,
            Field("course reference", 8, 2, codes={0: "true", 1: "magnetic", 2: "error"}),
            Field("course", 16, 16, scale=_RAD),
            # In m/s.
            Field("speed over ground", 32, 16, scale=0.01),
        ),
    ),
    Layout(
        126992, "system time", "clock", source=_SOURCE,
        # The date in days since 1970-01-01, the time in s, up to 86401 in a leap second.
        fields=(
            _SID,
            Field("clock source", 8, 4, codes={
                0: "GPS", 1: "GLONASS", 2: "radio station", 3: "caesium", 4: "rubidium",
                5: "crystal",
            }),
            Field("date", 16, 16),
            Field("time", 32, 32, scale=0.0001),
        ),
    ),
    Layout(
        129033, "time and date", "clock", source=_SOURCE,
        fields=(
            Field("date", 0, 16),
            Field("time", 16, 32, scale=0.0001),
            # In minutes.
            Field("local offset", 48, 16, signed=True),
        ),
    ),
    Layout(
        60928, "address claim", "devices", source=f"{_SOURCE}; the 64-bit NAME of ISO 11783-5",
        fields=(
            Field("unique number", 0, 21, kind="bits"),
            Field("manufacturer", 21, 11, kind="bits"),
            Field("device instance", 32, 8, kind="bits"),
            Field("device function", 40, 8, kind="bits"),
            Field("device class", 49, 7, kind="bits"),
            Field("system instance", 56, 4, kind="bits"),
            Field("industry", 60, 3, kind="bits"),
            Field("arbitrary address", 63, 1, kind="bits"),
        ),
    ),
)  # fmt: skip

LAYOUTS: dict[int, Layout] = {
    layout.number: layout for layout in (*_BATTERY, *_POWER, *_WATER, *_ENGINE, *_AROUND)
}
