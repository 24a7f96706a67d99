"""Writes the settings file: TOML that people can read, checked by what reads it, never half written."""

import json
import os
import stat
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.alerts.rulebook import Rulebook
from monitor.errors import SettingsError
from monitor.routing.router import Router
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.words.setup import HEAD, KEYS, TABLES
from monitor.words.tongues import ENGLISH, translated

Tables = Mapping[str, Any]
WIDE = 96
ANYBODY_READS = 0o644


def unset(path: Path) -> dict[str, Any] | None:
    """What a settings file without sources says so far, nothing where it is missing; None where it has
    sources and is the crew's to change. Raises SettingsError where it cannot be read or is wrong."""
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError([f"{path}: cannot be read: {error}"]) from error
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError([f"{path}: not TOML: {error}"]) from error
    if tables.get("sources"):
        return None
    named = {"boat": {"name": "?", **boat}} if isinstance(boat := tables.get("boat", {}), dict) else {}
    checked({**tables, **named}, path.parent)
    return tables


def checked(tables: Tables, folder: Path) -> Settings:
    """The settings that a file of these tables would give. Raises SettingsError with every mistake."""
    settings = parse_settings(to_toml(tables), folder)
    Router(settings)
    Rulebook(settings).checked()
    return settings


def to_toml(tables: Tables, language: str | None = None) -> str:
    """The file's text, with comments where a language is given."""

    def remark(text: str | None) -> Iterator[str]:
        if language is not None and text:
            yield from (f"## {line}" for line in translated(text, language).split("\n"))

    lines: list[str] = [*remark(HEAD)]
    for name, table in tables.items():
        for n, one in enumerate(table if isinstance(table, list) else [table]):
            lines += ["", *(remark(TABLES.get(name)) if n == 0 else ())]
            lines.append(f"[[{name}]]" if isinstance(table, list) else f"[{name}]")
            for key, value in one.items():
                lines += remark(KEYS.get((name, key))) if n == 0 else ()
                lines.append(f"{_key(key)} = {_value(value)}")
    return "\n".join(lines).strip("\n") + "\n"


def _value(value: object) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case str() | Path():
            return _text(str(value))
        case float() if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        case int() | float():
            return repr(value)
        case Mapping():
            return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
        case list() | tuple():
            parts = [_value(v) for v in value]
            short = f"[{', '.join(parts)}]"
            wide = len(short) > WIDE or (len(parts) > 1 and any(isinstance(v, Mapping) for v in value))
            return "[\n" + "".join(f"  {part},\n" for part in parts) + "]" if wide else short
    raise TypeError(f"no TOML for {value!r}")


def _text(text: str) -> str:
    """A basic string: JSON's escapes are TOML's, but for U+007F (TOML 1.0.0, "String")."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(key: str) -> str:
    """Bare where it may be."""
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else _text(key)


def write_settings(path: Path, tables: Tables, now: datetime, language: str = ENGLISH) -> Path | None:
    """Puts the file in place whole or not at all; where the one before was kept, None where there was none.

    Raises SettingsError where the tables are wrong, where the file has got sources meanwhile, and where it
    cannot be written.
    """
    checked(tables, path.parent)
    if unset(path) is None:
        raise SettingsError([f"{path}: has sources by now: it is left as it is"])
    data = to_toml(tables, language).encode("utf-8")
    try:
        return _replace(path, data, now)
    except OSError as error:
        raise SettingsError([f"{path}: cannot be written: {error.strerror}"]) from error


def _replace(path: Path, data: bytes, now: datetime) -> Path | None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    aside = None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            os.fchmod(file.fileno(), stat.S_IMODE(path.stat().st_mode) if path.exists() else ANYBODY_READS)
        if path.exists():
            aside = kept_as(path, now)
            aside.write_bytes(path.read_bytes())
        os.replace(name, path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return aside


def kept_as(path: Path, now: datetime) -> Path:
    """A name beside it that nothing has."""
    wanted = path.with_name(f"{path.name}.before-{now:%Y-%m-%d}")
    n = 2
    found = wanted
    while found.exists():
        found, n = wanted.with_name(f"{wanted.name}-{n}"), n + 1
    return found
