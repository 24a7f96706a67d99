"""A message layout is data: rows of fields, compiled once into one function that decodes them.

Little-endian throughout; bit 0 is the lowest bit of byte 0. Decoded values are in the units used
inside (V, A, W, °C, bar, L, %, h, min, °, rpm, Hz); None where the sender said "not available",
"error" or a code that the standard reserves.
"""

import struct
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from monitor.errors import UndecodableError
from monitor.wire.codes import STATES

Values = tuple[float | None, ...]

_CODES_ON_TOP = {"number": 3, "rvc": 5}
"""From 8 bits on, how many of the highest raw numbers are no readings."""

_STRUCT_CODES = {(8, False): "B", (16, False): "H", (32, False): "I", (64, False): "Q"}
_STRUCT_CODES |= {(bits, True): code.lower() for (bits, _), code in _STRUCT_CODES.items() if bits > 8}


@dataclass(frozen=True)
class Field:
    """Where one number sits in a message: value = (raw + offset / scale) * scale.

    `bits` 0 is a constant, `offset`. `codes` gives raw numbers their words; if the name has a row
    in `codes.STATES` the value is the word's place there. `per` names the field whose raw number
    this one is a fraction of. `kind` sets which raw numbers are codes instead of readings:
    "number" and "rvc" as those standards have it, "bits" where every number is meant.
    """

    name: str
    bit: int
    bits: int
    signed: bool = False
    scale: float = 1.0
    offset: float = 0.0
    codes: Mapping[int, str] = field(default_factory=dict, hash=False)
    kind: str = "number"
    per: str = ""

    @property
    def highest(self) -> int:
        """The highest raw number that is a reading.

        NMEA 2000: all ones is "not available", one less "error", and from 8 bits on one less
        again is reserved. RV-C: data end at 250 and at 65530. A code with a word is always meant.
        """
        ones = (1 << (self.bits - self.signed)) - 1
        if self.kind == "bits" or self.bits < 2:
            return ones
        codes = _CODES_ON_TOP[self.kind] if self.bits >= 8 else 1 if self.bits == 3 else 2
        return max(ones - codes, *self.codes, 0)

    @property
    def absent(self) -> int:
        """The raw number that says "not available"."""
        return 0 if self.kind == "bits" else (1 << (self.bits - self.signed)) - 1

    def scaled(self, raw: str) -> str:
        """The Python expression for the value of the raw number called `raw`.

        It divides by a whole number where the scale is the inverse of one: 1278 / 100 is 12.78,
        1278 * 0.01 is 12.780000000000001.
        """
        whole = round(1 / self.scale)
        if whole < 1 or abs(whole * self.scale - 1) > 1e-9:
            return f"{raw} * {self.scale!r}" + (f" + {self.offset!r}" if self.offset else "")
        shift = round(self.offset * whole, 6)
        sum_ = f"({raw} + {int(shift) if shift.is_integer() else shift})" if shift else raw
        return sum_ if whole == 1 else f"{sum_} / {whole}"

    def table(self) -> tuple[float | None, ...]:
        """The value of every raw number, for fields inside one byte."""
        value = eval(f"lambda raw: {self.scaled('raw')}")
        half = 1 << (self.bits - 1)
        raws = [raw - 2 * half if self.signed and raw >= half else raw for raw in range(2 * half)]
        if (states := STATES.get(self.name)) is not None:
            return tuple(states.index(self.codes[raw]) if raw in self.codes else None for raw in raws)
        return tuple(value(raw) if raw <= self.highest else None for raw in raws)

    def raw(self, value: float | None) -> int:
        """The raw number nearest to `value`, as unsigned bits. Raises ValueError where none is."""
        if value is None:
            return self.absent
        if (states := STATES.get(self.name)) is not None:
            word = states[int(value)]
            said = [raw for raw, meaning in self.codes.items() if meaning == word]
            if not said:
                raise ValueError(f"{self.name} has no code for {word!r}")
            number = said[0]
        else:
            number = round((value - self.offset) / self.scale)
        lowest = -(1 << (self.bits - 1)) if self.signed else 0
        if not lowest <= number <= self.highest:
            raise ValueError(f"{self.name} {value} does not fit its {self.bits} bits")
        return number & ((1 << self.bits) - 1)


