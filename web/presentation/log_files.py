"""The Log as a file: the lines that the page shows, all of them, the newest first.

Keys of our own, units in their names, times in UTC as ISO 8601. Where a line's time is not certain
"begin_utc" is empty, and "not_before_utc" and "not_after_utc" are what is known of it.
"""

import csv
import io
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

from monitor.records import AlertChange
from web.presentation.figures import Reader
from web.presentation.log_asked import Place
from web.presentation.log_lines import Line, told
from web.presentation.log_look import Found

A_PIECE = 2000
"""Lines that are read at once."""
COLUMNS = (
    "begin_utc", "not_before_utc", "not_after_utc", "lasted_s", "kind", "subject", "grade", "what", "more",
    "runs", "boot", "boot_s",
)  # fmt: skip
Row = dict[str, Any]
Read = Callable[[Place | None], Found]
"""Reads the lines that stand before a place."""


def rows(reader: Reader, found: Found) -> Iterator[Row]:
    for line in found.lines:
        what, more = told(reader, line)
        bracket = None if line.utc_s is not None else (found.brackets or {}).get(line.boot)
        earliest_s, latest_s = (None, None) if bracket is None else bracket[1:3]
        values = (
            _utc(line.utc_s), _utc(earliest_s), _utc(latest_s), round(line.lasted_s, 1), str(line.kind),
            line.subject, _grade(line), what, more, line.runs, line.boot, round(line.at_s, 1),
        )  # fmt: skip
        yield dict(zip(COLUMNS, values, strict=True))


def as_csv(reader: Reader, read: Read) -> Iterator[str]:
    """RFC 4180, in pieces. A text that a spreadsheet would take for a formula is led by an apostrophe."""
    yield _written([COLUMNS])
    for found in _pieces(read):
        yield _written([[_cell(row[c]) for c in COLUMNS] for row in rows(reader, found)])


def as_json(reader: Reader, read: Read) -> Iterator[str]:
    """An array of the same lines, in pieces."""
    lead = "["
    for found in _pieces(read):
        for row in rows(reader, found):
            yield f"{lead}\n{json.dumps(row, ensure_ascii=False, allow_nan=False)}"
            lead = ","
    yield "[]\n" if lead == "[" else "\n]\n"


def _pieces(read: Read) -> Iterator[Found]:
    place: Place | None = None
    while True:
        found = read(place)
        yield found
        if found.earlier is None:
            return
        place = found.earlier


def _written(table: Any) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(table)
    return out.getvalue()


def _cell(value: Any) -> str:
    if not isinstance(value, str):
        return "" if value is None else str(value)
    return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _grade(line: Line) -> str | None:
    return line.source.severity.value if isinstance(line.source, AlertChange) else None


def _utc(utc_s: float | None) -> str | None:
    return None if utc_s is None else datetime.fromtimestamp(round(utc_s), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
