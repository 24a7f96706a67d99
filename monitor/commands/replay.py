"""`ebbwatch replay`: recordings through the same pipeline as live, as fast as it can."""

import json
import os
import re
import time
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.progress import Progress

from monitor.clock import DAY_S
from monitor.commands.understand import understood
from monitor.errors import SettingsError
from monitor.pipeline.watch import Pipeline
from monitor.records import Estimate
from monitor.report import estimate_line, iso, report_of
from monitor.sources.captures import Skipped, merge
from monitor.storage.writer import Writer

BATCH = 2000
SPANS_S = {"s": 1, "m": 60, "h": 3600, "d": DAY_S}


def replay_captures(
    captures: list[Path],
    settings_path: Path,
    store: Path,
    report: Path,
    *,
    estimates: Path | None,
    every: str,
    trusted: bool,
) -> None:
    """Replay, write the report, and with `estimates` a line for each estimate every so often."""
    settings = understood(settings_path)
    every_s = _span_s(every)
    missing = [str(path) for path in captures if not path.is_file()]
    if missing:
        raise SettingsError([f"CAPTURE: {path} is not a file" for path in missing])
    if store.exists():
        raise SettingsError([f"--store: {store} exists already; a replay begins a new store"])
    _writable({"--store": store, "--report": report, "--estimates": estimates})
    skipped = Skipped()
    began = time.monotonic()
    items = merge(captures, skipped)
    batch = list(islice(items, BATCH))  # Before the store is made: a capture may be none.
    writer = Writer(store, patient=True)
    writer.open()
    with ExitStack() as stack:
        progress = stack.enter_context(Progress(console=Console(stderr=True)))
        task = progress.add_task("replay", total=None)
        pipeline = Pipeline(settings, writer, writer.begin_boot("capture 1"), recorded=True, trusted=trusted)
        if estimates is not None:
            out: TextIO = stack.enter_context(estimates.open("w", encoding="utf-8"))
            pipeline.watch_estimates(every_s, lambda utc_s, found: _write(out, utc_s, found))
        while batch:
            pipeline.intake(batch)
            progress.update(task, description=f"replay: {iso(pipeline.now_s)}")
            batch = list(islice(items, BATCH))
        pipeline.finish(None)
        writer.close()
    told = report_of(pipeline, settings, store, skipped)
    report.write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    seconds = time.monotonic() - began
    span_s = pipeline.covered_s
    print(
        f"{report}: {span_s / DAY_S:.2f} days in {seconds:.1f} s, {span_s / max(seconds, 1e-9):,.0f} x life"
    )
    for line in skipped.first:
        print(f"skipped: {line}")


def _write(out: TextIO, utc_s: float, found: list[Estimate]) -> None:
    for estimate in found:
        out.write(json.dumps(estimate_line(utc_s, estimate)) + "\n")


def _writable(places: dict[str, Path | None]) -> None:
    """Raises SettingsError for files that could not be written when all the work is done."""
    mistakes = [
        f"{option}: {path} cannot be written: {why}"
        for option, path in places.items()
        if path is not None and (why := _hindrance(path))
    ]
    if mistakes:
        raise SettingsError(mistakes)


def _hindrance(path: Path) -> str:
    if path.is_dir():
        return "it is a folder"
    if not path.parent.is_dir():
        return f"there is no folder {path.parent}"
    return "" if os.access(path if path.exists() else path.parent, os.W_OK) else "permission denied"


def _span_s(text: str) -> float:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)([smhd])", text)
    if match is None or float(match[1]) <= 0:
        raise SettingsError([f"--every: expected a span like 90s, 10m or 1h, got {text!r}"])
    return float(match[1]) * SPANS_S[match[2]]
