"""NMEA 2000 messages about batteries, chargers, inverters and alternating current."""

from monitor.wire.codes import OFF_ON, STATUS
from monitor.wire.layout import Field, Layout
from monitor.wire.nmea2000_rows import SID, SOURCE, celsius

_CHARGER = {
    0: "not charging", 1: "bulk", 2: "absorption", 3: "overcharge", 4: "equalise", 5: "float",
    6: "no float", 7: "constant voltage or current", 8: "disabled", 9: "fault",
}  # fmt: skip
_CONVERTER = {
    0: "disabled", 2: "fault", 3: "bulk", 4: "absorption", 5: "float", 6: "storage", 7: "equalise",
    8: "not charging", 9: "not charging", 10: "not charging",
}  # fmt: skip
_INVERTER = {0: "inverting", 1: "passing through", 2: "sensing load", 3: "fault", 4: "disabled"}
_LINES = {0: "line 1", 1: "line 2", 2: "line 3"}


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
        SID,
        Field("instance", 8, 8),
        Field("code", 0, 0, offset=phase),
        Field("ac current", 16, 16, scale=0.1),
        Field("ac power", 32, 32, signed=True),
    )
    return Layout(127744 + phase, "ac power", "supplies", fields, source=SOURCE)


def _ac_voltage(phase: int) -> Layout:
    fields = (
        SID,
        Field("instance", 8, 8),
        Field("code", 0, 0, offset=phase),
        Field("ac voltage", 16, 16, scale=0.1),
        Field("line to line voltage", 32, 16, scale=0.1),
        # 0.1 Hz here, 0.01 Hz in 127503 and 127504.
        Field("ac frequency", 48, 16, scale=0.1),
    )
    return Layout(127747 + phase, "ac voltage", "supplies", fields, source=SOURCE)


BATTERY = (
    Layout(
        127508, "battery status", "banks", source=SOURCE,
        # The definitions do not give the current's sign; into the battery is common practice.
        fields=(
            Field("instance", 0, 8),
            Field("voltage", 8, 16, signed=True, scale=0.01),
            Field("current", 24, 16, signed=True, scale=0.1),
            celsius("temperature", 40),
            Field("sid", 56, 8),
        ),
    ),
    Layout(
        127506, "dc detail", "banks", fast=True, length=11, default_code=0, source=SOURCE,
        fields=(
            SID,
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
        127513, "battery configuration", "banks", fast=True, source=SOURCE,
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
        source=f"{SOURCE}, which mark its lengths and scales as uncertain",
        fields=(
            Field("instance", 0, 8),
            Field("charge", 8, 8),
            Field("time left", 16, 16),
            celsius("cell high temperature", 32),
            celsius("cell low temperature", 48),
            celsius("temperature", 64),
            Field("discharge limit", 80, 16, signed=True, scale=0.1),
            Field("charge limit", 96, 16, signed=True, scale=0.1),
            Field("cooling", 112, 4),
            Field("heating", 116, 4),
        ),
    ),
)  # fmt: skip

POWER = (
    Layout(
        127507, "charger status", "chargers", fast=True, length=6, source=SOURCE,
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
        127509, "inverter status", "inverters", fast=True, length=4, source=SOURCE,
        fields=(
            Field("instance", 0, 8),
            Field("ac instance", 8, 8),
            Field("dc instance", 16, 8),
            Field("inverter state", 24, 4, codes=_INVERTER),
            Field("enabled", 28, 2, codes=OFF_ON),
        ),
    ),
    Layout(
        127751, "dc point", "", source=SOURCE,
        # The second implementation signs the voltage and sends two bytes more.
        fields=(
            SID,
            Field("instance", 8, 8),
            Field("voltage", 16, 16, scale=0.1),
            Field("current", 32, 24, signed=True, scale=0.01),
        ),
    ),
    Layout(
        127750, "converter status", "", source=SOURCE,
        fields=(
            SID,
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
        127503, "ac input", "supplies", fast=True, length=20, repeats=(16, 144), source=SOURCE,
        fields=_ac_line(Field("acceptability", 18, 2, codes=_ACCEPTABILITY)),
    ),
    Layout(
        127504, "ac output", "inverters", fast=True, length=20, repeats=(16, 144), source=SOURCE,
        fields=_ac_line(Field("waveform", 18, 3, codes=_WAVEFORM)),
    ),
)  # fmt: skip
