"""Everything that can go wrong, as a tree: one class for each way to react.

    EbbwatchError
     +-- SettingsError       the settings file is wrong: refuse to start, name every key
     +-- SourceError         a bus, a broker or a recording failed
     |    +-- SourceLost     it was there and has gone: reconnect
     |    +-- CaptureError   a recording cannot be read: name the file and the line
     +-- UndecodableError    bytes that do not fit their message: count it, drop it, go on
     +-- StorageError        the store cannot be read or written
     |    +-- StoreDamaged   the file is not whole: set it aside and go on
     +-- DeliveryError       a way out did not take what is due: try again
     +-- RightsError         the password's or the certificate's file cannot be used: say why, let nobody act
     +-- WorkerError         a long job was given up or killed: say why, answer without it
     +-- CommandError        the crew asked for something that cannot be done: say why

Only the command line and the daemon catch EbbwatchError itself; everything else catches the
narrowest class.
"""

from collections.abc import Mapping, Sequence
from string import Formatter
from typing import Any


class EbbwatchError(Exception):
    """The root: its text is one clear line for a person."""


class SettingsError(EbbwatchError):
    """The settings file is wrong. `mistakes` holds one line for each, led by its key."""

    def __init__(self, mistakes: list[str]) -> None:
        super().__init__("\n".join(mistakes))
        self.mistakes = mistakes


class SourceError(EbbwatchError):
    """A bus, a broker or a recording failed."""


class SourceLost(SourceError):
    """A source that was there has gone: its thread reconnects."""


class CaptureError(SourceError):
    """A recording cannot be read."""


class UndecodableError(EbbwatchError):
    """Bytes that do not fit their published message definition."""


class StorageError(EbbwatchError):
    """The store cannot be read or written."""


class StoreDamaged(StorageError):
    """The store's file is not whole."""


class DeliveryError(EbbwatchError):
    """A way out did not take what is due."""


class RightsError(EbbwatchError):
    """The file of the password or of the certificate is missing, damaged or open to others."""


class WorkerError(EbbwatchError):
    """A job of the worker's was given up, or killed."""


class CommandError(EbbwatchError):
    """The crew asked for something that cannot be done: told in the reader's language by a page, and as a
    string in English.

    `text` is English with gaps named and formatted like a sentence's; without facts it is told as it is. A
    fact may be a list of [text, facts] each.
    """

    def __init__(self, text: str, **facts: object) -> None:
        super().__init__(text)
        self.text = text
        self.facts = facts

    def __str__(self) -> str:
        return plainly(self.text, self.facts)


def plainly(text: str, facts: Mapping[str, object]) -> str:
    """In English and the units inside, for logs: the words for a reader are `monitor.words`'."""
    return _PLAIN.vformat(text, (), facts) if facts else text


_UNITS = {"litres": " L", "span": " s"}


class _Plain(Formatter):
    def get_field(self, field_name: str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs.get(field_name), field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, list):
            return "; ".join(plainly(text, facts) for text, facts in value)
        shown = f"{value:g}" if isinstance(value, int | float) else str(value)
        return shown + _UNITS.get(format_spec, "")


_PLAIN = _Plain()
