"""The first-run guide's memory: the settings so far, kept on disk, checked by what reads settings."""

import json
from collections.abc import Mapping
from contextlib import suppress
from copy import deepcopy
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.errors import RightsError, SettingsError
from monitor.rights.private_file import write_private
from monitor.settings import SUBJECT_GROUPS, Boat, Settings
from monitor.settings_writer import checked, kept_as, to_toml, write_settings
from monitor.survey.ear import Ear
from monitor.survey.things import Thing
from monitor.words.tongues import ENGLISH

NAMELESS = "Ebbwatch"
"""What the boat is called until somebody says it."""
IN_ORDER = (
    "boat", "usual", "reserves", "limits", "night", "watches", "units", "store", "web", "sources",
    *SUBJECT_GROUPS, "services", "rules", "ways",
)  # fmt: skip


def draft_file(path: Path) -> Path:
    return path.with_name(f"{path.name}.draft")


class Guide:
    """`trouble` is why the draft cannot be kept, `damaged` where an unreadable one was put aside."""

    def __init__(self, path: Path, given: Mapping[str, Any], ear: Ear) -> None:
        """`given`: what the settings file says so far (`settings_writer.unset`)."""
        self.path = path
        self.ear = ear
        self.trouble = ""
        self.damaged = ""
        self.aside: Path | None = None
        self.finished = False
        self._tables: dict[str, Any] = deepcopy(dict(given))
        self._read()
        self._listen()

    # ---- what stands in it

    @property
    def boat(self) -> Mapping[str, Any]:
        found: Mapping[str, Any] = self._tables.get("boat", {})
        return found

    def rows(self, group: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self._tables.get(group, [])
        return found

    def subjects(self) -> list[tuple[str, dict[str, Any]]]:
        """Group and table of everything that is named."""
        return [(group, row) for group in SUBJECT_GROUPS for row in self.rows(group)]

    def names(self) -> set[str]:
        return {row["name"] for row in self.rows("sources")} | {row["name"] for _, row in self.subjects()}

    def bound_to(self, thing: Thing) -> tuple[str, dict[str, Any]] | None:
        """What it is named as. Of two with one number, the sender it was bound with is the one."""
        for group, row in self.subjects():
            for feed in row.get("feeds", []):
                if is_heard_from(feed, group, thing):
                    return group, row
        return None

    def settings(self) -> Settings:
        """Raises SettingsError with every mistake."""
        return checked(self._named(self._tables), self.path.parent)

    def text(self, language: str = ENGLISH) -> str:
        return to_toml(_ordered(self._named(self._tables)), language)

    # ---- what is said

    def say_boat(self, key: str, value: object) -> None:
        """Raises SettingsError."""
        self._change({**self._tables, "boat": {**self.boat, key: value}})

    def add_source(self, row: Mapping[str, Any]) -> None:
        """Raises SettingsError."""
        self._change({**self._tables, "sources": [*self.rows("sources"), dict(row)]})
        self._listen()

    def remove_source(self, name: str) -> None:
        self._change({**self._tables, "sources": [r for r in self.rows("sources") if r["name"] != name]})
        self._listen()

    def change_source(self, name: str, row: Mapping[str, Any]) -> None:
        """The same source, reached in another way. Raises SettingsError."""
        rows = [{**row, "name": name} if r["name"] == name else r for r in self.rows("sources")]
        self._change({**self._tables, "sources": rows})
        self._listen()

    def resting_on(self, source: str) -> str:
        """The first subject with a feed from there; empty where there is none."""
        return next(
            (
                row["name"]
                for _, row in self.subjects()
                if any(feed["source"] == source for feed in row.get("feeds", []))
            ),
            "",
        )

    def bind(self, thing: Thing, group: str, row: Mapping[str, Any], more: Mapping[str, Any]) -> None:
        """A new subject that the thing speaks for; `more` goes into its feed. Raises SettingsError."""
        feed = {"source": thing.source, **thing.feed, **more}
        tables = self._speaking(thing)
        self._change({**tables, group: [*self.rows(group), {**row, "feeds": [feed]}]})

    def add_to(self, thing: Thing, name: str, more: Mapping[str, Any]) -> None:
        """One more instrument of what is named already. Raises SettingsError."""
        tables = self._speaking(thing)
        feed = {"source": thing.source, **thing.feed, **more}
        for group, row in self.subjects():
            if row["name"] == name:
                rows = [
                    {**r, "feeds": [*r.get("feeds", []), feed]} if r is row else r for r in self.rows(group)
                ]
                self._change({**tables, group: rows})
                return

    def unbind(self, name: str) -> None:
        """Raises SettingsError where something else refers to it."""
        tables = dict(self._tables)
        for group in SUBJECT_GROUPS:
            if group in tables:
                tables[group] = [row for row in tables[group] if row["name"] != name]
        self._change(tables)

    def keep_password(self, source: str, password: str) -> str:
        """In a file of its own that only its owner may read; its name. Raises RightsError."""
        name = f"{''.join(c if c.isalnum() else '-' for c in source)}.password"
        write_private(self.path.parent / name, password.encode("utf-8"))
        return name

    def write(self, now: datetime, language: str = ENGLISH) -> None:
        """The settings file, and an end of the draft. Raises SettingsError; then nothing has changed."""
        self.aside = write_settings(self.path, _ordered(self._named(self._tables)), now, language)
        with suppress(OSError):  # It is not looked at again while the settings have a source.
            draft_file(self.path).unlink(missing_ok=True)
        self.finished = True

    def kept_as(self, now: datetime) -> Path | None:
        """Where the file that is there now will be kept; None where there is none."""
        return kept_as(self.path, now) if self.path.exists() else None

    def close(self) -> None:
        self.ear.close()

    # ---- within

    def _named(self, tables: Mapping[str, Any]) -> dict[str, Any]:
        return {**tables, "boat": {"name": NAMELESS, **tables.get("boat", {})}}

    def _speaking(self, thing: Thing) -> dict[str, Any]:
        """The tables with the source asked for the thing's language."""
        sources = [
            {**row, "speaks": [*row.get("speaks", ["nmea2000"]), thing.language]}
            if row["name"] == thing.source
            and thing.language not in ("mqtt", *row.get("speaks", ["nmea2000"]))
            else row
            for row in self.rows("sources")
        ]
        return {**self._tables, "sources": sources}

    def _change(self, tables: Mapping[str, Any]) -> None:
        """Into force and onto the disk; nothing of it where it is wrong."""
        checked(self._named(tables), self.path.parent)
        self._tables = {name: table for name, table in tables.items() if table != []}
        try:
            write_private(draft_file(self.path), json.dumps(self._tables, ensure_ascii=False).encode("utf-8"))
            self.trouble = ""
        except RightsError as error:
            self.trouble = str(error)

    def _read(self) -> None:
        file = draft_file(self.path)
        try:
            tables = json.loads(file.read_text("utf-8"))
            if not isinstance(tables, dict):
                raise ValueError(file)
            checked(self._named(tables), self.path.parent)
            self._tables = tables
        except FileNotFoundError:
            return
        except (OSError, ValueError, TypeError, AttributeError, SettingsError):
            self.damaged = f"{file.name}.damaged"
            try:
                file.replace(file.with_name(self.damaged))
            except OSError as error:
                self.trouble = str(error)

    def _listen(self) -> None:
        self.ear.listen_to(self.settings().sources)


def is_heard_from(feed: Mapping[str, Any], group: str, thing: Thing) -> bool:
    """Whether a feed of a subject of that group is the thing's: by what finds it, whatever it says beside."""
    wanted: dict[str, Any] = {"source": thing.source, **thing.feed}
    found = ("source", "instance", "indicator", "code", "signal", "topic", "pointer")
    if any(feed.get(key) != wanted.get(key) for key in found):
        return False
    if feed.get("message") != wanted.get("message") and feed.get("message") != thing.message:
        return False
    if not feed.keys() & {"message", "indicator", "signal", "topic"} and group != thing.group:
        return False
    return "device" not in feed or "device" not in wanted or feed["device"] == wanted["device"]


def _ordered(tables: Mapping[str, Any]) -> dict[str, Any]:
    """In the order of the sample, so that everybody finds everything where it is expected."""
    return {name: tables[name] for name in IN_ORDER if name in tables}


def first_settings(guide: Guide) -> Settings:
    """What the watch runs on while nothing is set: no source, no subject, the boat as far as it is named."""
    whole = guide.settings()
    return Settings(boat=Boat.model_validate(dict(whole.boat)), store=whole.store, web=whole.web)
