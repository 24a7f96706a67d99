"""A minute of all channels as one block: what is written each minute until its hour is full.

ids (2 bytes a channel, so that a block can wait in memory before its channels are stored)
then deflated: counts, surplus readings, how far below and above the grid the full rate went,
covered seconds, integrals, seconds of the grid, values in steps
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.errors import StoreDamaged
from monitor.storage.codec import (
    NOTHING,
    Floats,
    Ints,
    deflate,
    differences,
    inflate,
    planes,
    quantise,
    seal,
    sums,
    unplanes,
    unseal,
    unzigzag,
    zigzag,
)
from monitor.storage.digest import Digest

_BY_CHANNEL = 19
"""Bytes of a channel in the body beside its samples."""


@dataclass(frozen=True, slots=True)
class Block:
    """A digest in steps: `ids` by channel, values as whole numbers (NOTHING for none)."""

    ids: NDArray[np.uint16]
    counts: NDArray[np.int64]
    slots: NDArray[np.int64]
    values: Ints
    n: NDArray[np.int64]
    low: Ints
    high: Ints
    integral: Floats
    covered_s: Floats

    def only(self, channel: int) -> "Block | None":
        """The part of one channel."""
        at = np.flatnonzero(self.ids == channel)
        if not len(at):
            return None
        start = int(self.counts[: at[0]].sum())
        own = slice(start, start + int(self.counts[at[0]]))
        sums = (self.integral[at], self.covered_s[at])
        bounds = (self.n[at], self.low[at], self.high[at])
        return Block(self.ids[at], self.counts[at], self.slots[own], self.values[own], *bounds, *sums)


def body_of(digest: Digest) -> bytes:
    """The block without its ids."""
    counts = digest.counts
    values = quantise(digest.values, np.repeat(digest.steps, counts))
    low, high = _bounds(values, counts)
    below = zigzag(low - quantise(digest.low, digest.steps))
    above = zigzag(quantise(digest.high, digest.steps) - high)
    slots = differences(digest.slots.astype(np.int32)).astype(np.uint8)
    sums = np.concatenate((digest.covered_s, digest.integral)).astype("<f4")
    return deflate(
        b"".join(
            (
                counts.astype(np.uint8).tobytes(),
                digest.n.clip(0, 2**16 - 1).astype("<u2").tobytes(),
                planes(below),
                planes(above),
                planes(sums),
                slots.tobytes(),
                planes(zigzag(differences(values))),
            )
        ),
        zlib.Z_FILTERED,
    )


def block_of(ids: Sequence[int], body: bytes) -> bytes:
    return seal(np.array(ids, "<u2").tobytes() + body + len(ids).to_bytes(2, "little"))


def read_block(blob: bytes) -> Block:
    """Raises StoreDamaged."""
    whole = unseal(blob)
    size = int.from_bytes(whole[-2:], "little")
    ids = np.frombuffer(whole[: 2 * size], "<u2")
    body = inflate(whole[2 * size : -2])
    counts = np.frombuffer(body[:size], np.uint8).astype(np.int64)
    total = int(counts.sum())
    if len(body) != _BY_CHANNEL * size + 5 * total:
        raise StoreDamaged("a stored minute has the wrong length")
    n = np.frombuffer(body[size : 3 * size], "<u2").astype(np.int64)
    below, above = (unzigzag(unplanes(body[at * size : (at + 4) * size])) for at in (3, 7))
    covered, integral = unplanes(body[11 * size : 19 * size]).view("<f4").astype(float).reshape(2, -1)
    at = _BY_CHANNEL * size
    slots = sums(np.frombuffer(body[at : at + total], np.int8).astype(np.int32)).astype(np.int64)
    values = sums(unzigzag(unplanes(body[at + total :])))
    low, high = _bounds(values, counts)
    return Block(ids, counts, slots, values, n, low - below, high + above, integral, covered)


def _bounds(values: Ints, counts: NDArray[np.int64]) -> tuple[Ints, Ints]:
    """Lowest and highest known value of each channel, NOTHING where there is none."""
    low = np.full(len(counts), NOTHING, np.int32)
    high = low.copy()
    some = counts > 0
    if some.any():
        starts = (np.cumsum(counts) - counts)[some]
        low[some] = np.minimum.reduceat(np.where(values == NOTHING, 2**31 - 1, values), starts)
        high[some] = np.maximum.reduceat(values, starts)
        low[high == NOTHING] = NOTHING
    return low, high
