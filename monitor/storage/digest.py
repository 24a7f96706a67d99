"""One minute as it came in, put on the one-second grid and summed at full rate.

The grid keeps one sample a second: a channel that says more keeps its last of each second. The
sums see every reading. A reading stands until the next one, but no longer than its quantity's
`silent_after_s`: that is what is integrated, over minute borders too, so an hour's integral is
the sum of its minutes' and no gap is ever filled.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.channels import QUANTITIES, Quantity
from monitor.clock import MINUTE_S
from monitor.records import Column, Minute
from monitor.storage.codec import Floats
from monitor.storage.grid import place

_UNTOLD = Quantity("", "", float("-inf"), float("inf"), 0.001, 120)
_HOLD_WITHOUT_LIMIT_S = 120.0


def parts_of(name: str) -> tuple[str, Quantity]:
    """The subject and the quantity of a channel's name, by the longest quantity it ends with.

    A name that ends with no known quantity is stored all the same, in thousandths.
    """
    plain = name.partition(" (opinion ")[0]
    words = plain.split(" ")
    for first in range(1, len(words)):
        if quantity := QUANTITIES.get(" ".join(words[first:])):
            return " ".join(words[:first]), quantity
    return plain, _UNTOLD


class _Last(NamedTuple):
    """What a minute leaves to the next: the standing reading and the last second used."""

    at_s: float
    value: float
    second: int


_NONE = np.zeros(0)
_NEVER = _Last(-1e18, np.nan, -(2**53))


@dataclass(frozen=True, slots=True)
class Digest:
    """Arrays by channel, and flat ones by sample in the channels' order.

    A channel that said nothing but whose reading still stands has `counts` and `n` 0.
    """

    boot: int
    index: int
    names: tuple[str, ...]
    steps: Floats
    counts: NDArray[np.int64]
    slots: NDArray[np.int64]
    values: Floats
    n: NDArray[np.int64]
    low: Floats
    high: Floats
    integral: Floats
    covered_s: Floats


class Digester:
    """Turns minutes into digests. It remembers each channel's last reading."""

    def __init__(self) -> None:
        self._boot: int | None = None
        self._last: dict[str, _Last] = {}
        self._quantities: dict[str, Quantity] = {}

    def _quantity(self, name: str) -> Quantity:
        if name not in self._quantities:
            self._quantities[name] = parts_of(name)[1]
        return self._quantities[name]

    def digest(self, minute: Minute) -> Digest:
        if minute.boot != self._boot:
            self._boot, self._last = minute.boot, {}
        start_s = minute.index * MINUTE_S
        columns = {name: column for name, column in minute.columns.items() if len(column.times_s)}
        still = [
            name
            for name, last in self._last.items()
            if name not in columns and last.at_s + _hold_s(self._quantity(name)) > start_s
        ]
        names = (*columns, *still)
        lasts = [self._last.get(name, _NEVER) for name in names]
        quantities = [self._quantity(name) for name in names]
        holds = np.array([_hold_s(q) for q in quantities])
        steps = np.array([q.step for q in quantities])
        covered, integral = _lead_in(columns, lasts, holds, start_s)
        times, values, counts = _flat(columns, start_s)
        starts = np.cumsum(counts) - counts
        n, low, high, own_integral, own_covered = _sums(times, values, starts, counts, holds)
        here = len(columns)
        covered[:here] += own_covered
        integral[:here] += own_integral
        seconds = [last.second - start_s for last in lasts[:here]]
        since = [last.at_s - start_s for last in lasts[:here]]
        last_times, last_values = times[starts + counts - 1] + start_s, values[starts + counts - 1]
        kept, slots, counts = place(times, starts, counts, seconds, since)
        last_slots = slots[np.cumsum(counts) - 1] + start_s
        for name, *last in zip(columns, last_times, last_values, last_slots, strict=True):
            self._last[name] = _Last(*(number.item() for number in last))
        none, nan = np.zeros(len(still), np.int64), np.full(len(still), np.nan)
        return Digest(
            minute.boot,
            minute.index,
            names,
            steps,
            np.concatenate((counts, none)),
            slots,
            values[kept],
            np.concatenate((n, none)),
            np.concatenate((low, nan)),
            np.concatenate((high, nan)),
            integral,
            covered,
        )


def _hold_s(quantity: Quantity) -> float:
    return quantity.silent_after_s or _HOLD_WITHOUT_LIMIT_S


def _flat(columns: Mapping[str, Column], start_s: float) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Times from the minute's start, values and counts; each channel's times in order."""
    counts = np.array([len(c.times_s) for c in columns.values()], np.int64)
    times = np.concatenate([_NONE, *(np.asarray(c.times_s) for c in columns.values())]) - start_s
    values = np.concatenate([_NONE, *(np.asarray(c.values) for c in columns.values())])
    np.clip(times, 0.0, MINUTE_S, out=times)
    channel = np.repeat(np.arange(len(counts)), counts)
    if ((np.diff(times) < 0) & (np.diff(channel) == 0)).any():
        order = np.lexsort((times, channel))
        times, values = times[order], values[order]
    return times, values, counts


def _lead_in(
    columns: Mapping[str, Column], lasts: list[_Last], holds: Floats, start_s: float
) -> tuple[Floats, Floats]:
    """Seconds and integral of the readings that stood at the minute's start."""
    firsts = [column.times_s[0] - start_s for column in columns.values()]
    until = np.array(firsts + [MINUTE_S] * (len(lasts) - len(firsts)), float).clip(0.0, MINUTE_S)
    stood = np.array([last.at_s - start_s for last in lasts]) + holds
    value = np.array([last.value for last in lasts], float)
    known = ~np.isnan(value)
    covered = np.where(known, np.minimum(until, stood).clip(0.0), 0.0)
    return covered, covered * np.where(known, value, 0.0)


def _sums(
    times: Floats, values: Floats, starts: NDArray[np.int64], counts: NDArray[np.int64], holds: Floats
) -> tuple[NDArray[np.int64], Floats, Floats, Floats, Floats]:
    """n, low, high, integral and covered seconds of each channel's own readings."""
    until = np.empty_like(times)
    until[:-1] = times[1:]
    until[starts + counts - 1] = MINUTE_S
    stands = np.minimum(until - times, np.repeat(holds[: len(counts)], counts))
    known = ~np.isnan(values)
    stands = np.where(known, stands, 0.0)
    weighted = np.where(known, values, 0.0) * stands
    return (
        np.add.reduceat(known.astype(np.int64), starts),
        np.fmin.reduceat(values, starts),
        np.fmax.reduceat(values, starts),
        np.add.reduceat(weighted, starts),
        np.add.reduceat(stands, starts),
    )
