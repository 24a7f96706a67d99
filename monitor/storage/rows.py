"""The tidy nouns as rows and back: one statement and one pair of functions for each table."""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any, NamedTuple

from monitor.clock import Anchor
from monitor.records import AlertChange, Event, EventKind, Notice, Reason, Severity
from monitor.storage.codec import deflate, inflate, seal, unseal

INSERTS = {
    "anchors": "INSERT INTO anchors VALUES (:boot, :elapsed_s, :utc_s, :source, :sigma_s)",
    "memory": "INSERT INTO memory VALUES (:key, :json) ON CONFLICT (key) DO UPDATE SET json = excluded.json",
    # The same event may come again with its end: it keeps its row.
    "events": (
        "INSERT INTO events (kind, subject, boot, start_s, end_s, facts)"
        " VALUES (:kind, :subject, :boot, :start_s, :end_s, :facts)"
        " ON CONFLICT (boot, start_s, kind, subject)"
        " DO UPDATE SET end_s = excluded.end_s, facts = excluded.facts"
    ),
    "alert_changes": (
        "INSERT INTO alert_changes"
        " (alert, rule, subject, severity, boot, at_s, state, reason, facts, what, until_s) VALUES"
        " (:alert, :rule, :subject, :severity, :boot, :at_s, :state, :reason, :facts, :what, :until_s)"
    ),
    "outbox": "INSERT INTO outbox (way, id, notice) VALUES (:way, :id, :notice) ON CONFLICT DO NOTHING",
    "delivered": "DELETE FROM outbox WHERE way = :way AND id = :id",
}


BY_STATE = {"active": "began", "acknowledged": "acknowledged", "returned": "went", "ended": "ended"}
"""What happened, of a change that an older version wrote without saying so."""


class Row(NamedTuple):
    """What waits to be done by a statement of INSERTS."""

    table: str
    values: dict[str, Any]


def named(
    connection: sqlite3.Connection, query: str, values: Mapping[str, Any] | None = None
) -> Iterator[dict[str, Any]]:
    """What a query finds, each row by the names of its columns."""
    cursor = connection.execute(query, values or {})
    names = [column[0] for column in cursor.description]
    for row in cursor.fetchall():
        yield dict(zip(names, row, strict=True))


def to_json(value: Any) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def anchor_row(boot: int, anchor: Anchor) -> Row:
    return Row("anchors", {"boot": boot, **anchor._asdict()})


def memory_row(key: str, value: Any) -> Row:
    return Row("memory", {"key": key, "json": to_json(value)})


def event_row(event: Event) -> Row:
    when = {"boot": event.boot, "start_s": event.start_s, "end_s": event.end_s}
    facts = to_json(dict(event.facts))
    return Row("events", {"kind": event.kind.value, "subject": event.subject, **when, "facts": facts})


def event_of(row: Mapping[str, Any]) -> Event:
    return Event(
        EventKind(row["kind"]),
        row["subject"],
        row["boot"],
        row["start_s"],
        row["end_s"],
        json.loads(row["facts"]),
    )


def alert_row(change: AlertChange) -> Row:
    values = {
        "alert": change.alert,
        "rule": change.rule,
        "subject": change.subject,
        "severity": change.severity.value,
        "boot": change.boot,
        "at_s": change.at_s,
        "state": change.state,
        "reason": change.reason.id,
        "facts": to_json(dict(change.reason.facts)),
        "what": change.what,
        "until_s": change.until_s,
    }
    return Row("alert_changes", values)


def alert_of(row: Mapping[str, Any]) -> AlertChange:
    return AlertChange(
        row["alert"],
        row["rule"],
        row["subject"],
        Severity(row["severity"]),
        row["boot"],
        row["at_s"],
        row["state"],
        Reason(row["reason"], json.loads(row["facts"])),
        row["what"] or BY_STATE[row["state"]],
        row["until_s"],
    )


def outbox_row(way: str, notice: Notice) -> Row:
    return Row("outbox", {"way": way, "id": notice.id, "notice": to_json(asdict(notice))})


def delivered_row(way: str, id: str) -> Row:
    return Row("delivered", {"way": way, "id": id})


def notice_of(text: str) -> Notice:
    """Raises KeyError, TypeError or ValueError where another version wrote it."""
    values = json.loads(text)
    grade = values["severity"]
    reason = Reason(values["reason"]["id"], values["reason"]["facts"])
    return Notice(**{**values, "reason": reason, "severity": None if grade is None else Severity(grade)})


def pack_state(state: Mapping[str, Any]) -> bytes:
    return seal(deflate(to_json(dict(state)).encode(), 0))


def unpack_state(blob: bytes) -> dict[str, Any]:
    """Raises StoreDamaged."""
    state: dict[str, Any] = json.loads(inflate(unseal(blob)))
    return state
