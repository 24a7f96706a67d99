"""RV-C messages that are read, by data group number (DGN).

Percent, volt, ampere and temperature scales are those of RV-C table 5.3. Places and scales of the
rest are facts stated in the comments of public implementations (the standard, "RV-C Full Layer" of
RVIA, could not be opened). Layouts marked `certain=False` are, in whole or in part, from memory:
check them against your device before you trust them.
"""

from functools import partial

from monitor.wire.layout import Field, Layout

_SOURCE = "RV-C table 5.3 and public implementations"
_MEMORY = "layout from memory"

_Field = partial(Field, kind="rvc")
_INSTANCE = _Field("instance", 0, 8)
_PRIORITY = _Field("priority", 8, 8)
_OFF_ON = {0: "no", 1: "yes"}
_CHARGER = {
    1: "not charging", 2: "bulk", 3: "absorption", 4: "overcharge", 5: "equalise", 6: "float",
    7: "constant voltage or current",
}  # fmt: skip
_BATTERIES = {
    0: "flooded", 1: "gel", 2: "AGM", 3: "lithium polymer", 4: "LiFePO4", 5: "NiCd", 6: "NiMH",
}  # fmt: skip
_LIMITS = (
    "high voltage limit", "high voltage disconnect", "low voltage limit", "low voltage disconnect",
)  # fmt: skip


def _volts(name: str, bit: int) -> Field:
    return _Field(name, bit, 16, scale=0.05)


def _amperes(name: str, bit: int) -> Field:
    """Unsigned with an offset: no current is 7D00h."""
    return _Field(name, bit, 16, scale=0.05, offset=-1600.0)


def _percent(name: str, bit: int) -> Field:
    return _Field(name, bit, 8, scale=0.5)


_DC_SOURCE = (
    Layout(
        0x1FFFD, "dc source 1", "banks", source=f"{_SOURCE}; table 6.5.2b",
        # Positive is out of the source: the opposite of the usual shunt.
        current_out_positive=True,
        fields=(
            _INSTANCE,
            _PRIORITY,
            _volts("voltage", 16),
            _Field("current", 32, 32, scale=0.001, offset=-2e6),
        ),
    ),
    Layout(
        0x1FFFC, "dc source 2", "banks", source=_SOURCE,
        fields=(
            _INSTANCE,
            _PRIORITY,
            _Field("temperature", 16, 16, scale=0.03125, offset=-273.0),
            _percent("charge", 32),
            _Field("time left", 40, 16),
        ),
    ),
    Layout(
        0x1FFFB, "dc source 3", "banks", source=_SOURCE,
        fields=(
            _INSTANCE,
            _PRIORITY,
            _percent("health", 16),
            _Field("remaining", 24, 16),
            _percent("relative capacity", 40),
            _Field("ripple", 48, 16, scale=0.001),
        ),
    ),
    Layout(
        0x1FEC9, "dc source 4", "banks", source=_SOURCE,
        fields=(
            _INSTANCE,
            _PRIORITY,
            _Field("desired state", 16, 8, codes=_CHARGER),
            _volts("desired voltage", 24),
            _amperes("desired current", 40),
            _Field("battery type", 56, 4, codes=_BATTERIES),
        ),
    ),
    Layout(
        0x1FEC8, "dc source 5", "banks", source=_SOURCE,
        fields=(
            _INSTANCE,
            _PRIORITY,
            _Field("voltage", 16, 32, scale=0.001),
            # In V/s.
            _Field("voltage change", 48, 16, scale=0.001, offset=-32.0),
        ),
    ),
    Layout(
        0x1FEC7, "dc source 6", "banks", source=_SOURCE,
        fields=(
            _INSTANCE,
            _PRIORITY,
            *(_Field(name, 16 + 2 * n, 2, codes=_OFF_ON) for n, name in enumerate(_LIMITS)),
        ),
    ),
)  # fmt: skip

_OTHERS = (
    Layout(
        0x1FED0, "dc disconnect", "", source=_SOURCE,
        fields=(
            _INSTANCE,
            _Field("contactor closed", 8, 2, codes=_OFF_ON),
            _Field("last command", 10, 2, codes=_OFF_ON),
            _Field("bypass", 12, 2, codes=_OFF_ON),
        ),
    ),
    Layout(
        0x1FFC7, "charger status", "chargers", source=_SOURCE,
        fields=(
            _INSTANCE,
            _volts("voltage", 8),
            _amperes("current", 24),
            _percent("share of maximum current", 40),
            _Field("charger state", 48, 8, codes=_CHARGER),
            _Field("on at power-up", 56, 2, codes=_OFF_ON),
            _Field("automatic recharge", 58, 2, codes=_OFF_ON),
            _Field("forced charge", 60, 4, codes={0: "cancel", 1: "bulk", 2: "float"}),
        ),
    ),
    Layout(
        0x1FEA3, "charger status 2", "chargers", source=_SOURCE,
        fields=(
            _INSTANCE,
            _Field("battery instance", 8, 8),
            _Field("priority", 16, 8),
            _volts("voltage", 24),
            _amperes("current", 40),
            _Field("temperature", 56, 8, offset=-40.0),
        ),
    ),
    Layout(
        0x1FFDC, "generator status 1", "engines", source=_SOURCE,
        fields=(
            # 1 preheating, 2 cranking, 4 priming, 5 fault; 6 is the engine only.
            _Field("running", 0, 8, codes={
                0: "no", 3: "yes", 1: "no", 2: "no", 4: "no", 5: "no", 6: "yes",
            }),
            _Field("hours", 8, 32, scale=1 / 60),
            _percent("engine load", 40),
            _volts("start battery voltage", 48),
        ),
    ),
    Layout(
        0x1FFDB, "generator status 2", "engines", certain=False,
        source=f"{_SOURCE}; places in the order of the fields, oil pressure of 4 kPa/bit from memory",
        fields=(
            _Field("over temperature", 0, 2, codes=_OFF_ON),
            _Field("low oil pressure", 2, 2, codes=_OFF_ON),
            _Field("low oil level", 4, 2, codes=_OFF_ON),
            _Field("caution", 6, 2, codes=_OFF_ON),
            _Field("coolant temperature", 8, 8, offset=-40.0),
            _Field("oil pressure", 16, 8, scale=0.04),
            _Field("speed", 24, 16, scale=0.125),
            _Field("fuel rate", 40, 16, scale=0.05),
        ),
    ),
    Layout(
        0x1FFB7, "tank status", "tanks", certain=False, source=_MEMORY,
        # Instances 0 fresh water, 1 black, 2 grey, 3 gas, from 16 on the second of each.
        fields=(
            _INSTANCE,
            _Field("level", 8, 8, scale=100.0, per="resolution"),
            _Field("resolution", 16, 8),
            _Field("volume", 24, 16),
            _Field("capacity", 40, 16),
        ),
    ),
    Layout(
        0x1FFB3, "water pump status", "pumps", certain=False, source=_MEMORY,
        fields=(
            _Field("enabled", 0, 2, codes=_OFF_ON),
            _Field("running", 2, 2, codes=_OFF_ON),
            _Field("hookup", 4, 2, codes=_OFF_ON),
            _Field("system pressure state", 6, 2, codes=_OFF_ON),
            _Field("pressure", 8, 16, scale=0.001),
            _Field("pump pressure setting", 24, 16, scale=0.001),
            _Field("regulator pressure setting", 40, 16, scale=0.001),
            _Field("current", 56, 8),
        ),
    ),
)  # fmt: skip

LAYOUTS: dict[int, Layout] = {layout.number: layout for layout in (*_DC_SOURCE, *_OTHERS)}
