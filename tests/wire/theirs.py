"""How the nmea2000 package's fields answer to ours: by their place in the message, not by name.

Its tables are generated from the published definitions, so equal places and widths are a check of
ours. Its units are SI (kelvin, pascal, radian, coulomb, second).
"""

import math
from collections.abc import Iterator
from functools import cache
from typing import Any

from nmea2000 import _canboat, backend  # the package's own table and decoder

from monitor.wire.codes import STATES
from monitor.wire.layout import Field, Layout

BY_UNIT = {
    "K": lambda v: v - 273.15,
    "Pa": lambda v: v / 1e5,
    "rad": math.degrees,
}
BY_NAME = {
    "time left": 60.0, "equalisation left": 60.0, "local offset": 60.0, "hours": 3600.0,
    "remaining": 1.0, "rated capacity": 1.0,
}  # fmt: skip
"""How many of theirs is one of ours."""


@cache
def _fields(number: int) -> dict[tuple[int, int], str]:
    """Their field ids by first bit and width."""
    (info,) = _canboat.Database("si").pgn_variants(number)
    return {(f.bit_offset, f.bit_length): f.id for f in info.fields}


def pairs(layout: Layout) -> Iterator[tuple[int, Field, str]]:
    """(place, our field, their id) of every field that the wire carries."""
    ids = _fields(layout.number)
    for at, field in enumerate(layout.fields):
        if field.bits == 0:
            continue
        if (layout.number, field.name) == (60928, "device instance"):
            continue  # Theirs are its lower 3 and upper 5 bits.
        yield at, field, ids[field.bit, field.bits]


def decode(number: int, payload: bytes) -> list[dict[str, Any]]:
    """Their fields by id, a dict for each line of a message that repeats."""
    message = backend.decode(number, payload)
    assert message is not None
    head = {f.id: f for f in message.fields}
    lines = head.pop("##list##", None)
    return [head | line for line in lines.value] if lines is not None else [head]


def expected(field: Field, theirs: Any) -> float | None:
    """Our value of what they found in the field."""
    raw: float | None = theirs.raw_value
    if theirs.type.name in ("LOOKUP", "INDIRECT_LOOKUP"):
        return _code(field, theirs.raw_value)
    if field.name in ("date", "time") or theirs.type.name == "BITLOOKUP":
        return raw
    if theirs.value is None:
        return None
    value = float(theirs.value)
    if field.name in BY_NAME:
        return value / BY_NAME[field.name]
    unit = theirs.unit_of_measurement
    return BY_UNIT[unit](value) if unit in BY_UNIT else value


def _code(field: Field, raw: int) -> float | None:
    """They keep the codes for "not available" and "error" of a lookup; we do not."""
    if (states := STATES.get(field.name)) is not None:
        return states.index(field.codes[raw]) if raw in field.codes else None
    return raw if raw <= field.highest else None