@dataclass(frozen=True, eq=False)
class Layout:
    """One message of a standard. `number` is its PGN or DGN, `name` what a feed calls it.

    `subject` is the group of the settings whose feeds take the message by default; empty means
    only feeds that name it. `default_code` is the "code" that such a feed means if it gives none.
    `fast` marks fast packets, `length` the payload's bytes, `repeats` the first bit and the
    length in bits of a group that comes once for each of "lines". `certain` is False where the
    layout is not taken from a published table. `source` says where it is taken from.
    """

    number: int
    name: str
    subject: str
    fields: tuple[Field, ...]
    fast: bool = False
    repeats: tuple[int, int] | None = None
    certain: bool = True
    source: str = ""
    length: int = 8
    default_code: int | None = None
    current_out_positive: bool = False
    decode: Callable[[bytes], Values] = field(init=False, repr=False)
    """The values of a payload in the order of `fields`, of the first line if it repeats.
    Raises UndecodableError if the payload is too short."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "decode", _compile(self))

    @cached_property
    def place(self) -> Mapping[str, int]:
        """Where in `fields` the field of a name is."""
        return {f.name: at for at, f in enumerate(self.fields)}

    @property
    def least(self) -> int:
        """How many bytes hold every field."""
        return max((f.bit + f.bits + 7) // 8 for f in self.fields)

    def decode_all(self, payload: bytes) -> list[Values]:
        """The values of each line of a message that repeats; the single one of any other."""
        if self.repeats is None:
            return [self.decode(payload)]
        start, size = self.repeats[0] // 8, self.repeats[1] // 8
        lines = payload[start - 1] if len(payload) >= start else 0
        if len(payload) < start or len(payload) < start + lines * size:
            raise UndecodableError(f"{self.name} ({self.number}): {len(payload)} bytes for {lines} lines")
        head = payload[:start]
        parts = range(start, start + lines * size, size)
        return [self.decode(head + payload[at : at + size]) for at in parts]

    def encode(self, values: Mapping[str, float | None]) -> bytes:
        """The payload that says `values` by field name; absent and None are "not available".

        Raises ValueError for a value that does not fit, KeyError for a name that has no field.
        """
        if unknown := values.keys() - self.place.keys():
            raise KeyError(f"{self.name} has no field {', '.join(sorted(unknown))}")
        payload = (1 << (8 * self.length)) - 1
        for f in self.fields:
            mask = ((1 << f.bits) - 1) << f.bit
            value = values.get(f.name)
            if value is not None and f.per:
                value *= values.get(f.per) or 0.0
            payload = payload & ~mask | f.raw(value) << f.bit if f.bits else payload
        return payload.to_bytes(self.length, "little")


def _compile(layout: Layout) -> Callable[[bytes], Values]:
    """A function made of the layout's rows: one unpack, one expression for each field.

    Fields inside one byte are looked up in a table of every raw number, wider ones compared
    with the highest reading and scaled.
    """
    names: dict[str, object] = {"error": struct.error}
    pieces = _pieces(layout.fields)
    values = ", ".join(_value(f, layout, names) for f in layout.fields)
    code, end = "<", 0
    for byte, (letter, size) in sorted(pieces.items()):
        code += f"{byte - end}x{letter}" if byte > end else letter
        end = byte + size
    code += f"{max(0, layout.length - end)}x"
    whole = struct.Struct(code)

    def fit(data: bytes) -> bytes:
        if len(data) < layout.least:
            text = f"{layout.name} ({layout.number}): {len(data)} bytes, expected {layout.least} or more"
            raise UndecodableError(text)
        return data[: whole.size].ljust(whole.size, b"\xff")

    names |= {"unpack": whole.unpack, "fit": fit}
    heads = "".join(f"v{byte}, " for byte in sorted(pieces))
    lines = (
        "def decode(data):",
        "    try:",
        f"        {heads}= unpack(data)",
        "    except error:",
        f"        {heads}= unpack(fit(data))",
        f"    return ({values},)",
    )
    exec("\n".join(lines), names)
    decode: Callable[[bytes], Values] = names["decode"]  # type: ignore[assignment]
    return decode


def _pieces(fields: Sequence[Field]) -> dict[int, tuple[str, int]]:
    """The struct code and size at each byte that some field begins or lies in."""
    pieces: dict[int, tuple[str, int]] = {}
    for f in fields:
        code = _STRUCT_CODES.get((f.bits, f.signed))
        if f.bit % 8 == 0 and code is not None:
            pieces[f.bit // 8] = (code, f.bits // 8)
        elif f.bit % 8 == 0 and f.bits == 24:
            pieces[f.bit // 8] = ("H", 2)
            pieces[f.bit // 8 + 2] = ("b" if f.signed else "B", 1)
        else:
            pieces |= dict.fromkeys(range(f.bit // 8, (f.bit + f.bits + 7) // 8), ("B", 1))
    return pieces


def _value(f: Field, layout: Layout, names: dict[str, object]) -> str:
    """The expression for one field of `layout`; what it refers to is added to `names`."""
    byte, shift = divmod(f.bit, 8)
    if f.bits == 0:
        return repr(f.offset)
    if f.per:
        full = layout.fields[layout.place[f.per]]
        raw, whole = f"v{byte}", f"v{full.bit // 8}"
        fits = f"{raw} <= {f.highest} and 0 < {whole} <= {full.highest}"
        return f"{raw} * {f.scale!r} / {whole} if {fits} else None"
    if shift + f.bits <= 8:
        table = f.table()
        mask = (1 << f.bits) - 1
        names[f"t{f.bit}"] = tuple(table[byte_ >> shift & mask] for byte_ in range(256))
        return f"t{f.bit}[v{byte}]"
    if shift == 0 and f.bits in (16, 32, 64):
        raw = f"v{byte}"
    elif shift == 0 and f.bits == 24:
        raw = f"(v{byte} | v{byte + 2} << 16)"
    else:
        parts = range(byte, (f.bit + f.bits + 7) // 8)
        joined = " | ".join(f"v{at} << {8 * (at - byte)}" for at in parts)
        raw = f"(({joined}) >> {shift} & {(1 << f.bits) - 1})"
    if f.kind == "bits":
        return f.scaled(raw)
    return f"{f.scaled(raw)} if {raw} <= {f.highest} else None"
