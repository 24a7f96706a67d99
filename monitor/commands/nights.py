"""`ebbwatch nights`: every stored night explained anew, with loads learned from them alone."""

from collections.abc import Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.progress import track

from monitor.clock import Interval
from monitor.commands.understand import understood
from monitor.errors import SettingsError, StorageError
from monitor.estimation.loads.book import LoadBook
from monitor.pipeline.account import pump_runs
from monitor.pipeline.memory import Memory
from monitor.pipeline.naming import Naming
from monitor.records import EventKind, LoadKind
from monitor.settings import Settings
from monitor.storage.history import History
from monitor.storage.writer import Writer

FOREVER = Interval(0.0, 7_258_118_400.0)
ALIKE = 0.1
"""A load learned anew gets the name of one that takes so nearly as much, as a share."""
ALIKE_W = 1.5


def explain_nights(settings_path: Path, store: Path, keep: bool) -> None:
    """Print a line for each night and what was learned; with `keep` put the loads in the store, under the
    names the crew gave before. Raises SettingsError."""
    if not store.is_file():
        raise SettingsError([f"--store: {store} is not a file"])
    settings, console = understood(settings_path), Console()
    naming = Naming(settings, Memory({}))
    try:
        with closing(History(store)) as history:
            before = LoadBook()
            if "loads" in (recalled := history.recall()):
                before.restore(recalled["loads"])
            dated = [
                (start, end) for _, start, end in history.events(EventKind.NIGHT, FOREVER) if start and end
            ]
            nights = [Interval(start, end) for start, end in dated if start is not None and end is not None]
            if not nights:
                raise SettingsError([f"--store: no night that is over stands in {store}"])
            lines = [_learned(history, settings, naming, night) for night in track(nights, console=console)]
    except StorageError as error:
        raise SettingsError([f"--store: {store}: {error}"]) from error
    carry_names(before.kinds, naming.book)
    for line in lines:
        console.print(line, highlight=False)
    for kind in naming.kinds:
        console.print(_told(kind), highlight=False)
    if keep:
        _keep(store, naming.book)


def carry_names(before: Sequence[LoadKind], book: LoadBook) -> None:
    """Each name goes to the load that takes most nearly as much and runs alike, if one does."""
    for old in before:
        alike = [
            kind
            for kind in book.kinds
            if not kind.name
            and kind.how == old.how
            and abs(kind.watts - old.watts) <= ALIKE * old.watts + ALIKE_W
        ]
        if old.name and alike:
            book.label(min(alike, key=lambda kind: abs(kind.watts - old.watts)).id, old.name)


def _learned(history: History, settings: Settings, naming: Naming, night: Interval) -> str:
    """Take a night, and say in a line what is known of it."""
    date = datetime.fromtimestamp(night.start_s, ZoneInfo(settings.boat.time_zone))
    named = naming.name(history, night, pump_runs(history, settings, night), learn=True)
    if named is None:
        return f"{date:%Y-%m-%d} too little of it was heard"
    to_Wh = named.trace.step_s / 3600
    told = sum(float(w.sum()) for w in named.watts.values()) * to_Wh
    standing, rest = (float(w.sum()) * to_Wh for w in (named.standing_W, named.unexplained_W))
    used = told + standing + rest
    return (
        f"{date:%Y-%m-%d} {used:7.0f} Wh: loads {told:.0f}, standing {standing:.0f}, unexplained {rest:.0f}"
    )


def _told(kind: LoadKind) -> str:
    name = f" ({kind.name})" if kind.name else ""
    return (
        f"{kind.id}{name}: {kind.watts:.0f} W, {kind.how}, usually {kind.on_s:.0f} s,"
        f" {kind.runs} runs in {kind.nights} nights, {100 * kind.confidence:.0f} % sure"
    )


def _keep(store: Path, book: LoadBook) -> None:
    writer = Writer(store)
    writer.open()
    writer.remember("loads", book.state())
    written = writer.flush(30)
    writer.close()
    if not written:
        raise SettingsError([f"--store: {store}: the loads could not be written"])
