"""A span's ledger as a file: lines that add up to what stands in the line "used", to the milliwatt-hour.

Columns of our own, units in their names, UTC as ISO 8601. Every `Wh` has three decimals and is exact as a
decimal number: those of the kinds "named", "standing" and "unexplained" are the line "used"; "unnamed" are
parts of "unexplained"; "source" and "unmetered" are the line "made"; made - used = net.
"""

import csv
import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from monitor.estimation.ledger import STANDING
from monitor.records import NightLedger
from web.presentation.night_parts import TOGETHER, UNEXPLAINED, apportioned, parts_of, usual_of

COLUMNS = ("kind", "name", "load", "energy_Wh", "on_s", "runs", "confidence", "usual_Wh")
UNIT_WH = 0.001
Row = dict[str, Any]


def rows(n: NightLedger) -> tuple[Row, ...]:
    """The ledger's lines, their energy as Decimal; None where it is not known."""
    return (*_used(n), *_made(n))


def _used(n: NightLedger) -> Iterator[Row]:
    parts = parts_of(n)
    if n.used_Wh is None:
        yield _row("used", "", None)
        return
    total, shown = apportioned(n.used_Wh, [p.Wh for p in parts.whole], UNIT_WH)
    for p, milli in (
        *zip(parts.whole, shown, strict=True),
        *((p, round(p.Wh / UNIT_WH)) for p in parts.unnamed),
    ):
        usual = None if n.usual is None or not n.usual.by_Wh else usual_of(p, n.usual, parts)
        yield _row("standing" if p.kind == STANDING else p.kind, p.name, milli) | {
            "load": p.load,
            "on_s": None if p.runs is None else round(sum(b - a for a, b in p.runs)),
            "runs": None if p.runs is None else len(p.runs),
            "confidence": None if p.kind in (UNEXPLAINED, TOGETHER) else round(p.confidence, 3),
            "usual_Wh": None if usual is None else _decimal(round(usual / UNIT_WH)),
        }
    usual_Wh = None if n.usual is None else _decimal(round(n.usual.used_Wh / UNIT_WH))
    yield _row("used", "", total) | {"usual_Wh": usual_Wh}


def _made(n: NightLedger) -> Iterator[Row]:
    if n.made_Wh is None:
        yield _row("made", "", None)
        return
    values = [s.Wh for s in n.made_by]
    total, shown = apportioned(n.made_Wh, [*values, n.made_Wh - sum(values)], UNIT_WH)
    for source, milli in zip(n.made_by, shown, strict=False):
        yield _row("source", source.what, milli)
    yield _row("unmetered", "", shown[-1])
    yield _row("made", "", total)
    if n.used_Wh is not None:
        yield _row("net", "", total - round(n.used_Wh / UNIT_WH))


def _row(kind: str, name: str, milli: int | None) -> Row:
    empty: Row = dict.fromkeys(COLUMNS)
    return empty | {"kind": kind, "name": name, "energy_Wh": None if milli is None else _decimal(milli)}


def _decimal(milli: int) -> Decimal:
    return Decimal(milli).scaleb(-3)


def as_csv(n: NightLedger) -> str:
    """RFC 4180. A name that a spreadsheet would take for a formula is led by an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("begin_utc", "end_utc", *COLUMNS))
    for row in rows(n):
        values = ["" if row[c] is None else str(row[c]) for c in COLUMNS]
        writer.writerow((_utc(n.start_s), _utc(n.end_s), *map(_plain, values)))
    return out.getvalue()


def _plain(text: str) -> str:
    number = text.lstrip("-")[:1].isdigit()
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") and not number else text


def as_json(n: NightLedger) -> str:
    """The same lines, and what is no energy."""
    told = {
        "begin_utc": _utc(n.start_s),
        "end_utc": _utc(n.end_s),
        "place": n.place or None,
        "lines": [{c: _number(row[c]) for c in COLUMNS} for row in rows(n)],
        "not_heard_s": round(n.missing_s, 1),
        "gaps_utc": [[_utc(a), _utc(b)] for a, b in n.gaps],
        "made_is_estimated": n.made_estimated,
        "charge_at_begin_pct": n.dusk_pct,
        "charge_at_end_pct": n.dawn_pct,
        "lowest_V": dict(n.lowest_V),
        "water_L": n.water_L,
        "pump_starts": n.pump_starts,
        "usual_nights": None if n.usual is None else n.usual.nights,
    }
    return json.dumps(told, ensure_ascii=False, indent=1, allow_nan=False)


def _number(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


def _utc(utc_s: float) -> str:
    return datetime.fromtimestamp(round(utc_s), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
