"""The settings file: TOML, checked whole before anything starts, every mistake named with its key."""

import tomllib
from pathlib import Path

from pydantic import ValidationError

from monitor.errors import SettingsError
from monitor.settings import Broker, CanSource, MessageWay, RecordingSource, Section, Settings, Tls


def read_settings(path: Path) -> Settings:
    """Read and check the whole file. Raises SettingsError with every mistake and its key."""
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError([f"{path}: cannot be read: {error}"]) from error
    return parse_settings(text, path.parent, str(path))


def parse_settings(text: str, folder: Path, label: str = "settings") -> Settings:
    """Settings from TOML text; relative paths in it are taken from `folder`."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError([f"{label}: not TOML: {error}"]) from error
    try:
        return _in_folder(Settings.model_validate(tables), folder)
    except ValidationError as error:
        raise SettingsError([line for e in error.errors() for line in _told(e)]) from error


def _told(error: object) -> list[str]:
    assert isinstance(error, dict)
    key = ""
    for at, part in enumerate(error["loc"]):
        if at == 2 and error["loc"][0] in ("sources", "ways"):
            continue  # Which kind it is read as.
        key += f"[{part}]" if isinstance(part, int) else f".{part}" if key else str(part)
    said = str(error["msg"]).removeprefix("Value error, ")
    if error["type"] == "extra_forbidden":
        return [f"{key}: not a setting"]
    if error["type"] == "missing":
        return [f"{key}: missing"]
    got = error.get("input")
    shown = f" (got {got!r})" if isinstance(got, str | int | float | bool) else ""
    return [f"{key}: {line}{shown}" if key else line for line in said.split("\n")]


def _in_folder(settings: Settings, folder: Path) -> Settings:
    """The same settings with every relative path made absolute."""
    sources = [_placed(source, folder) for source in settings.sources]
    ways = [_placed(way, folder) for way in settings.ways]
    store = settings.store.model_copy(update={"path": folder / settings.store.path})
    return settings.model_copy(update={"sources": sources, "ways": ways, "store": store})


def _placed(table: Section, folder: Path) -> Section:
    changes: dict[str, object] = {}
    if isinstance(table, CanSource | RecordingSource) and table.dbc is not None:
        changes["dbc"] = folder / table.dbc
    if isinstance(table, RecordingSource):
        changes["paths"] = [folder / path for path in table.paths]
    if isinstance(table, MessageWay):
        changes["urls_file"] = folder / table.urls_file
    if isinstance(table, Broker):
        if table.password_file is not None:
            changes["password_file"] = folder / table.password_file
        if table.tls is not None:
            given = table.tls.model_dump(exclude_none=True)
            changes["tls"] = Tls(**{name: folder / path for name, path in given.items()})
    return table.model_copy(update=changes)
