"""Where the boots lie that were never placed in UTC: in order, between their neighbours, no nearer."""

import contextlib
import sqlite3
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from monitor.clock import HOUR_S, MINUTE_S, Boot
from monitor.errors import StoreDamaged
from monitor.storage.hour import MINUTES, unpack_minutes


class Bracket(NamedTuple):
    """A boot whose time is uncertain: none of its rows is older or younger than this. None: no bound."""

    boot: int
    earliest_utc_s: float | None
    latest_utc_s: float | None
    seconds: float
    """How long its own rows span at least."""


class Lived(NamedTuple):
    """A boot's own length and, where it is placed, its first and last row in UTC."""

    boot: int
    seconds: float
    start_utc_s: float | None = None
    end_utc_s: float | None = None


class _Reach(NamedTuple):
    """Elapsed seconds: the first row is no later than `first_s`, the last no earlier than `last_s`."""

    first_s: float
    last_s: float


_NOTHING = _Reach(0.0, 0.0)


def brackets(connection: sqlite3.Connection, boots: Sequence[Boot]) -> list[Bracket]:
    """Of all boots that are not placed, oldest first. The bounds are as good as the neighbours' clocks."""
    beside = {boot.number for pair in pairwise(boots) if not all(b.placed for b in pair) for boot in pair}
    wanted = [boot for boot in boots if boot.number in beside or not boot.placed]
    return bracketed(_lived(boot, _reach(connection, boot.number) or _NOTHING) for boot in wanted)


def bracketed(boots: Iterable[Lived]) -> list[Bracket]:
    """The pure part: `boots` in their order, those that touch no unplaced one may be left out."""
    found: list[Bracket] = []
    run: list[Lived] = []
    after_s: float | None = None
    for lived in boots:
        if lived.start_utc_s is None:
            run.append(lived)
        else:
            found += _narrowed(run, after_s, lived.start_utc_s)
            run, after_s = [], lived.end_utc_s
    return found + _narrowed(run, after_s, None)


def _narrowed(run: list[Lived], after_s: float | None, before_s: float | None) -> list[Bracket]:
    """Unplaced boots in a row: each leaves room for those before and after it.

    Neighbours that leave too little room contradict each other, and bound nothing.
    """
    passed_s, ahead_s = 0.0, sum(lived.seconds for lived in run)
    if after_s is not None and before_s is not None and before_s - after_s < ahead_s:
        after_s = before_s = None
    found = []
    for lived in run:
        ahead_s -= lived.seconds
        earliest_s = None if after_s is None else after_s + passed_s
        latest_s = None if before_s is None else before_s - ahead_s
        found.append(Bracket(lived.boot, earliest_s, latest_s, lived.seconds))
        passed_s += lived.seconds
    return found


def _lived(boot: Boot, reach: _Reach) -> Lived:
    seconds = max(0.0, reach.last_s - reach.first_s)
    return Lived(boot.number, seconds, boot.utc_s(reach.first_s), boot.utc_s(reach.last_s))


# Events are left out: a night or a gap is told by its own times, which may lie before the boot.
_TOLD = f"""
SELECT min(first_s), max(last_s) FROM (
  SELECT min(at_s) AS first_s, max(at_s) AS last_s FROM alert_changes WHERE boot = :boot
  UNION ALL SELECT min(elapsed_s), max(elapsed_s) FROM anchors WHERE boot = :boot
  UNION ALL SELECT (min(minute) + 1) * {MINUTE_S}, max(minute) * {MINUTE_S} FROM hot WHERE boot = :boot
)"""
_HOURS = """
SELECT min((SELECT min(hour) FROM hours WHERE channel = id AND boot = :boot)),
       max((SELECT max(hour) FROM hours WHERE channel = id AND boot = :boot))
FROM channels"""


def _reach(connection: sqlite3.Connection, boot: int) -> _Reach | None:
    """To the minute, or to the hour where minutes are no longer kept; None where nothing is stored."""
    found = [connection.execute(_TOLD, {"boot": boot}).fetchone()]
    first, last = connection.execute(_HOURS, {"boot": boot}).fetchone()
    if first is not None:
        found.append(((first + 1) * HOUR_S, last * HOUR_S))
        rows = connection.execute(
            "SELECT hour, block FROM minutes WHERE boot = ? AND hour IN (?, ?)", (boot, first, last)
        )
        for hour, block in rows:
            with contextlib.suppress(StoreDamaged):
                own = hour * MINUTES + unpack_minutes(block, 1.0).minute
                found.append(((int(own[0]) + 1) * MINUTE_S, int(own[-1]) * MINUTE_S))
    known = [reach for reach in found if reach[0] is not None]
    if not known:
        return None
    return _Reach(float(min(first for first, _ in known)), float(max(last for _, last in known)))
