"""The tables, as numbered migrations: a file of any age is brought up to date when it is opened.

Times stand as (boot, elapsed seconds); `anchors` places a boot in UTC. Facts and reasons are
JSON: an id and numbers, never a finished sentence.
"""

from sqlite_utils import Database, Migrations

from monitor.storage.happened import LONG

MIGRATIONS = Migrations("ebbwatch")


@MIGRATIONS(name="1 logbook")
def _logbook(db: Database) -> None:
    db.table("boots").create({"number": int, "kernel_id": str}, pk="number", not_null={"kernel_id"})
    db.table("boots").create_index(["kernel_id"], unique=True)
    db.table("anchors").create(
        {"boot": int, "elapsed_s": float, "utc_s": float, "source": str, "sigma_s": float}
    )
    db.table("anchors").create_index(["boot"])
    db.table("memory").create({"key": str, "json": str}, pk="key")
    event = {"kind": str, "subject": str, "boot": int, "start_s": float, "end_s": float, "facts": str}
    db.table("events").create({"id": int, **event}, pk="id")
    db.table("events").create_index(["boot", "start_s", "kind", "subject"], unique=True)
    change = {"alert": str, "rule": str, "subject": str, "severity": str, "boot": int, "at_s": float}
    db.table("alert_changes").create(
        {"id": int, **change, "state": str, "reason": str, "facts": str}, pk="id"
    )


@MIGRATIONS(name="2 samples")
def _samples(db: Database) -> None:
    channel = {"id": int, "name": str, "subject": str, "quantity": str, "step": float}
    db.table("channels").create(channel, pk="id")
    db.table("channels").create_index(["name", "step"], unique=True)
    # Minutes of the hour under way: every channel in one block, the estimators' state beside it. Each
    # hour writes over the rows of the one before: a commit then touches one page and no free list.
    # Only the rows of the same hour as the highest `serial` are still to be turned into chunks.
    minute = {"id": int, "serial": int, "boot": int, "minute": int, "block": bytes, "state": bytes}
    db.table("hot").create(minute, pk="id")
    # Full hours. Samples and minutes lie in the order of time: an hour's rows fill few pages and
    # what retention deletes frees whole ones. Hours lie by channel: a year of one is read at a go.
    hour = {"boot": int, "hour": int, "channel": int, "block": bytes}
    db.table("chunks").create(hour)
    db.table("chunks").create_index(["boot", "hour", "channel"], unique=True)
    db.execute(
        "CREATE TABLE minutes (boot INTEGER, hour INTEGER, channel INTEGER, block BLOB,"
        " PRIMARY KEY (boot, hour, channel)) WITHOUT ROWID"
    )
    db.execute(
        "CREATE TABLE hours (channel INTEGER, boot INTEGER, hour INTEGER, n INTEGER, low REAL, high REAL,"
        " integral REAL, covered_s REAL, first REAL, last REAL,"
        " PRIMARY KEY (channel, boot, hour)) WITHOUT ROWID"
    )


@MIGRATIONS(name="3 long events")
def _long_events(db: Database) -> None:
    # Nights, charges and gaps: a few a day, so that a pump run's commit touches no page more.
    db.execute(f"CREATE INDEX long_events ON events (boot, end_s) WHERE {LONG}")


@MIGRATIONS(name="4 what happened to an alert")
def _what_happened(db: Database) -> None:
    db.table("alert_changes").add_column("what", str)
    db.table("alert_changes").add_column("until_s", float)


@MIGRATIONS(name="5 ways out")
def _ways_out(db: Database) -> None:
    # What each way out has not confirmed yet, in the order it was handed over; a few rows, mostly none.
    db.table("outbox").create({"serial": int, "way": str, "id": str, "notice": str}, pk="serial")
    db.table("outbox").create_index(["way", "id"], unique=True)
