"""Which rows of events may touch a span of UTC: found by an index, so that a year of pump runs is not read.

Short events are found by their begin. The few that last longer have an index of their own, by their end.
"""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

from monitor.clock import HOUR_S, Boot, Interval
from monitor.records import EventKind
from monitor.storage.rows import named

LONG = f"end_s - start_s > {HOUR_S}"
"""Stands in the index, too: with another figure it needs another migration."""
_LEEWAY_S = 1.0
"""More than the rounding of times in UTC."""

# A boot at a time, each found from the one before: a DISTINCT would read every row's entry.
_BOOTS = """
WITH RECURSIVE found(boot) AS (
  SELECT min(boot) FROM events
  UNION ALL SELECT (SELECT min(boot) FROM events WHERE boot > found.boot) FROM found WHERE boot NOT NULL
) SELECT boot FROM found WHERE boot NOT NULL"""
_OF_ANY_TIME = "SELECT * FROM events WHERE boot = :boot {of_kind} ORDER BY start_s, id"
_NEAR = f"""
SELECT * FROM events WHERE boot = :boot AND start_s >= :start_s - {HOUR_S} AND start_s < :end_s {{of_kind}}
  AND NOT coalesce({LONG}, FALSE)
UNION ALL
SELECT * FROM events WHERE boot = :boot AND {LONG} AND end_s >= :start_s AND +start_s < :end_s {{of_kind}}
ORDER BY start_s, id"""
# The plus keeps SQLite from taking the index by begin, which would read every event before.


def near(
    connection: sqlite3.Connection, places: Mapping[int, Boot], kind: EventKind | None, during: Interval
) -> Iterator[dict[str, Any]]:
    """All rows that touch `during` and few others, and every row of a boot that is not placed.

    In the order of boots and, within one, of time; of all kinds where `kind` is None.
    """
    of_kind = "" if kind is None else "AND kind = :kind"
    for (number,) in connection.execute(_BOOTS).fetchall():
        query, values = _OF_ANY_TIME, {"boot": number, "kind": kind and kind.value}
        if number in places and places[number].placed:
            query, own = _NEAR, _elapsed(places[number], during)
            values |= {"start_s": own.start_s, "end_s": own.end_s}
        yield from named(connection, query.format(of_kind=of_kind), values)


def changes_near(
    connection: sqlite3.Connection, places: Mapping[int, Boot], during: Interval
) -> Iterator[dict[str, Any]]:
    """The rows of alerts' changes in `during`, few others, and all of boots that are not placed, in order.

    Their times are read alone first: that is a fraction of the rows.
    """
    own = {number: _elapsed(boot, during) for number, boot in places.items() if boot.placed}
    ids = [
        id
        for id, boot, at_s in connection.execute("SELECT id, boot, at_s FROM alert_changes")
        if boot not in own or own[boot].start_s <= at_s < own[boot].end_s
    ]
    query = "SELECT * FROM alert_changes WHERE id IN (SELECT value FROM json_each(:ids)) ORDER BY id"
    yield from named(connection, query, {"ids": json.dumps(ids)})


def _elapsed(boot: Boot, during: Interval) -> Interval:
    """A placed boot's own time in which all of `during` lies: between anchors it is ahead of its own clock by
    no less and no more than at them."""
    ahead_s = [anchor.utc_s - anchor.elapsed_s for anchor in boot.anchors]
    return Interval(during.start_s - max(ahead_s) - _LEEWAY_S, during.end_s - min(ahead_s) + _LEEWAY_S)
