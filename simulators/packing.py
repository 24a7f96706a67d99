"""Many messages of one kind at once: columns of numbers to columns of payloads.

The rows are those of `monitor.wire`, or of a DBC file; what stays the same in all the messages
is encoded once by the layout itself, and only the fields that change are laid over it.
"""

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.wire.layout import Field, Layout

Floats = NDArray[np.float64]
DBC = Path(__file__).with_name("marram_bms.dbc")


@cache
def bms_layouts() -> dict[str, Layout]:
    """The messages of *Marram*'s BMS by name, from its DBC file."""
    import cantools

    book = cantools.database.can.database.Database()
    book.add_dbc_file(DBC)
    layouts = {}
    for message in book.messages:
        fields = tuple(
            Field(s.name, s.start, s.length, s.is_signed, float(s.scale), float(s.offset), kind="bits")
            for s in message.signals
        )
        layouts[message.name] = Layout(
            message.frame_id, message.name, "", fields, length=message.length, source=DBC.name
        )
    return layouts


def pack(layout: Layout, same: Mapping[str, float], changing: Mapping[str, Floats]) -> list[bytes]:
    """One payload for each row of `changing`; NaN is "not available".

    Raises ValueError where a number does not fit its field.
    """
    template = np.frombuffer(layout.encode(same), np.uint8)
    count = len(next(iter(changing.values())))
    out = np.tile(template, (count, 1))
    for name, values in changing.items():
        _lay(out, layout.fields[layout.place[name]], values)
    whole, size = out.tobytes(), layout.length
    return [whole[at : at + size] for at in range(0, count * size, size)]


def _lay(out: NDArray[np.uint8], field: Field, values: Floats) -> None:
    known = np.isfinite(values)
    raw = np.rint((np.where(known, values, field.offset) - field.offset) / field.scale).astype(np.int64)
    lowest = -(1 << (field.bits - 1)) if field.signed else 0
    if raw.min() < lowest or raw.max() > field.highest:
        raise ValueError(f"{field.name}: {values.min():g} to {values.max():g} does not fit {field.bits} bits")
    raw = np.where(known, raw, field.absent)
    byte, shift = divmod(field.bit, 8)
    ones = (1 << field.bits) - 1
    bits = (raw & ones) << shift
    for n in range((shift + field.bits + 7) // 8):
        mask = ones << shift >> 8 * n & 0xFF
        out[:, byte + n] = out[:, byte + n] & (0xFF ^ mask) | (bits >> 8 * n & mask).astype(np.uint8)
