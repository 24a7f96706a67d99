"""`ebbwatch export`: any channel over any span as CSV."""

import csv
import sys
from contextlib import ExitStack, closing
from datetime import UTC, datetime
from pathlib import Path

from monitor.clock import Interval
from monitor.errors import SettingsError, StorageError
from monitor.storage.history import History

FOREVER = Interval(0.0, 7_258_118_400.0)


def export_channel(store: Path, channel: str, start: str, end: str, out: Path | None) -> None:
    """Write `time,value` lines; an empty value is "not available". Lists the channels if none is named."""
    if not store.is_file():
        raise SettingsError([f"--store: {store} is not a file"])
    span = Interval(_utc_s("--from", start, FOREVER.start_s), _utc_s("--to", end, FOREVER.end_s))
    if span.seconds <= 0:
        raise SettingsError([f"--to: expected a time after --from, got {end or start!r}"])
    try:
        with closing(History(store)) as history:
            names = history.channels()
            times, values = history.samples(channel, span)
    except StorageError as error:
        raise SettingsError([f"--store: {store}: {error}"]) from error
    if not channel:
        print("\n".join(names))
        return
    if channel not in names:
        raise SettingsError([f"--channel: {channel!r} is not in the store; there are: {', '.join(names)}"])
    with ExitStack() as stack:
        file = stack.enter_context(out.open("w", newline="", encoding="utf-8")) if out else sys.stdout
        table = csv.writer(file)
        table.writerow(["time", channel])
        for utc_s, value in zip(times.tolist(), values.tolist(), strict=True):
            moment = datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="milliseconds")
            table.writerow([moment.replace("+00:00", "Z"), "" if value != value else f"{value:.10g}"])


def _utc_s(option: str, text: str, default: float) -> float:
    if not text:
        return default
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise SettingsError([f"{option}: expected a time like 2026-10-04T06:00Z, got {text!r}"]) from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
