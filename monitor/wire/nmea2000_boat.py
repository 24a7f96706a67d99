"""NMEA 2000 messages about water, the engine, where the boat lies and when."""

from monitor.wire.codes import FLUIDS, OFF_ON, PRESSURES, STATUS, TEMPERATURES
from monitor.wire.layout import Field, Layout
from monitor.wire.nmea2000_rows import RAD, SID, SOURCE, celsius

_WATERMAKER = {
    0: "stopped", 1: "starting", 2: "running", 3: "stopping", 4: "flushing", 5: "rinsing",
    6: "initiating", 7: "manual",
}  # fmt: skip
_GNSS = {
    0: "GPS", 1: "GLONASS", 2: "GPS and GLONASS", 3: "GPS with SBAS",
    4: "GPS with SBAS and GLONASS", 5: "Chayka", 6: "integrated", 7: "surveyed", 8: "Galileo",
}  # fmt: skip


def _switches(name: str) -> tuple[Field, ...]:
    return tuple(Field(f"{name} {n}", 6 + 2 * n, 2, codes={0: "off", 1: "on"}) for n in range(1, 29))


WATER = (
    Layout(
        127505, "fluid level", "tanks", default_code=1, source=SOURCE,
        fields=(
            Field("instance", 0, 4),
            Field("code", 4, 4, codes=FLUIDS),
            Field("level", 8, 16, signed=True, scale=0.004),
            Field("capacity", 24, 32, scale=0.1),
        ),
    ),
    Layout(
        130567, "watermaker", "watermakers", fast=True, length=24, source=SOURCE,
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
            celsius("temperature", 48),
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
        127501, "switch bank", "pumps", source=SOURCE,
        fields=(Field("instance", 0, 8), *_switches("indicator")),
    ),
    Layout(
        127502, "switch command", "", source=SOURCE,
        fields=(Field("instance", 0, 8), *_switches("switch")),
    ),
)  # fmt: skip

ENGINE = (
    Layout(
        127488, "engine rapid", "engines", source=SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("speed", 8, 16, scale=0.25),
            Field("boost pressure", 24, 16, scale=0.001),
            Field("tilt", 40, 8, signed=True),
        ),
    ),
    Layout(
        127489, "engine detail", "engines", fast=True, length=26, source=SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("oil pressure", 8, 16, scale=0.001),
            celsius("oil temperature", 24, scale=0.1),
            celsius("coolant temperature", 40),
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

AROUND = (
    Layout(
        127257, "attitude", "instruments", source=SOURCE,
        # Heel is positive with the starboard side down (common practice).
        fields=(
            SID,
            Field("yaw", 8, 16, signed=True, scale=RAD),
            Field("pitch", 24, 16, signed=True, scale=RAD),
            Field("heel", 40, 16, signed=True, scale=RAD),
        ),
    ),
    Layout(
        130312, "temperature", "instruments",
        source=f"{SOURCE}; deprecated in favour of 130316, still common",
        fields=(
            SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=TEMPERATURES),
            celsius("temperature", 24),
            celsius("set temperature", 40),
        ),
    ),
    Layout(
        130316, "temperature", "instruments", source=SOURCE,
        fields=(
            SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=TEMPERATURES),
            celsius("temperature", 24, 24, 0.001),
            celsius("set temperature", 48, 16, 0.1),
        ),
    ),
    Layout(
        130314, "pressure", "instruments", source=SOURCE,
        fields=(
            SID,
            Field("instance", 8, 8),
            Field("code", 16, 8, codes=PRESSURES),
            Field("pressure", 24, 32, signed=True, scale=1e-6),
        ),
    ),
    Layout(
        129025, "position", "instruments", source=SOURCE,
        fields=(
            Field("latitude", 0, 32, signed=True, scale=1e-7),
            Field("longitude", 32, 32, signed=True, scale=1e-7),
        ),
    ),
    Layout(
        129029, "position", "instruments", fast=True, length=43, source=SOURCE,
        # What follows byte 43 are reference stations, which come as often as byte 42 says.
        fields=(
            SID,
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
        129026, "course and speed", "instruments", source=SOURCE,
        fields=(
            SID,
            Field("course reference", 8, 2, codes={0: "true", 1: "magnetic", 2: "error"}),
            Field("course", 16, 16, scale=RAD),
            # In m/s.
            Field("speed over ground", 32, 16, scale=0.01),
        ),
    ),
    Layout(
        126992, "system time", "clock", source=SOURCE,
        # The date in days since 1970-01-01, the time in s, up to 86401 in a leap second.
        fields=(
            SID,
            Field("clock source", 8, 4, codes={
                0: "GPS", 1: "GLONASS", 2: "radio station", 3: "caesium", 4: "rubidium",
                5: "crystal",
            }),
            Field("date", 16, 16),
            Field("time", 32, 32, scale=0.0001),
        ),
    ),
    Layout(
        129033, "time and date", "clock", source=SOURCE,
        fields=(
            Field("date", 0, 16),
            Field("time", 16, 32, scale=0.0001),
            # In minutes.
            Field("local offset", 48, 16, signed=True),
        ),
    ),
    Layout(
        60928, "address claim", "devices", source=f"{SOURCE}; the 64-bit NAME of ISO 11783-5",
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
